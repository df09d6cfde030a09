"""Which codes set an axis without moving it (NIST RS274/NGC report, NISTIR 6556, sections 3.5.8, 3.5.18)."""

from __future__ import annotations

from gpost.config.model import Machine, PathSection
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.setters import setters

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
