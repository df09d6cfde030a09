"""Moves that push clay without going anywhere, and those of them that can be taken out by themselves."""

from __future__ import annotations

import pytest

from gpost.config.model import CubicMillimetres, Machine
from gpost.motion.follow import Follower
from gpost.motion.inplace import alone, in_place
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("G1 E5", "alone"),
        ("G1 F40000 E3000", "alone"),
        ("E-2", "alone"),
        ("G0 E5 ; prime", "alone"),
        ("N7 G1 E5*11", "alone"),
        ("(prime) G1 E5", "alone"),
        ("G1 X10 Y10 E5", "in place"),
        ("G91 G1 E5", "in place"),
        ("G1 E5 M400", "in place"),
        ("G1 E5 S1", "in place"),
        ("G1 E0", ""),
        ("G1 X11 E5", ""),
        ("G1 Z3 E5", ""),
        ("G92 E5", ""),
        ("G2 I5 E5", ""),
        ("M104 S200", ""),
    ],
)
def test_what_a_line_does(line: str, found: str) -> None:
    """In place: it changes E and goes nowhere. Alone: and its line says nothing else."""
    program = f"G28\nM83\nG1 X10 Y10 F1000\n{line}\n".encode()
    block = read_block(Chunk(program, 0, 0))
    follower = Follower(block, MachineState(), Machine(), CubicMillimetres(unit="mm3"))
    here = follower.moves.line == 3
    said = "alone" if alone(follower)[here].any() else "in place" if in_place(follower)[here].any() else ""
    assert said == found
