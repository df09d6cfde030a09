"""Every test of reading is tried with each reader there is."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

import pytest

from gpost.read import bycolumns, words
from tests.twins import name_of, twins, using


@pytest.fixture(scope="module", params=twins(bycolumns, "gpost.read.onepass"), ids=name_of, autouse=True)
def reader(request: pytest.FixtureRequest) -> Iterator[ModuleType]:
    """The module that finds the words of ordinary lines."""
    yield from using(request.param, (words, "find_words"), (words, "by_letter"))
