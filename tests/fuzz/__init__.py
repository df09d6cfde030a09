"""A fuzzer of bytes: `python -m tests.fuzz`."""
