"""Shared by all tests: how many examples the property tests draw, and no terminal's width."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "quick",
    max_examples=25,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile(
    "long",
    max_examples=500,
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--long`: the long profile of the property tests, with random examples; `--packages`: try packages, too."""
    parser.addoption("--long", action="store_true", help="draw 500 random examples in each property test")
    parser.addoption(
        "--packages", action="store_true", help="build wheel and sdist, and try them on each Python that there is"
    )


def pytest_configure(config: pytest.Config) -> None:
    """Choose the profile before any test is collected; texts are as pipes get them, whatever the terminal of the tests is."""
    settings.load_profile("long" if config.getoption("--long") else "quick")
    os.environ.pop("COLUMNS", None)
    os.unsetenv("COLUMNS")  # readline sets it without telling Python
