"""A file without gpost's comments that holds blocks as it writes them: most likely an output of its own."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.later import later
from gpost.config.auger import AugerCommands
from gpost.config.commands import LEVEL
from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.survey.model import Survey

SAME_PLACE_MM = 1e-6
LOOKED_AT = 5
"""Pauses of the file that are looked at; each costs a block that is read again."""
BEFORE, AFTER = 20, 120
"""Lines around a pause, or around the first clay."""

_NUMBERED = later(r"^N\s*\d+\s*|\s*\*\s*\d+\s*$", re.IGNORECASE)
_WORD = later(r"([A-Z])\s*([-+]?[\d.]+)")
_NEVER = later(r"(?!)")
_FLY = r"G0(?:X|Y|XY)F? "
_RETRACE = r"(?:G0(?:X|Y|Z|XY|XZ|YZ|XYZ)F? |G1(?:X|Y|Z|XY|XZ|YZ|XYZ)EF? ){0,60}"
_END = rf"{_FLY}G0ZF? (?:G1Z?EF? )?{_RETRACE}(?:G92E )?(?:M101 )?G[01]F "
PAUSE = later(rf"(?:hold )+(?:M103 )?(?:G1EF )?G0ZF {_FLY}(?:\S+ ){{0,30}}?wait (?:\S+ ){{0,80}}?{_END}")
BEADS = later(
    rf"(?:G1EF )?G0ZF {_FLY}G0ZF (?:G1EF )?(?:G1(?:X|Y|XY)EF? |{_FLY}){{1,100}}"
    rf"G1EF (?:{_FLY})?G0ZF? {_END}"
)


class OwnBlocks:
    """Known by the order of their lines, by the config's own commands, and as they end where they began."""

    def __init__(self, config: Config) -> None:
        manner = config.machine.pause
        self._kinds = dict.fromkeys(manner.hold, "hold") | dict.fromkeys(manner.commands, "wait")
        auger = config.machine.auger
        self._auger = _NEVER if auger is None else _switches(auger)
        self._comments = False

    def observe(self, follower: Follower, _clay_ml: NDArray[np.float64]) -> None:
        """Look at one block."""
        data = follower.block.chunk.data
        self._comments = self._comments or b";" in data or b"(" in data

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One at the first such block."""
        survey = plan.survey
        own = [pause for pause in survey.own_pauses if pause.line >= plan.since]
        places = [(pause.line, PAUSE) for pause in own[:LOOKED_AT]]
        if not self._comments and survey.laid_from is not None and plan.restart is None:
            places.append((survey.laid_from, BEADS))
        for line, shape in sorted(places, key=lambda place: place[0]):
            found = self._block_at(survey, line, shape)
            if found is not None:
                text = (
                    "this looks like a file that gpost has written, with its comments stripped: from here on "
                    "stand lines as gpost inserts them. Run it on the sliced file"
                )
                # other comments may be another program's, which pauses as gpost does
                yield Finding("second-run", "warning" if self._comments else "error", found, text)
                return

    def _block_at(self, survey: Survey, line: int, shape: re.Pattern[str]) -> int | None:
        """First line of a block of that shape around a line, which ends where it began."""
        first, lines, ways = _around(survey, line)
        kinds = [self._kind(text) for text in lines]
        words = [kind and f"{kind} " for kind in kinds]
        starts = np.cumsum([0, *map(len, words)])
        for found in shape.finditer("".join(words)):
            begin, end = (first + int(np.searchsorted(starts, at)) for at in found.span())
            here = [way for at, way in ways if begin <= at < end]
            if begin <= line < end and here and np.abs(here[-1][1] - here[0][0]).max() <= SAME_PLACE_MM:
                return begin
        return None

    def _kind(self, text: str) -> str:
        """A line's code and letters, without its numbers: `G1EF`; `hold` and `wait` for the config's own.

        Nothing of what switches the auger, which hangs on the place.
        """
        bare = _NUMBERED.sub("", text.strip()).strip()
        if self._auger.fullmatch(bare):
            return ""
        if bare in self._kinds:
            return self._kinds[bare]
        words = _WORD.findall(bare.upper())
        if not words or _WORD.sub("", bare.upper()).strip():
            return "?"
        (letter, number), *rest = words
        return f"{letter}{number}" + "".join(other for other, _ in rest)


def _switches(auger: AugerCommands) -> re.Pattern[str]:
    """What stops or starts it, with any number."""
    on = re.escape(auger.at(math.inf)), re.escape(auger.on).replace(re.escape(LEVEL), r"[\d.]+")
    return later("|".join((*on, re.escape(auger.off))))


Way = tuple[NDArray[np.float64], NDArray[np.float64]]


def _around(survey: Survey, line: int) -> tuple[int, list[str], list[tuple[int, Way]]]:
    """(first line, the text of the lines around it, (line, (start, end)) of each move among them)."""
    first, end = max(line - BEFORE, 0), min(line + AFTER, survey.lines)
    lines: list[str] = []
    ways: list[tuple[int, Way]] = []
    for index, mark in enumerate(survey.marks):
        if mark.first_line >= end or mark.first_line + mark.lines <= first:
            continue
        follower = survey.follow(index)
        low, high = max(first - mark.first_line, 0), min(end - mark.first_line, mark.lines)
        lines += [follower.block.line_bytes(at).decode("utf-8", "replace") for at in range(low, high)]
        moves = follower.moves
        for at in range(*np.searchsorted(moves.line, [low, high]).tolist()):
            ways.append((mark.first_line + int(moves.line[at]), (moves.start[:, at], moves.end[:, at])))
    return first, lines, ways
