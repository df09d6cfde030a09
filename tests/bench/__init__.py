"""Benchmarks: `python -m tests.bench`. No part of the tests; figures are ratios from one run."""
