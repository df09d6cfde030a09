"""Splits an arc where a stopped print goes on: the part that is laid, and the arc that is left."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gpost.config.model import Config
from gpost.motion.arcbox import arcs_of
from gpost.motion.arcs import PLANE_AXES
from gpost.motion.follow import Follower
from gpost.motion.splitting import can_split, letters_of
from gpost.motion.state import Axis, MachineState
from gpost.write.decimals import decimals_of
from gpost.write.edits import Edits
from gpost.write.script import E_DECIMALS, POSITION_DECIMALS, exact, number, untied
from gpost.write.split import Part, after_part, feed_of, split_move
from gpost.write.work import Work

FINER = 2
"""More decimals than a straight move is given: a centre is a difference, and both radii must agree."""


def split_parts(
    work: Work, line: int, fractions: Sequence[float], state: MachineState, config: Config, *, arcs: bool
) -> list[Part]:
    """The parts of the move on a line that end at these fractions (rising); see `split_move`.

    arcs: an arc is split too, at the first fraction alone.
    """
    part = split_arc(work.follower, work.edits, line, fractions[0], state, config) if arcs else None
    return split_move(work.edits, line, fractions, state, config) if part is None else [part]


def split_arc(
    follower: Follower, edits: Edits, line: int, fraction: float, state: MachineState, config: Config
) -> Part | None:
    """The part of the arc on `line` that ends at this fraction; what is left stays on the line.

    `state` is that before the line in the output, whose place may be another than the source's: an arc is
    moved as a whole. What is left names its centre by I, J, K, whichever way it was given: a radius would
    name the other arc where less than half a turn is left. E, and a helix' third axis, go in proportion to
    the length. None for a line that can't be split.
    """
    letters = letters_of(edits.block, line)
    code = int(edits.block.words.value[letters["G"]]) if "G" in letters else state.motion
    if code not in (2, 3) or not can_split(edits.block, line, code, arcs=True):
        return None
    feed = feed_of(edits, line, letters)
    arc = _Arc(follower, edits, letters, line, state)
    words = [f"G{code}", *arc.done(fraction), *arc.clay(fraction), *feed]
    after = after_part(" ".join(words), edits, line, state, config)
    arc.leave(after)
    return Part(" ".join(words), after)


class _Arc:
    """An arc on one line, in the units of its words."""

    def __init__(
        self, follower: Follower, edits: Edits, letters: dict[str, int], line: int, state: MachineState
    ) -> None:
        self._follower, self._edits, self._letters, self._line = follower, edits, letters, line
        self._state = state
        self._move = int(np.searchsorted(follower.moves.line, line))
        self._arcs = next(arcs for arcs in arcs_of(follower) if self._move in arcs.at)
        self._at = int(np.searchsorted(self._arcs.at, self._move))
        self._axes = PLANE_AXES[self._arcs.plane]
        self._decimals = POSITION_DECIMALS + FINER + (state.scale != 1)
        start = follower.moves.start[:, self._move]
        centre = start.copy()
        centre[list(self._axes[:2])] = self._arcs.centre_mm[:, self._at]
        self._start, self._way = start, follower.moves.end[:, self._move] - start
        self._centre = (centre - start) / state.scale
        """From the arc's start."""

    def done(self, fraction: float) -> list[str]:
        """The words of the part that leads to the fraction, its centre last."""
        share = np.full(len(self._arcs.at), fraction)
        way = self._arcs.places_mm(self._follower, share)[:, self._at] - self._start
        first, second, along = self._axes
        words = []
        for axis in (0, 1, 2):
            if axis == along and not self._way[along]:
                continue
            by = float(way[axis]) / self._state.scale
            if self._state.relative:
                words.append("XYZ"[axis] + number(untied(by, self._decimals), self._decimals))
            else:
                start = self._state.register[axis] / self._state.scale
                words.append("XYZ"[axis] + number(untied(start + by, self._decimals), self._decimals))
        return words + [f"{'IJK'[axis]}{exact(self._centre[axis])}" for axis in (first, second)]

    def clay(self, fraction: float) -> list[str]:
        """The E word of the part; one that counts from the last place is cut down to the rest on its line."""
        if "E" not in self._letters or self._edits.is_dropped(self._letters["E"]):
            return []
        index = self._letters["E"]
        value = self._edits.value(index)
        decimals = max(decimals_of(self._edits.text(index)), E_DECIMALS)
        if not self._state.e_relative:
            start = self._state.register[Axis.E] / self._state.scale
            return ["E" + exact(untied(start + (value - start) * fraction, decimals))]
        until = untied(value * fraction, decimals)
        self._edits.numbers[index] = number(value - until, decimals)
        return ["E" + number(until, decimals)]

    def leave(self, now: MachineState) -> None:
        """Let the line say the arc from there on: its end, if it isn't said already, and its centre."""
        first, second, along = self._axes
        moved = [(now.register[axis] - self._state.register[axis]) / now.scale for axis in (0, 1, 2)]
        added = []
        for axis in (first, second, along):
            letter = "XYZ"[axis]
            said = self._edits.value(self._letters[letter]) if letter in self._letters else None
            if now.relative and (said is not None or axis != along):
                rest = (0.0 if said is None else said) - moved[axis]
                added += self._say(letter, number(untied(rest, 12), self._places(letter)))
            elif said is None and axis != along:
                added += self._say(letter, exact(self._state.register[axis] / now.scale))
        for axis in (first, second):
            rest = float(self._centre[axis]) - moved[axis]
            added += self._say("IJK"[axis], number(untied(rest, self._decimals), self._decimals))
        if "R" in self._letters:
            self._edits.drop(np.array([self._letters["R"]]))
        if added:
            after = [self._edits.after[self._line]] if self._line in self._edits.after else []
            self._edits.after[self._line] = " ".join([*added, *after])

    def _places(self, letter: str) -> int:
        """Decimals that hold the rest of a word exactly."""
        said = decimals_of(self._edits.text(self._letters[letter])) if letter in self._letters else 0
        return max(said, self._decimals)

    def _say(self, letter: str, text: str) -> list[str]:
        """Give a word of the line its number; one that is not there is to be added."""
        if letter not in self._letters:
            return [letter + text]
        self._edits.numbers[self._letters[letter]] = text
        return []
