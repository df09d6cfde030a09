"""An output taken apart into lines of its source and inserted blocks, both as the interpreter runs them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import xor

from tests.reference.interpreter import run
from tests.reference.state import Dialect, Event, State

HEADER = b"; gpost wrote this file"
ENDS = HEADER + b": here it ends\n"
"""The last line of an output in which anything is changed."""
SILENCED = b"; gpost silenced: "
NOT_KEPT = frozenset(
    {"saved_offset", "hold_for_ever", "motors_on", "motion", "feed_mm_min", "paused", "ended"}
)
"""What an inserted block may change. `saved_offset` serves G92.3 alone, `motors_on` any move sets; the
motion mode and the feed are looked at where a move uses them."""
_NUMBER = re.compile(rb"^(\s*/?\s*)[Nn]\s*\d+\s*")
_SUM = re.compile(rb"\s*\*\s*\d+((?:\s*\([^()]*\))*\s*(?:;.*)?\s*)$", re.DOTALL)


@dataclass(frozen=True)
class Row:
    """One line of an output that is a line of the source."""

    raw: bytes
    event: Event
    before: State
    """The state before it."""


@dataclass(frozen=True)
class Block:
    """One inserted block."""

    lines: tuple[bytes, ...]
    events: tuple[Event, ...]
    before: State
    """The state before its first line."""
    next_row: int
    """Index of the source line before which it stands."""

    @property
    def after(self) -> State:
        """The state after its last line."""
        return self.events[-1].state


@dataclass(frozen=True)
class Output:
    """All of it, in order."""

    rows: tuple[Row, ...]
    blocks: tuple[Block, ...]
    errors: tuple[str, ...]


def split_lines(data: bytes) -> list[bytes]:
    """Lines without their LF; nothing after the last LF is no line."""
    lines = data.split(b"\n")
    return lines[:-1] if lines[-1] == b"" else lines


def take_apart(output: bytes, places: Iterable[tuple[int, int]], dialect: Dialect | None = None) -> Output:
    """`places`: first and last line, counted from 1, of each inserted block. The header line is left out."""
    lines, events = split_lines(output), run(output, dialect)
    assert len(lines) == len(events)
    states = [State(), *(event.state for event in events)]
    starts = {first - 1: last for first, last in places}
    rows: list[Row] = []
    blocks: list[Block] = []
    at = 0
    while at < len(lines):
        if at in starts:
            end = starts[at]
            blocks.append(Block(tuple(lines[at:end]), tuple(events[at:end]), states[at], len(rows)))
            at = end
            continue
        if HEADER not in lines[at]:
            rows.append(Row(lines[at], events[at], states[at]))
        at += 1
    errors = tuple(f"{e.error}: {lines[e.line]!r}" for e in events if e.error)
    return Output(tuple(rows), tuple(blocks), errors)


def same_feed(a: float | None, b: float | None) -> bool:
    """Whether two feeds are the same but for the rounding of a decimal."""
    return a == b or (a is not None and b is not None and abs(a - b) <= 1e-6 * max(a, b))


def differences(mine: State, theirs: State, ignore: Iterable[str] = ()) -> list[str]:
    """What differs between two states that an inserted block must keep."""
    return mine.differences(theirs, tolerance_mm=1e-9, ignore=NOT_KEPT | frozenset(ignore))


def move_differences(mine: Event, theirs: Event, *, feed: bool = True) -> list[str]:
    """What differs between two runs of one source line."""
    found = []
    for name, a, b in (("start", mine.start_mm, theirs.start_mm), ("end", mine.end_mm, theirs.end_mm)):
        if max(abs(p - q) for p, q in zip(a, b, strict=True)) > 1e-9:
            found.append(f"{name}: {a} / {b}")
    if mine.kind != theirs.kind or mine.motion != theirs.motion:
        found.append(f"kind: {mine.kind} {mine.motion} / {theirs.kind} {theirs.motion}")
    if abs(mine.e_metered_mm - theirs.e_metered_mm) > 1e-8:
        found.append(f"e: {mine.e_metered_mm} / {theirs.e_metered_mm}")
    if abs(mine.path_mm - theirs.path_mm) > 1e-6:
        found.append(f"path: {mine.path_mm} / {theirs.path_mm}")
    if feed and not same_feed(mine.feed_mm_min, theirs.feed_mm_min):
        found.append(f"feed: {mine.feed_mm_min} / {theirs.feed_mm_min}")
    return found


def without_number(line: bytes) -> bytes:
    """A line without its line number and checksum."""
    numbered = _NUMBER.match(line)
    if numbered is None:
        return line
    return numbered[1] + _SUM.sub(rb"\1", line[numbered.end() :])


def begun(program: bytes, words: bytes) -> bytes:
    """The program with one more line at its start, written as its other lines are."""
    cut = 3 if program.startswith(b"\xef\xbb\xbf") else 0
    if program[cut : cut + 1] == b"%":
        cut = program.index(b"\n") + 1
    body = program[cut:]
    numbered = [line for line in split_lines(body) if line.lstrip(b"/ ")[:1] in (b"N", b"n")]
    if numbered:
        words = b"N0 " + words
        if any(b"*" in line for line in numbered):
            words += b"*%d" % reduce(xor, words, 0)
    newline = b"\r\n" if b"\r\n" in program else b"\n"
    return program[:cut] + words + newline + body


def total_e(events: Sequence[Event]) -> float:
    """E metered by some lines together, mm."""
    return sum(event.e_metered_mm for event in events)
