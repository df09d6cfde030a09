"""Every test of writing is tried with each way there is to put numbers into a block."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

import pytest

from gpost.write import decimals, edits, figures
from tests.twins import name_of, twins, using

USES = (
    (edits, "as_text"),
    (edits, "splice"),
    (decimals, "count_decimals"),
    (edits, "raised"),
)


@pytest.fixture(scope="module", params=twins(figures, "gpost.write.onepass"), ids=name_of, autouse=True)
def writer(request: pytest.FixtureRequest) -> Iterator[ModuleType]:
    """The module that turns numbers into text, and puts texts into a block."""
    yield from using(request.param, *USES)
