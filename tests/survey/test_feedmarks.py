"""The lines of a block by which its feeds are known, by hand."""

from __future__ import annotations

import pytest

from gpost.config.model import Filament, Machine
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.survey.feedmarks import MOST, feed_marks

METERING = Filament(unit="filament", diameter_mm=1.75)
Row = tuple[int, bool, bool, float]


def marks_of(*rows: str) -> list[Row] | None:
    """(line, whether it lays, whether it says F, F in force) of each mark of one block; relative E."""
    block = read_block(Chunk("\n".join([*rows, ""]).encode(), 0, 0))
    state = MachineState(known=(True, True, True), e_relative=True, feed_mm_min=900.0)
    found = feed_marks(Follower(block, state, Machine(), METERING))
    return None if found is None else [tuple(row) for row in found.tolist()]


def test_the_first_move_each_f_and_each_turn_to_laying_and_back() -> None:
    """Other lines go on as the mark before them."""
    assert marks_of(
        "M107", "G1 X1 E1", "X2 E1", "X3 E1 F600", "X4 E1", "G0 X9", "X8", "X7 F700", "G1 X1 E1"
    ) == [
        (1, True, False, 900),
        (3, True, True, 600),
        (5, False, False, 600),
        (7, False, True, 700),
        (8, True, False, 700),
    ]


def test_a_block_without_moves_has_none() -> None:
    """Comments and commands alone."""
    assert marks_of("M107", "; a ring") == []


@pytest.mark.parametrize(
    "rows",
    [
        ("G1 X1 E1", "F600", "X2 E1"),  # alone: the moves after it say nothing
        ("G1 X1 E1 F600", "G20", "X2 E1 F20"),
        ("G1 X1 E1 F600", "M220 S50", "X2 E1"),
    ],
)
def test_where_marks_do_not_tell_the_feeds(rows: tuple[str, ...]) -> None:
    """An F that stands alone, another unit, another factor from some line on."""
    assert marks_of(*rows) is None


@pytest.mark.parametrize(("count", "known"), [(MOST - 1, True), (MOST, True), (MOST + 1, False)])
def test_too_many_are_not_kept(count: int, known: bool) -> None:
    """A block with more than a thousand F, or a thousand changes between laying and travel, is read again."""
    assert (marks_of(*(f"G1 X{x % 2} E1 F{600 + x}" for x in range(count))) is not None) is known
    turns = ["G1 X9 E1", *("G0 X1" if x % 2 == 0 else "G1 X2 E1" for x in range(count))]
    assert (marks_of(*turns) is not None) is known
