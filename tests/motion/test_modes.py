"""Modes hold from the line that says them, for its own move too."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.config.model import Machine
from gpost.errors import SourceError
from gpost.motion.lines import Lines
from gpost.motion.modes import Modes, on_lines
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block


def modes_of(*rows: str, state: MachineState | None = None, sets_e: bool = True) -> Modes:
    """The modes over one block."""
    lines = Lines(read_block(Chunk("\n".join(rows).encode(), 0, 0)))
    return Modes(lines, state or MachineState(), Machine(axis_mode_sets_e=sets_e))


def test_what_never_changes_is_one_value() -> None:
    """A mode that the block never changes, or says again, is a scalar."""
    modes = modes_of("G90", "G21", "G17", "M82", "M220 S100", "G1 X5")
    scalars = (modes.relative, modes.scale, modes.plane, modes.e_relative, modes.feed_factor, modes.laying)
    assert scalars == (False, 1.0, 17, False, 1.0, False)


@pytest.mark.parametrize(
    ("rows", "name", "column"),
    [
        (("X1", "G91 X1", "X1", "G90"), "relative", [False, True, True, False]),
        (("G20", "X1", "G21 X1"), "scale", [25.4, 25.4, 1.0]),
        (("X1", "G18", "X1", "G19"), "plane", [17, 18, 18, 19]),
        (("M220 S50", "X1", "M220 S200"), "feed_factor", [0.5, 0.5, 2.0]),
        (("M221 S50", "M221", "M221 S25"), "flow_factor", [0.5, 0.5, 0.25]),
        (("M101", "X1", "M103", "M102"), "laying", [True, True, False, False]),
    ],
)
def test_a_mode_on_each_line(rows: tuple[str, ...], name: str, column: list[float]) -> None:
    """It holds on its own line and from there on."""
    assert np.asarray(getattr(modes_of(*rows), name)).tolist() == column


def test_feed_comes_before_units() -> None:
    """F counts in the units before the line's G20 (NIST RS274/NGC report, section 3.8, steps 3 and 12)."""
    modes = modes_of("G20 F10", "F10", "G21 F10", "F10")
    assert np.asarray(modes.feed_scale).tolist() == [1.0, 25.4, 25.4, 1.0]


@pytest.mark.parametrize(
    ("rows", "sets_e", "column"),
    [
        (("G91", "M82", "G90", "G91"), True, [True, False, False, True]),
        (("G91 M82", "G90 M83"), True, [False, True]),
        (("G91", "M83", "G90"), False, [False, True, True]),
    ],
)
def test_the_mode_of_e(rows: tuple[str, ...], sets_e: bool, column: list[bool]) -> None:
    """G90 and G91 set E too, where the machine does so; M82 and M83 override them (common practice)."""
    assert np.asarray(modes_of(*rows, sets_e=sets_e).e_relative).tolist() == column


def test_motion_of_moves() -> None:
    """A move without a G word has the motion code said last, in this block or before it."""
    modes = modes_of("X1", "G1 F5", "X2", "G0 X3", "X4", "G2", state=MachineState(motion=0))
    assert modes.motion.tolist() == [0, 1, 0, 0]
    assert modes.end_motion == 2


def test_a_scalar_stands_for_a_column() -> None:
    """What never changes in a block is a scalar, and the same on all lines."""
    assert on_lines(25.4, np.array([0, 3])).tolist() == [25.4, 25.4]
    assert on_lines(np.array([1.0, 2.0, 3.0]), np.array([0, 2])).tolist() == [1.0, 3.0]


def test_no_motion_after_g80() -> None:
    """Axis words alone after G80 are refused, in the same block or a later one."""
    assert modes_of("G80", "G1 X5").motion.tolist() == [1]
    for rows, state in ((("G80", "X5"), MachineState()), (("M5", "X5"), MachineState(motion=80))):
        with pytest.raises(SourceError, match=r"line 2: .*G80"):
            modes_of(*rows, state=state)


def test_air_tool_and_relief() -> None:
    """The last of each counts; M106 without S is full, and relief never goes below none (common practice)."""
    modes = modes_of("M106 S5", "T2", "G10", "G11", "G11", "G10", "M106")
    assert (modes.end_air, modes.end_tool, modes.end_relief) == (255.0, 2, 1)
    later = modes_of("M107", "M104 T5", state=MachineState(air=9.0, tool=1, pressure_relief=3))
    assert (later.end_air, later.end_tool, later.end_relief) == (0.0, 1, 3)


def test_a_factor_without_its_number() -> None:
    """`M220 S` says nothing that could be followed."""
    with pytest.raises(SourceError, match="S on this line has no number"):
        modes_of("M220 S")
