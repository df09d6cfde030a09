"""Values that hold from one line of a block to the next, and what sets an axis without moving it.

For the latter: NIST RS274/NGC report, NISTIR 6556, sections 3.5.8, 3.5.18.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Machine, PathSection
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.scaling import Column, Stretches, setters


def lines(*numbers: int) -> np.ndarray:
    """Lines of a block."""
    return np.array(numbers, np.int64)


class Stretch(NamedTuple):
    """Lines that somebody wants something of."""

    first_line: int
    end_line: int


STRETCHES = st.lists(st.builds(Stretch, st.integers(0, 30), st.integers(0, 30)).filter(lambda s: s[0] < s[1]))


@given(STRETCHES, st.integers(0, 30), st.integers(1, 30))
def test_whom_lines_concern(stretches: list[Stretch], first_line: int, count: int) -> None:
    """All who want something of any of them, in their order; edges are where any begins, or has ended."""
    entries = list(enumerate(stretches, 5))
    found = Stretches(entries)
    asked = range(first_line, first_line + count)
    assert found.on(asked[0], asked[-1] + 1) == [own for own in entries if set(range(*own[1])) & set(asked)]
    assert found.edges.tolist() == sorted({edge for stretch in stretches for edge in stretch})


def test_a_value_holds_from_the_line_after_its_own() -> None:
    """Before the first event it is the initial one, on an event's own line still the one before."""
    column = Column(1.0, lines(2, 5), np.array([10.0, 20.0]))
    assert [column.before(line) for line in range(7)] == [1, 1, 1, 10, 10, 10, 20]
    assert column.at(lines(0, 2, 3, 6)).tolist() == [1, 1, 10, 20]
    assert column.last == 20


def test_of_several_values_on_one_line_the_last_counts() -> None:
    """Lists are joined by line; on one line the later list comes later."""
    column = Column.joined(0.0, (lines(1, 4), np.array([1.0, 2.0])), (lines(1), np.array([7.0])))
    assert column.line.tolist() == [1, 1, 4]
    assert [column.before(line) for line in (1, 2, 5)] == [0, 7, 2]
    assert Column.joined(3.0, (lines(), np.zeros(0)), (lines(), np.zeros(0))).last == 3


def test_a_column_that_never_changes() -> None:
    """It has one value before, through and after the block."""
    assert Column(2.0).is_always(2.0)
    assert Column(2.0, lines(1), np.array([2.0])).is_always(2.0)
    assert not Column(2.0, lines(1), np.array([3.0])).is_always(2.0)
    assert not Column(0.0, lines(1), np.array([2.0])).is_always(2.0)


LINES = (
    "G1 X1 Y2 Z3 E4",
    "G92 X0",
    "G92 E0",
    "G92",
    "G28",
    "G28 X Y",
    "G1 X5",
    "G92.1",
    "G92 Z1 E0",
)


def test_each_axis_has_its_own_setters() -> None:
    """A bare G92 sets all axes (printing usage), a bare G28 homes X Y Z; E has no home and no offset."""
    block = read_block(Chunk(("\n".join(LINES) + "\n").encode(), 0, 0))
    follower = Follower(block, MachineState(), Machine(), PathSection(unit="path"))
    found = {letter: setters(follower, letter) for letter in "XYZE"}
    assert {letter: line.tolist() for letter, (line, _) in found.items()} == {
        "X": [1, 3, 4, 5, 7],
        "Y": [3, 4, 5, 7],
        "Z": [3, 4, 7, 8],
        "E": [2, 3, 8],
    }
    assert found["Z"][1].tolist() == [codes.SET_REGISTER, codes.HOME, codes.CLEAR_OFFSETS, codes.SET_REGISTER]


def test_a_block_that_only_moves_sets_nothing() -> None:
    """The usual block has none."""
    block = read_block(Chunk(b"G1 X1\n", 0, 0))
    follower = Follower(block, MachineState(), Machine(), PathSection(unit="path"))
    assert [part.tolist() for part in setters(follower, "X")] == [[], []]


def test_without_events_a_column_has_its_initial_value() -> None:
    """Nought, if none is said."""
    assert (Column().last, Column().before(5), Column().is_always(0.0), Column().is_always(1.0)) == (0, 0, True, False)
    assert Column().at(lines(0, 9)).tolist() == [0, 0]
    assert (Column(3.0).last, Column(3.0).is_always(3.0)) == (3, True)
    assert not Column(3.0, lines(1), np.array([4.0])).is_always(3.0)
    assert not Column(3.0, lines(1), np.array([4.0])).is_always(4.0)
