"""Every test of reading is tried with each reader there is."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

import pytest

from gpost.read import bycolumns, words

try:
    from gpost.read import onepass
except ImportError:
    READERS = [pytest.param(bycolumns, id="bycolumns")]
    """Without a compiler there is but one."""
else:
    READERS = [pytest.param(bycolumns, id="bycolumns"), pytest.param(onepass, id="onepass")]


@pytest.fixture(scope="module", params=READERS, autouse=True)
def reader(request: pytest.FixtureRequest) -> Iterator[ModuleType]:
    """The module that finds the words of ordinary lines."""
    module: ModuleType = request.param
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(words, "find_words", module.find_words)
        patch.setattr(words, "by_letter", module.by_letter)
        yield module
