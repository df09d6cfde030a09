"""SVG from values: text that is escaped and fits, ticks, labels that keep apart, a whole picture.

No element has a style of its own: a page may forbid those. What is drawn in `currentColor` is dark on light
ground, and light on dark where the reader asks for that.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from gpost.common.unbroken import NO_BREAK, unbroken
from gpost.words import (
    ENGLISH,
    ISOLATE,
    ISOLATED,
    MARK,
    Told,
    harmless,
    in_two_languages,
    joined,
    language,
    parts,
    right_to_left,
)
from gpost.words import Part as Stretch

WIDTH = 358.0
"""Width of every picture in its own units: px of a phone of 390 held upright, less the page's margins, so
that text has its size there."""
SIZE, HEAD = 14.0, 16.0
"""Size of plain text and of headings, px."""
LINE = 18.0
"""From line to line of plain text, px."""
STROKE = 1.25
"""The thinnest line, px: none vanishes on paper."""
FONT = "system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"
INK, GROUND, DARK_INK, DARK_GROUND = "#26221d", "#ffffff", "#f2eee6", "#1b1916"
NARROW, BROAD = set("iljtfrI.,:;'|!()[] -"), set("mwMW%@&")


class Part(NamedTuple):
    """Something drawn, `WIDTH` wide, with its upper left corner at 0, 0."""

    body: str
    height: float
    alt: str
    """What it shows, in words."""


class Drawing(NamedTuple):
    """A whole picture."""

    svg: str
    alt: str
    """What it shows, in words, for whoever can't see it."""


def drawing(parts: Sequence[Part], *, title: str, defs: str = "") -> Drawing:
    """The parts below one another as one SVG document."""
    body, y = [], 0.0
    for part in parts:
        body.append(f"<g transform='translate(0 {px(y)})'>{part.body}</g>")
        y += part.height
    alt = " ".join(part.alt for part in parts if part.alt)
    return Drawing(framed("\n".join(body), WIDTH, y, title=title, alt=alt, defs=defs), alt)


def framed(body: str, width: float, height: float, *, title: str, alt: str, defs: str = "") -> str:
    """One SVG document of a body, on its own ground, light or dark as the reader wants it."""
    size = f"width='{px(width)}' height='{px(height)}' viewBox='0 0 {px(width)} {px(height)}'"
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' xml:lang={quoteattr(language())} {size} "
        f"role='img' color='{INK}' font-family={quoteattr(FONT)} font-size='{px(SIZE)}'>"
        f"<title>{words(title)}</title><desc>{words(alt)}</desc>"
        f"<style>@media (prefers-color-scheme: dark) {{ svg {{ color: {DARK_INK} }} "
        f".ground {{ fill: {DARK_GROUND} }} }}</style>"
        f"<defs>{defs}</defs><rect class='ground' width='100%' height='100%' fill='{GROUND}'/>\n"
        f"<g fill='currentColor'>{body}</g></svg>\n"
    )


def stroke(d: str, width: float = STROKE, dash: str = "") -> str:
    """A line along a path."""
    dashed = f" stroke-dasharray='{dash}'" if dash else ""
    return f"<path d='{d}' fill='none' stroke='currentColor' stroke-width='{width:g}'{dashed}/>"


def px(value: float) -> str:
    """A length to a tenth of a pixel, without noughts at the end."""
    return f"{value:z.1f}".removesuffix(".0")


def words(said: object) -> str:
    """Text from outside as it may stand between tags, or in an attribute between single quotes."""
    return escape(harmless(said), {"'": "&#39;", '"': "&quot;"})


def text(
    x: float, y: float, said: str, *, size: float = SIZE, anchor: str = "start", bold: bool = False
) -> str:
    """One line of text; `y` is its base line, `anchor` what of it stands at `x`: start, middle, end."""
    more = "" if size == SIZE else f" font-size='{px(size)}'"
    if right_to_left():  # places are from the left in any language, anchors are not
        anchor = {"start": "end", "end": "start"}.get(anchor, anchor)
        more += " direction='rtl'"
    more += "" if anchor == "start" else f" text-anchor='{anchor}'"
    more += " font-weight='bold'" if bold else ""
    return f"<text x='{px(x)}' y='{px(y)}'{more}>{_marked(said)}</text>"


def _marked(said: str) -> str:
    """A line as it stands between tags: what of it is a record has its own language, if that is another."""
    if not in_two_languages(said):
        return words(said)
    mark = f"<tspan lang='{ENGLISH}' xml:lang='{ENGLISH}'>{{}}</tspan>"
    return "".join(
        mark.format(words(part.text)) if part.recorded else words(part.text) for part in parts(said)
    )


def block(x: float, y: float, lines: Iterable[str], *, bold: int = 0, size: float = SIZE) -> Iterator[str]:
    """Lines of text below one another, the first `bold` of them bold; `y` is the upper edge."""
    for place, line in enumerate(lines):
        yield text(x, y + LINE * place + size, line, bold=place < bold, size=size)


def wide(said: str, size: float = SIZE) -> float:
    """How wide a text gets at the most, px: in the usual sans-serif faces it is a little less."""
    return size * sum(map(_em, harmless(said)))


def _em(letter: str) -> float:
    if unicodedata.combining(letter) or letter in (MARK, ISOLATE, ISOLATED):
        return 0.0
    if unicodedata.east_asian_width(letter) in "WF":
        return 1.05
    if letter in NARROW:
        return 0.4
    return 1.0 if letter in BROAD else 0.76 if letter.isupper() else 0.64


def wrap(said: str, room: float, size: float = SIZE) -> list[str]:
    """The text in lines that fit; no letter of it is lost, and a word that is too long is cut."""
    lines = [""]
    for together in re.split(" +", unbroken(harmless(said))):
        word = together.replace(NO_BREAK, " ")
        longer = f"{lines[-1]} {word}".lstrip()
        if wide(longer, size) <= room:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and wide(lines[-1] + letter, size) > room:
                lines.append("")
            lines[-1] += letter
    return [*_as_in(said, lines)] if isinstance(said, Told) else lines


def _as_in(said: Told, lines: Iterable[str]) -> Iterator[str]:
    """The lines of a text with what is recorded in them; nothing but blanks is lost from one to the other."""
    letters = [Stretch(letter, part.recorded) for part in parts(said) for letter in harmless(part.text)]
    text, at = harmless(said), 0
    for line in lines:
        found = []
        for letter in line:
            at = text.index(letter, at)
            found.append(letters[at])
            at += 1
        yield joined(found)


def ticks(top: float, most: int = 6) -> list[float]:
    """Round values from 0 to `top`, at most so many beside 0 (three or more)."""
    if not top > 0:
        return [0.0]
    step = 10.0 ** math.floor(math.log10(top / most))
    step = next(step * times for times in (1, 2, 5, 10) if step * times * most >= top * (1 - 1e-9))
    return [step * count for count in range(int(top / step + 1e-9) + 1)]


def apart(wanted: Sequence[float], tall: Sequence[float], low: float, high: float) -> list[float]:
    """Upper edges of labels in the order given, as near to their wanted middles as they go without overlap.

    `wanted` rises; all lie between `low` and `high`, if there is room for all of them.
    """
    found: list[float] = []
    for middle, height in zip(wanted, tall, strict=True):
        found.append(max(middle - height / 2, low if not found else found[-1] + tall[len(found) - 1]))
    end = high
    for place in range(len(found) - 1, -1, -1):
        found[place] = min(found[place], end - tall[place])
        end = found[place]
    return found
