"""Every test of motion is tried with each way there is to follow the machine."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

import pytest

from gpost.motion import bycolumns, follow
from tests.twins import name_of, twins, using


@pytest.fixture(scope="module", params=twins(bycolumns, "gpost.motion.onepass"), ids=name_of, autouse=True)
def maker(request: pytest.FixtureRequest) -> Iterator[ModuleType]:
    """The module that finds the machine's way through a block."""
    yield from using(request.param, (follow, "find_way"))
