"""Every test of writing is tried with each way there is to put numbers into a block."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

import pytest

from gpost.write import edits, figures

try:
    from gpost.write import onepass
except ImportError:
    WRITERS = [pytest.param(figures, id="by-columns")]
    """Without a compiler there is but one."""
else:
    WRITERS = [pytest.param(figures, id="by-columns"), pytest.param(onepass, id="onepass")]


@pytest.fixture(scope="module", params=WRITERS, autouse=True)
def writer(request: pytest.FixtureRequest) -> Iterator[ModuleType]:
    """The module that turns numbers into text, and puts texts into a block."""
    module: ModuleType = request.param
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(edits, "as_text", module.as_text)
        patch.setattr(edits, "splice", module.splice)
        yield module
