"""Follows the machine through any block by operations on columns: the maker that knows every rule."""

from __future__ import annotations

from typing import Any

import numpy as np

from gpost.config.model import Machine
from gpost.motion.events import spread
from gpost.motion.lines import Floats, Lines
from gpost.motion.modes import Modes, feeds_of_words
from gpost.motion.registers import Registers
from gpost.motion.state import MachineState
from gpost.motion.way import Way
from gpost.read.block import Block


def find_way(block: Block, state: MachineState, machine: Machine) -> Way:
    """The way through a block from a state on.

    Raises SourceError for what can't be followed or is no legal line.
    """
    lines = Lines(block)
    modes = Modes(lines, state, machine)
    registers = Registers(lines, modes, state, machine)
    feed, end_feed = _feeds(lines, modes, state)
    return Way(
        lines.is_move, lines.before, lines.move_line, modes.motion, registers.start, registers.end,
        registers.e_mm, feed, lines.feed_index, lines.other_line, lines.other, lines.m_line, lines.m,
        lines.t_line, lines.tool, _after(state, modes, registers, end_feed), lines, modes,
    )  # fmt: skip


def _feeds(lines: Lines, modes: Modes, state: MachineState) -> tuple[Floats, float]:
    """F in force on each move, mm/min, and after the block."""
    value = feeds_of_words(lines.block, lines.feed_index, modes.feed_scale)
    before = state.feed_mm_min
    feed = spread(lines.before[lines.feed_line], value, before, len(lines.move_line))
    return feed, float(value[-1]) if len(value) else before


def _after(state: MachineState, modes: Modes, registers: Registers, feed_mm_min: float) -> MachineState:
    def last(column: Any) -> Any:
        return column[-1].item() if isinstance(column, np.ndarray) else column

    register: Any = tuple(registers.end_register)
    offset: Any = tuple(registers.end_offset)
    known: Any = tuple(registers.end_known)
    return MachineState(
        register=register,
        offset=offset,
        known=known,
        scale=last(modes.scale),
        relative=last(modes.relative),
        e_relative=last(modes.e_relative),
        motion=modes.end_motion,
        plane=last(modes.plane),
        feed_mm_min=feed_mm_min,
        feed_factor=last(modes.feed_factor),
        flow_factor=last(modes.flow_factor),
        air=modes.end_air,
        tool=modes.end_tool,
        laying=last(modes.laying),
        pressure_relief=modes.end_relief,
    )
