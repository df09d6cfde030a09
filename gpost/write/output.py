"""The output on its way to the file: header, line numbers, what is counted, and what there is to report."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import field
from typing import BinaryIO

import numpy as np

from gpost.common.records import record
from gpost.plan.alike import Alike
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.survey.marks import HERE_IT_ENDS
from gpost.write.edits import BYTE_ORDER_MARK
from gpost.write.renumber import Renumberer
from gpost.write.samples import Sample
from gpost.write.sent import SentCommand

_PERCENT_LINE = re.compile(rb"[ \t]*%[^\n]*\n")


@record(frozen=True, slots=True)
class Written:
    """The finished output, and where in it each intention of the plan ended up.

    Keys of `places` and `edited` are indexes into `plan.entries`.
    """

    size_bytes: int
    lines: int
    places: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    """First and last output line, counted from 1, of the block inserted for that entry."""
    own_pauses: Mapping[int, int] = field(default_factory=dict)
    """Source line, from 0, of each of the file's own pauses to its output line, counted from 1."""
    edited: Mapping[int, int] = field(default_factory=dict)
    """Number of source lines that were edited or silenced for that entry."""
    sent: tuple[SentCommand, ...] = ()
    """Every command that was inserted and is no move."""
    inserted: tuple[tuple[int, int], ...] = ()
    """(first output line, counted from 1, number of lines) of all that is no line of the source."""
    first_source_line: int = 0
    """The line of the source, from 0, that comes first."""
    samples: Mapping[Alike, Sample] = field(default_factory=dict)
    """The first place of each change."""
    waits: Mapping[int, int] = field(default_factory=dict)
    """The output line, counted from 1, of the first wait of the block inserted for that entry."""

    def source_line(self, output_line: int) -> int:
        """The line of the source, from 0, that stands on a line of the output, counted from 1, or next."""
        before = 0
        for first, count in self.inserted:
            if first > output_line:
                break
            before += min(count, output_line - first)
        return self.first_source_line + max(output_line - 1 - before, 0)

    def reached(self, plan: Plan, output_line: int) -> Spot:
        """How far all is done that stands before a line of the output, counted from 1, of that plan.

        That is the start of a line of the source, or a place inside a move that is split for what is inserted
        there: its first part has been, the rest of it stands on the line. A rest begins where it goes on.
        """
        begun = Spot(self.source_line(output_line))
        reached = [begun] if plan.restart is None else [begun, plan.restart.spot]
        for index, (first, _) in self.places.items():
            spot: Spot = getattr(plan.entries[index].intention, "spot", begun)
            if first < output_line and spot.line == begun.line and plan.survey.stands_at(spot) == spot:
                reached.append(spot)
        return max(reached)

    def opens_until(self, plan: Plan) -> int:
        """The last line, counted from 1, of what the rest of a stopped print begins with; 0: it is none."""
        return self.places.get(_restart_at(plan), (0, 0))[1]

    def waits_first(self, plan: Plan) -> int:
        """The line of its first wait: nothing moves, and no clay comes, before it. 0: it is none."""
        return self.waits.get(_restart_at(plan), 0)

    def output_line(self, source_line: int) -> int:
        """The line of the output, counted from 1, on which a line of the source, from 0, stands."""
        found = source_line - self.first_source_line + 1
        for first, count in self.inserted:
            if first > found:
                break
            found += count
        return found


def _restart_at(plan: Plan) -> int:
    """Which of a plan's entries is where it goes on; -1: none."""
    return next((at for at, entry in enumerate(plan.entries) if entry.intention is plan.restart), -1)


class Output:
    """Takes whole lines of the source and inserted lines, in order."""

    def __init__(
        self,
        file: BinaryIO,
        newline: bytes,
        header: str | None = None,
        renumber: Renumberer | None = None,
        *,
        begun: bool = True,
    ) -> None:
        """`header`: the comment that becomes the first line; None: none is needed, and none at the end.

        `begun`: whether what comes is written; until then, and after it, it is left out.
        """
        self.begun = begun
        self.inserted: list[tuple[int, int]] = []
        """(first output line, counted from 1, number of lines) of all that is no line of the source."""
        self._file, self._newline, self._renumber = file, newline, renumber
        self._header = header
        self._marked = header is not None
        self._ends_open = False
        self.size = 0
        self.lines = 0
        """Number of complete lines."""

    @property
    def next_line(self) -> int:
        """Number, counted from 1, of the line of the source that would be written next."""
        return self.lines + 1 + (self._header is not None)

    def write(self, data: bytes, lines: int | None = None) -> None:
        """Pass on lines of the source, of which `lines` are complete; None: to be counted.

        Only the last of all may lack its newline.
        """
        if not self.begun:
            return
        if self._header is not None:
            data = self._headed(data, self._header)
            lines = None if lines is None else lines + 1
            self._header = None
        if self._renumber is not None:
            data = self._renumber.source(data)
        self._put(data, lines)

    def insert(self, lines: Iterable[str]) -> tuple[int, int]:
        """Write inserted lines; returns the first and last of them, counted from 1."""
        if not self.begun:
            return 0, 0
        if self._header is not None:
            self.write(b"")
        if self._ends_open:
            self._put(self._newline)
        first = self.lines + 1
        for line in lines:
            data = line.encode("ascii")
            if self._renumber is not None:
                data = self._renumber.inserted(data)
            self._put(data + self._newline)
        self.inserted.append((first, self.lines + 1 - first))
        return first, self.lines

    def finish(self) -> None:
        """Write the comment that becomes the last line, if there is a header; it ends as the last one did."""
        if not self._marked:
            return
        self.begun = True
        if self._ends_open:
            self._put(self._newline + HERE_IT_ENDS.encode("ascii"))
        else:
            self.insert([HERE_IT_ENDS])

    def _headed(self, data: bytes, header: str) -> bytes:
        cut = lead_bytes(data)
        self.inserted.append((1 + data.count(b"\n", 0, cut), 1))
        return data[:cut] + header.encode("ascii") + self._newline + data[cut:]

    def _put(self, data: bytes, lines: int | None = None) -> None:
        self._file.write(data)
        self.size += len(data)
        if lines is None:
            # over a whole block numpy counts several times faster than bytes.count
            lines = int(np.count_nonzero(np.frombuffer(data, np.uint8) == 10))
        self.lines += lines
        if data:
            self._ends_open = not data.endswith(b"\n")


def lead_bytes(data: bytes) -> int:
    """How many of the file's first bytes nothing may stand before: a byte order mark and a `%` line.

    What stands before the first `%` is no part of the program (NIST RS274/NGC report, section 3.1).
    """
    cut = len(BYTE_ORDER_MARK) if data.startswith(BYTE_ORDER_MARK) else 0
    percent = _PERCENT_LINE.match(data, cut)
    return percent.end() if percent else cut
