"""Registers and offsets: G92, G28 and G92.1 among absolute and relative words."""

from __future__ import annotations

import pytest

from gpost.config.model import Home, Machine
from gpost.motion.lines import Lines
from gpost.motion.modes import Modes
from gpost.motion.registers import Registers
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block

HOME = Machine(home=Home(x_mm=1, y_mm=2, z_mm=3))


def registers_of(*rows: str, state: MachineState | None = None) -> Registers:
    """The registers over one block."""
    lines = Lines(read_block(Chunk("\n".join(rows).encode(), 0, 0)))
    before = state or MachineState()
    return Registers(lines, Modes(lines, before, HOME), before, HOME)


def test_g92_moves_nothing() -> None:
    """After G92 the machine is where it was, and counts from another number (NISTIR 6556, section 3.5.18)."""
    found = registers_of("G1 X5 Y5", "G92 X0", "X1", "G92 X9 Y9", "X9 Y10")
    assert found.end[0].tolist() == [5, 6, 6]
    assert found.end[1].tolist() == [5, 5, 6]
    assert (found.end_register[:2], found.end_offset[:2]) == ([9, 10], [-3, -4])


def test_g92_in_other_units() -> None:
    """Its numbers are in the units in force; G91 has no effect on it (section 3.5.18)."""
    found = registers_of("G1 X25.4", "G20 G91", "G92 X3", "X1")
    assert found.end[0].tolist() == pytest.approx([25.4, 50.8])
    assert found.end_register[0] == pytest.approx(101.6)


def test_homing_takes_the_axes_named() -> None:
    """G28 X homes X alone, a bare G28 all (printing usage); offsets of homed axes are gone."""
    found = registers_of("G92 X7 Y7", "G28 X")
    assert (found.end_register[:3], found.end_offset[:3]) == ([1, 7, 0], [0, -7, 0])
    assert registers_of("G92 X7 Y7", "G28").end_register[:3] == [1, 2, 3]


def test_moves_after_homing_start_at_home() -> None:
    """Only there a move starts elsewhere than where the one before ended."""
    found = registers_of("G1 X9 Y9", "G28 Y", "X8 Y8", "G28", "G28", "Z9")
    assert found.start.T.tolist() == [[0, 0, 0], [9, 2, 0], [1, 2, 3]]
    assert found.end.T.tolist() == [[9, 9, 0], [8, 8, 0], [1, 2, 9]]


def test_clearing_offsets() -> None:
    """After G92.1 the registers read the machine position (section 3.5.18)."""
    found = registers_of("G1 X5", "G92 X9", "G92.1", "X6")
    assert found.end[0].tolist() == [5, 6]
    assert found.end_offset[0] == 0


@pytest.mark.parametrize(
    ("rows", "known"),
    [
        (("G91 G1 X5",), False),
        (("G1 X5",), True),
        (("G28 X",), True),
        (("G92 X0",), False),
        (("G92.1",), False),
        (("G91", "X5", "G90 X6"), True),
    ],
)
def test_what_is_known(rows: tuple[str, ...], known: bool) -> None:
    """An axis is known once it has been homed or sent to an absolute place; until then it is a guess."""
    assert registers_of(*rows).end_known[0] is known


def test_e_in_all_modes() -> None:
    """Absolute E pushes the difference, relative E itself, and G92 E pushes nothing."""
    found = registers_of("G1 E5", "E7", "G92 E0", "E1", "M83", "E2", "E-1", "M82", "E0", "G92", "E3")
    assert found.e_mm.tolist() == [5, 2, 1, 2, -1, -2, 3]
    assert found.end_register[3] == 3


def test_words_of_other_codes_are_not_registers() -> None:
    """Axis words that an M code claims change nothing."""
    found = registers_of("G1 X5 E5", "M92 X80 E90", "M201 Y5", "X6")
    assert found.end[0].tolist() == [5, 6]
    assert found.end_register == [6, 0, 0, 5]


def test_relative_e_pushes_what_it_says_to_the_last_bit() -> None:
    """Far along an absolute axis the difference of two registers has fewer digits than the word."""
    assert registers_of("G1 E1000000", "M83", "E0.1", "M82", "E1000001.1").e_mm.tolist()[1] == 0.1


def test_a_bare_g92_sets_all_axes_to_nought() -> None:
    """One with a word sets that axis alone, whatever the letter; homing sets no E (NISTIR 6556, section 3.5.18)."""
    found = registers_of("G1 X5 Y6 Z7 E8", "G92")
    assert (found.end_register, found.end_offset[:3]) == ([0, 0, 0, 0], [5, 6, 7])
    found = registers_of("G1 X5 Y6 Z7 E8", "G92 E1")
    assert (found.end_register, found.end_offset[:3]) == ([5, 6, 7, 1], [0, 0, 0])
    assert registers_of("G1 E8", "G28").end_register == [1, 2, 3, 8]
