"""Where the machine's place is lost or taken anew: lines counted from 0."""

from __future__ import annotations

import pytest

from gpost.config.model import Machine, PathSection
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.survey.places import PlacesLost


def places_of(*rows: str, each: int = 99) -> PlacesLost:
    """After these lines, so many to a block."""
    places, state = PlacesLost(), MachineState()
    for first in range(0, len(rows), each):
        text = "\n".join([*rows[first : first + each], ""]).encode()
        follower = Follower(read_block(Chunk(text, 0, first)), state, Machine(), PathSection(unit="path"))
        places.add(follower)
        state = follower.end
    return places


BEAD = ("M83", "G1 X5 E1 F600")


@pytest.mark.parametrize("each", [1, 2, 99])
def test_where_clay_and_moves_begin_and_end(each: int) -> None:
    """The first line that lays, and the lines after the last that lays and that moves."""
    places = places_of("G28", "G0 X1 F600", *BEAD, "X9 E1", "G0 X0", "M84", each=each)
    assert (places.laid_from, places.laid_until, places.moves_until) == (3, 5, 6)


@pytest.mark.parametrize("each", [1, 2, 99])
@pytest.mark.parametrize(
    ("rows", "homings"),
    [
        (("G28", *BEAD, "G28", *BEAD, "G28 Z", "G28 X Y", "G28 X Z"), [3, 6, 8]),
        ((*BEAD, "G28", *BEAD, "G28"), [5]),  # the first of all is no second time
        (("G92 Z0", *BEAD, "G28"), [3]),  # its place was known
        (("G92 E0", *BEAD, "G28", "G28"), [4]),
        (("G92", *BEAD, "G28"), [3]),
        (("G28 X", *BEAD, "G28", "G28"), [4]),
        (("G28", "G28", *BEAD), []),
    ],
)
def test_homing_z_once_more(rows: tuple[str, ...], homings: list[int], each: int) -> None:
    """After the first clay, where Z had been homed or set before."""
    assert places_of(*rows, each=each).homings == homings


ON = ("G28", "M83", "G1 X50 Y50 Z2 F600", "G1 X90 E1")
"""The wall's last bead so far ends at X90 Y50 Z2, on line 3."""


@pytest.mark.parametrize("each", [1, 2, 3, 99])
@pytest.mark.parametrize(
    ("rows", "aside", "low"),
    [
        (("G28 X Y", "G1 X50 E1"), [4], []),
        (("G28 X Y", "G1 X50 Y50 E1"), [4], []),  # the bead itself leads back from there
        (("G0 Z9", "G28 X Y", "G0 Z2", "G1 X50 Y50 E1"), [5], []),
        (("G28 X", "G0 Y60", "G1 Y50 E1"), [4], []),
        (("G28 Y", "G0 X60", "G1 X50 Y50 E1"), [4], []),
        (("G28 X Y", "G0 X60", "G0 Y60", "G1 X50 E1"), [], [4]),
        (("G28 X", "G0 X60", "G1 X50 E1"), [], [4]),
        (("G0 Z9", "G28 X Y", "G0 X60 Y60", "G0 Z2", "G1 X50 E1"), [], []),  # as to a pause beside the piece
        (("G28 X Y", "G0 Z60"), [], []),  # no bead comes after it
        (("G28 Z", "G1 X50 E1"), [], []),
        (("G28", "G1 X50 E1"), [], []),
        (("G28 X Y", "G28 Y", "G1 X50 E1", "G28 X", "G0 X60", "G1 X50 E1"), [4, 5], [7]),
    ],
)
def test_homing_x_or_y_alone(rows: tuple[str, ...], aside: list[int], low: list[int], each: int) -> None:
    """Told where the next bead begins where the machine homes, or the nozzle has not risen from the last one."""
    places = places_of(*ON, *rows, each=each)
    assert (places.homed_aside, places.homed_low) == (aside, low)
    assert places.homings == [4] * (rows[0] in ("G28", "G28 Z"))


def test_homing_x_or_y_before_the_first_clay() -> None:
    """As many files begin."""
    places = places_of("G28 X Y", "G28 Z", *BEAD)
    assert (places.homed_aside, places.homed_low) == ([], [])


@pytest.mark.parametrize(
    ("row", "lets_go"),
    [
        ("M84", True),
        ("M18", True),
        ("M84 S60", False),
        ("M84 E", False),
        ("M84 X", True),
        ("M84 X E", True),
        ("M17", False),
    ],
)
def test_letting_the_motors_go(row: str, lets_go: bool) -> None:
    """Of X, Y or Z, and now; E alone, or after a time, is nothing (common practice, no source)."""
    assert places_of("G28", *BEAD, row).let_go == [3] * lets_go
    assert places_of("G28", row, *BEAD).let_go == []


def test_homed_since() -> None:
    """The first homing from a line on that has clay after it."""
    places = places_of("G28", *BEAD, "G28", "X9 E1", "G28")
    assert [places.homed_since(line) for line in (0, 3, 4, 5)] == [3, 3, None, None]
