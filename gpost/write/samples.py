"""A few lines of each change as they were and as they are, kept while they are written."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import NamedTuple

import numpy as np

from gpost.common.later import later
from gpost.plan.alike import Alike, ChangeKind, changes_of
from gpost.plan.intentions import Intention, ScaleFeed, ScaleFlow, Shift, Silence, SilencePush
from gpost.plan.plan import Plan
from gpost.read.source import Chunk

MOST_LINES = 6
MOST_LETTERS = 100
_WORDS: Mapping[ChangeKind, re.Pattern[bytes]] = {
    "feed": later(rb"(?i)F[^A-Z;(]*"),
    "flow": later(rb"(?i)E[^A-Z;(]*"),
    "shift": later(rb"(?i)[XYZIJKR][^A-Z;(]*"),
    "silence": later(rb"^;.*"),
}
"""What of a line a kind of edit changes."""


class Sample(NamedTuple):
    """The first place of a change, without line numbers and checksums."""

    entry: int
    """Its index in the plan's entries."""
    line: int
    """The source line, from 0: the one that was edited, or before which lines were inserted."""
    before: tuple[str, ...]
    """Nothing where lines were inserted."""
    after: tuple[str, ...]
    left_out: int = 0
    """How many more lines were inserted there."""


class Samples:
    """Keeps the first place of each change of a plan."""

    def __init__(self, plan: Plan) -> None:
        self._plan, self._of, self._seen = plan, changes_of(plan), 0
        self.found: dict[Alike, Sample] = {}

    def inserted(self, index: int, line: int, lines: Sequence[str]) -> None:
        """Lines that were inserted before a source line for an entry."""
        change = self._of.get(index)
        if change is not None and change not in self.found:
            shown = tuple(text[:MOST_LETTERS] for text in lines[:MOST_LINES])
            self.found[change] = Sample(index, line, (), shown, max(len(lines) - MOST_LINES, 0))

    def edited(
        self,
        edited: Mapping[int, int],
        first_line: int,
        before: Callable[[], bytes],
        after: Callable[[], bytes],
    ) -> None:
        """A block from `first_line` on as it was and as it is, lines that are inserted in it left out.

        `edited`: how many lines were edited so far for each entry. Bytes are asked for only where an entry
        is the first of its change to edit anything.
        """
        new, self._seen = list(islice(edited, self._seen, None)), len(edited)
        changes: dict[Alike, list[int]] = {}
        for entry in new:
            change = self._of.get(entry)
            if change is not None and change not in self.found:
                changes.setdefault(change, []).append(entry)
        if not changes:
            return
        was, now = Chunk(before(), 0, first_line), Chunk(after(), 0, first_line)
        for change, entries in changes.items():
            places = [(line, entry) for entry in entries for line in self._first(entry, change, was, now)]
            if places:
                line, entry = min(places)
                self.found[change] = Sample(entry, line, (_text(was.line(line)),), (_text(now.line(line)),))

    def _first(self, entry: int, change: Alike, was: Chunk, now: Chunk) -> Iterator[int]:
        """The first line, if any, that an entry has edited in a block."""
        word, first = _WORDS[change.kind], was.first_line
        for line in _lines(self._plan.entries[entry].intention, first, first + min(was.lines, now.lines)):
            before, after = was.line(line), now.line(line)
            if before != after and word.findall(before) != word.findall(after):
                yield line
                return


def _lines(intention: Intention, first_line: int, end_line: int) -> Iterable[int]:
    """The lines of a block that an entry may have edited, from 0."""
    match intention:
        case Silence():
            low, high = np.searchsorted(intention.lines, (first_line, end_line))
            return (int(line) for line in intention.lines[low:high])
        case SilencePush():
            return range(max(first_line, intention.line), min(end_line, intention.line + 1))
        case ScaleFeed() | ScaleFlow() | Shift():
            return range(max(first_line, intention.first_line), min(end_line, intention.end_line))
    return range(first_line, end_line)


def _text(line: bytes) -> str:
    return line.rstrip(b"\r").decode("ascii", "replace")[:MOST_LETTERS]
