"""One block being edited: its words, what the machine does on it, and the registers of the output."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.block import PAD, Block, head
from gpost.survey.model import BlockMark
from gpost.write.edits import Edits
from gpost.write.flows import FlowColumn
from gpost.write.output import lead_bytes
from gpost.write.scaling import Column
from gpost.write.shifts import AxisShift


class Work:
    """A block that the plan touches. Lines are 0-based within the block."""

    def __init__(
        self, mark: BlockMark, block: Block, config: Config, follower: Follower | None = None
    ) -> None:
        """`follower`: the machine's way through the block, if it is known."""
        self.mark, self.block, self._known = mark, block, follower
        self.edits = Edits(self.block)
        self.flow: FlowColumn | None = None
        self.feed: Column | None = None
        self.shift: tuple[AxisShift, ...] = ()
        self._config = config
        self._lead = PAD + (lead_bytes(block.chunk.data) if mark.offset == 0 else 0)

    @cached_property
    def follower(self) -> Follower:
        """The machine's way through the source's block."""
        return self._known or self._follow(self.block)

    def _follow(self, block: Block) -> Follower:
        return Follower(block, self.mark.state, self._config.machine, self._config.clay.metering)

    def state(self, line: int) -> MachineState:
        """The state before a line, with the E register of the output."""
        state = self._follow(head(self.block, line)).end if line else self.mark.state
        state = advanced(state, self.flow.ahead_mm.before(line) if self.flow is not None else 0.0)
        return moved(state, [axis.before(line) for axis in self.shift])

    def feed_before(self, line: int) -> float | None:
        """F in force in the output before a line; None: the source's."""
        return self.feed.before(line) if self.feed is not None else None

    def at(self, line: int) -> int:
        """Where in the block's bytes lines are inserted before a line; behind the last one at the end."""
        if line == self.block.lines:
            return len(self.block.bytes) - PAD
        return max(int(self.block.line_start[line]), self._lead)


def advanced(state: MachineState, ahead_mm: float) -> MachineState:
    """The state with an E register that is so much ahead."""
    if not ahead_mm:
        return state
    x, y, z, e = state.register
    return replace(state, register=(x, y, z, e + ahead_mm))


def moved(state: MachineState, shifts: Sequence[tuple[float, float]]) -> MachineState:
    """The state of the output, whose axes are (ahead_mm, kept_mm) by `shifts`: see AxisShift."""
    if not any(ahead_mm or kept_mm for ahead_mm, kept_mm in shifts):
        return state
    (x, y, z, e), (ox, oy, oz, oe) = state.register, state.offset
    by = [ahead_mm - kept_mm for ahead_mm, kept_mm in shifts]
    kept = [kept_mm for _, kept_mm in shifts]
    return replace(
        state,
        register=(x + by[0], y + by[1], z + by[2], e),
        offset=(ox + kept[0], oy + kept[1], oz + kept[2], oe),
    )
