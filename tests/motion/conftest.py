"""Every test of motion is tried with each way there is to follow the machine, and to time its moves."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

import pytest

from gpost.motion import bycolumns, follow, pacecolumns, profile
from tests.twins import name_of, twins, using

PACES = dict(
    zip(twins(bycolumns, "gpost.motion.onepass"), twins(pacecolumns, "gpost.motion.pace"), strict=True)
)
"""What times the moves by the same means, compiled or by columns, as what follows the machine."""


@pytest.fixture(scope="module", params=list(PACES), ids=name_of, autouse=True)
def maker(request: pytest.FixtureRequest) -> Iterator[ModuleType]:
    """The module that finds the machine's way through a block."""
    for _ in using(PACES[request.param], (follow, "straight"), (profile, "limits"), (profile, "settled")):
        yield from using(request.param, (follow, "find_way"))
