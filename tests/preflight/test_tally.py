"""The tally of one kind of finding."""

from __future__ import annotations

from gpost.preflight.tally import TallyCheck


def test_two_tallies_together() -> None:
    """The first line of the first that has one, both counts, the worse amount."""
    none, early, late = TallyCheck(), TallyCheck(4, 2, 0.5), TallyCheck(9, 3, 0.25)
    assert none + late == late
    assert early + none == early
    assert early + late == TallyCheck(4, 5, 0.5)
