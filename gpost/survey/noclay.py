"""Where the clay may be of a file whose E lays none: in words of other axes, or in an E that falls."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.common.digits import few
from gpost.common.records import record
from gpost.motion.follow import Follower
from gpost.motion.inplace import in_place
from gpost.motion.modes import on_lines

OTHER_AXES = "ABCUVW"
MOSTLY = 0.9
"""Part of the moves on which a word must rise to look like clay: G92 may set it back now and then."""
LEAST_MOVES = 3
LEAST_DROPS = 3
"""So many places at which clay is pushed while the nozzle stands are no prime."""
SAME_MM = 0.1
"""Drops nearer than that are one."""
STAYS_MOVES, STAYS_TIMES = 20, 10
"""E must stay on so many moves, along so many times the path of the beads, to be told: travels may say it."""


@record(slots=True)
class _Axis:
    """The words of another axis on moves that go along."""

    first_line: int
    moves: int = 0
    rising: int = 0
    """So many say more than the one before; of relative ones, more than 0."""
    last: float = 0.0


class NoClay:
    """Goes along with the survey, block by block."""

    def __init__(self) -> None:
        self.other_axes: set[str] = set()
        """Letters of other axes that stand on moves."""
        self._axes: dict[str, _Axis] = {}
        self._falls, self._falls_line, self._falls_mm = 0, 0, 0.0
        self._stays, self._stays_line, self._stays_mm = 0, 0, 0.0
        self._drops, self._drops_line = 0, 0
        """Places at which clay was pushed while the nozzle stood there; counted until a bead comes."""
        self._drop_mm = np.full(2, np.nan)
        """The last of them."""
        self._laid_mm = 0.0
        """All path on which clay is laid, beside the piece too."""

    def add(self, follower: Follower) -> None:
        """Look at one block."""
        for letter in OTHER_AXES:
            if follower.block.counts[ord(letter)]:
                self._look_at(letter, follower)
        moves = follower.moves
        if len(moves) and moves.e_mm.min() < 0:
            falls = np.flatnonzero((moves.e_mm < 0) & moves.xy)
            if len(falls) and not self._falls:
                self._falls_line = follower.block.chunk.first_line + int(moves.line[falls[0]])
            self._falls += len(falls)
            self._falls_mm += float(moves.path_mm[falls].sum())
        self._laid_mm += float(moves.path_mm @ moves.laying)
        if not self._laid_mm:
            self._look_at_drops(follower)
        still = np.flatnonzero(moves.e_mm == 0)
        still = still[moves.xy[still] & ~moves.rapid[still]]
        if len(still):
            self._look_at_still(follower, still)

    def _look_at_drops(self, follower: Follower) -> None:
        """Pushes in place, each elsewhere than the one before."""
        at = np.flatnonzero(in_place(follower) & (follower.moves.e_mm > 0))
        if not len(at):
            return
        places = follower.moves.end[:2, at]
        before = np.column_stack([self._drop_mm, places[:, :-1]])
        # there is none before the first: that is elsewhere, too
        elsewhere = ~(np.abs(places - before) <= SAME_MM).all(axis=0)
        if not self._drops:
            self._drops_line = follower.block.chunk.first_line + int(follower.moves.line[at[0]])
        self._drops += int(np.count_nonzero(elsewhere))
        self._drop_mm = places[:, -1]

    def _look_at_still(self, follower: Follower, still: NDArray[np.int64]) -> None:
        """Moves along by an absolute E word that says again what E is."""
        line = follower.moves.line[still]
        said = follower.block.stands("E")[line] & ~on_lines(follower.e_relative, line)
        if said.any() and not self._stays:
            self._stays_line = follower.block.chunk.first_line + int(line[said][0])
        self._stays += int(np.count_nonzero(said))
        self._stays_mm += float(follower.moves.path_mm[still[said]].sum())

    def _look_at(self, letter: str, follower: Follower) -> None:
        line, value = follower.block.said(letter)
        on = follower.is_move[line]
        if not on.any():
            return
        self.other_axes.add(letter)
        line, value = line[on], value[on]
        move = follower.before[line]
        along = follower.moves.xy[move] & ~follower.moves.rapid[move]
        line, value = line[along], value[along]
        if not len(line):
            return
        axis = self._axes.setdefault(letter, _Axis(follower.block.chunk.first_line + int(line[0])))
        relative = on_lines(follower.e_relative, line)
        rises = np.where(relative, value > 0, np.diff(value, prepend=axis.last) > 0)
        axis.moves, axis.rising = axis.moves + len(line), axis.rising + int(np.count_nonzero(rises))
        axis.last = float(value[-1])

    @property
    def _elsewhere(self) -> str:
        """That the clay may be in the words of another axis, as a clause; empty if there is no such axis."""
        for letter, axis in self._axes.items():
            if axis.moves >= LEAST_MOVES and axis.rising >= MOSTLY * axis.moves:
                return (
                    f"{letter} rises on {axis.rising} moves along the path (from line {axis.first_line + 1} "
                    "on), as clay does, and gpost counts clay by E alone: let what makes the file write E "
                    f"for {letter}"
                )
        return ""

    def _falling(self, name: str) -> str:
        moves = "a move" if self._falls == 1 else f"{self._falls} moves"
        return f"on {moves} along the path {name} falls (from line {self._falls_line + 1} on)"

    def refusal(self, *, has_e: bool) -> str:
        """Why no clay is laid, and what to do; `has_e`: whether any move has an E."""
        elsewhere, text = self._elsewhere, "the file lays no clay: "
        text += "E never rises while the nozzle travels" if has_e else "no move has an E word"
        if elsewhere:
            text += f". {elsewhere}"
        if not has_e:
            return (
                f"{text}. If the machine lays clay with every G1, say `metering: {{unit: path}}` under "
                "`clay:` in the config"
            )
        if self._falls and not elsewhere:
            return (
                f"{text}; {self._falling('it')}, as if clay were drawn back. If that is the wall, the sign "
                "of E is turned round: let what makes the file count it upwards"
            )
        if elsewhere:
            return text
        if self._drops >= LEAST_DROPS:
            return (
                f"the file lays no beads: it pushes clay at {self._drops} places while the nozzle stands "
                f"still (from line {self._drops_line + 1} on), as drops. gpost tells layers, heights and "
                "walls by the path along which clay is laid, so it can plan nothing for drops: print such a "
                "file as it is, or let what makes it join the drops to beads, with E on the moves along the "
                "path"
            )
        return f"{text}; slice the piece again"

    def sentence(self, laid_mm: float) -> str:
        """A warning where E falls along more path than has clay, or stays along far more; else empty."""
        if self._falls_mm > laid_mm:
            return (
                f"{self._falling('E')}, {few(self._falls_mm / 1000)} m in all, and it rises along "
                f"{few(laid_mm / 1000)} m alone: what falls counts as drawn back, not as clay. If it is the "
                "wall, the sign of E is turned round there; write the file again"
            )
        if self._stays >= STAYS_MOVES and self._stays_mm > STAYS_TIMES * self._laid_mm:
            return (
                f"on {self._stays} moves along the path E says again what it was (from line "
                f"{self._stays_line + 1} on), {few(self._stays_mm / 1000)} m in all, and it rises along "
                f"{few(self._laid_mm / 1000)} m alone: no clay is laid on the others. If those are the wall, "
                "E is counted absolutely there and its words are amounts: put an M83 before them. If they "
                "are travels, all is well"
            )
        return ""
