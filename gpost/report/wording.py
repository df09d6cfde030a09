"""How the words of reports are set: paragraphs, clocks, amounts, marks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from gpost.common.filenames import unpacked_name
from gpost.common.layout import Paragraph
from gpost.common.plain import shown
from gpost.report.model import Summary
from gpost.words import joined, listed, parts, say

MOST_TOLD = 5
"""Warnings of each of several files that are told together."""
MOST_NAMED = 3
"""Files that are named where a warning is true of several."""


class Warned(NamedTuple):
    """One of several files, and what it is warned of."""

    name: str
    first: Sequence[str]
    """The first of its warnings."""
    total: int
    """How many there are."""
    rest: str
    """Where the others stand, as `in its record`."""


def warned(files: Iterable[Warned]) -> Iterator[str]:
    """What files are warned of, a sentence each; one that is true of several once, with the names of all."""
    rows = list(files)
    names: dict[str, list[str]] = {}
    for row in rows:
        for text in row.first:
            names.setdefault(text, []).append(row.name)
    for row in rows:
        for text in row.first:
            if text in names:
                yield f"{_some(names.pop(text))}: {shown(text)}"
        if row.total > len(row.first):
            yield f"{shown(row.name)}: and {row.total - len(row.first)} more, {row.rest}"


def _some(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    said = ", ".join(map(shown, names[:MOST_NAMED]))
    return f"{said} and {times(more, 'other')}" if more > 0 else said


def clock(seconds: float) -> str:
    """Hours and minutes, `h:mm`, to the nearest minute."""
    minutes = round(seconds / 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def piece_name(summary: Summary) -> str:
    """What a job is called where there is little room: its file's name, without folder and ending."""
    name = summary.output if summary.output != "-" else summary.source
    return shown(unpacked_name(Path(name)).stem) if name != "-" else say("names.the_piece")


def named(name: str, text: str) -> str:
    """What is said of a file, behind its name; a text that begins with the name has it once."""
    return text if text.startswith(f"{name} ") else f"{name}: {text}"


def begun(text: str) -> str:
    """A text as it begins a line: with a capital, the rest as it is."""
    first, *others = parts(text)
    return joined([first._replace(text=f"{first.text[:1].upper()}{first.text[1:]}"), *others])


def at_least(amount: float) -> int:
    """An amount that must not be less, rounded up."""
    return math.ceil(amount - 1e-6)


def mass(grams: float) -> str:
    """Grams, or kilograms from one on, rounded up."""
    return (
        f"{at_least(grams)} g" if at_least(grams) < 1000 else f"{math.ceil(grams / 10 - 1e-6) / 100:.2f} kg"
    )


def times(number: int, word: str) -> str:
    """`1 bar`, `3 bars`."""
    return f"{number} {word}{'s' * (number != 1)}"


def to_digits(value: float, count: int) -> str:
    """A number to so many digits, without a power of ten where it is large."""
    return f"{float(f'{value:.{count}g}'):.15g}"


def wrapped(text: str, *, first: str = "", indent: str = "") -> list[Paragraph]:
    """A text as a paragraph: what stands before its first line, and before the others."""
    return [Paragraph(text, first, indent)]


def numbered(number: int, text: str, *, margin: str = "", sign: str = ".") -> list[Paragraph]:
    """An entry of a numbered list, which goes on below its text."""
    mark = f"{margin}{number}{sign} "
    return wrapped(text, first=mark, indent=" " * len(mark))


def dashed(texts: Iterable[str]) -> Iterator[Paragraph]:
    """Entries of a list, each behind a dash; nothing in them can steer a terminal."""
    for text in texts:
        yield from wrapped(shown(text), first="  - ", indent="    ")


def indented(text: str) -> list[Paragraph]:
    """The same, with all lines but the first a little in."""
    return wrapped(text, indent="  ")


class Stars:
    """Marks figures that rest on gpost's own defaults."""

    def __init__(self, defaults: Mapping[str, Sequence[str]]) -> None:
        """`defaults`: the figures, and which keys would take the mark away; a summary's `sure.defaults`."""
        self._defaults = defaults

    def __call__(self, figure: str) -> str:
        return "*" if figure in self._defaults else ""

    def explained(self) -> Iterator[str]:
        """What the mark means, and which keys would take it away."""
        keys = dict.fromkeys(shown(key) for some in self._defaults.values() for key in some)
        if keys:
            yield say("names.own_numbers", keys=listed(keys))
