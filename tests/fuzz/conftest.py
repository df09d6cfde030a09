"""Whether the fuzzer's short run is to be a longer one."""

from __future__ import annotations

import pytest


@pytest.fixture
def long(request: pytest.FixtureRequest) -> bool:
    """Whether the long profile was asked for."""
    return bool(request.config.getoption("--long"))
