"""The machine's way through a block: what its lines do, and the state after them."""

from __future__ import annotations

from dataclasses import dataclass

from gpost.motion.lines import Flags, Floats, Ints, Lines
from gpost.motion.modes import Modes
from gpost.motion.state import MachineState


@dataclass(slots=True, eq=False, repr=False)
class Way:
    """n lines and m moves. Lines are those within the block, codes are times ten.

    A mode is a column over the lines, or a scalar where it never changes in the block.
    """

    is_move: Flags
    """Whether each line moves, shape (n,)."""
    before: Ints
    """Number of moves before each line, shape (n,)."""
    move_line: Ints
    """Line of each move, shape (m,)."""
    motion: Ints
    """Motion code of each move, 0 to 3; shape (m,)."""
    start: Floats
    """Where each move starts, in machine mm, shape (3, m): where the one before ends, unless the machine
    homed in between."""
    end: Floats
    """The same for its end."""
    e_mm: Floats
    """E of each move as the program says it, mm of the E axis; shape (m,)."""
    feed_mm_min: Floats
    """F in force on each move, the feed factor left out; shape (m,)."""
    feed_index: Ints
    """The F words that count, by their index among the block's words."""
    other_line: Ints
    other: Ints
    """The G codes that are no motion, and their lines."""
    m_line: Ints
    m: Ints
    t_line: Ints
    tool: Ints
    """The tool changes, by the tool's number, and their lines."""
    after: MachineState
    """The state after the block."""
    lines: Lines | None = None
    modes: Modes | None = None
    """What it was made of, if it was made by columns."""
