"""The machine's state before a program has said anything, and what its registers mean."""

from __future__ import annotations

import math

from gpost.motion.state import Axis, MachineState


def test_before_the_first_line() -> None:
    """Absolute, millimetres, G1, the XY plane, no offsets: common practice of printing, no source; no F is known."""
    state = MachineState()
    assert (state.register, state.offset, state.known) == ((0, 0, 0, 0), (0, 0, 0, 0), (False, False, False))
    assert (state.scale, state.relative, state.e_relative) == (1, False, False)
    assert (state.motion, state.plane) == (1, 17)
    assert math.isnan(state.feed_mm_min)
    assert (state.feed_factor, state.flow_factor) == (1, 1)
    assert (state.air, state.tool, state.laying, state.pressure_relief) == (0, 0, False, 0)


def test_where_the_machine_is() -> None:
    """Each register and what G92 has added to it (NIST RS274/NGC report, section 3.5.18); E has no place."""
    state = MachineState(register=(1.0, 2.0, 3.0, 4.0), offset=(10.0, 20.0, -30.0, 0.0))
    assert state.position_mm == (11, 22, -27)


def test_axes_count_from_nought() -> None:
    """In the order of the words of a move."""
    assert [axis.name for axis in sorted(Axis)] == ["X", "Y", "Z", "E"]
    assert [int(axis) for axis in sorted(Axis)] == [0, 1, 2, 3]
