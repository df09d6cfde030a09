"""The tables of codes don't contradict each other."""

from __future__ import annotations

import numpy as np

from gpost.motion import codes


def test_a_table_marks_its_codes() -> None:
    """Codes of the first set are 1, of the second 2, all others 0."""
    table = codes.CodeTable({10, 920}, {0})
    assert table(np.array([10, 0, 920, 30, codes.HIGHEST])).tolist() == [1, 2, 1, 0, 0]


def test_no_code_is_both_refused_and_known() -> None:
    """What can't be followed is never taken for known."""
    assert not codes.KNOWN_G & codes.REFUSED_G.keys()
    assert not codes.HARMLESS_G & {*codes.MOVES, *codes.UNITS, *codes.DISTANCE, *codes.PLANES}


def test_groups_do_not_overlap() -> None:
    """A code belongs to one group at most (NIST RS274/NGC report, section 3.4)."""
    for groups in (codes.GROUPS_G, codes.GROUPS_M):
        assert sum(map(len, groups)) == len(frozenset().union(*groups))


def test_codes_after_a_move_stop_the_machine() -> None:
    """What comes after a move (NIST RS274/NGC report, section 3.8) stops the machine, or ends all."""
    assert codes.AFTER_MOVE_M - {codes.END_M} <= codes.STOPPING_M
