"""How text is laid out: paragraphs and tables as values, fitted to a terminal, or as files have them."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import TypeAlias
from unicodedata import category, east_asian_width

from gpost.common.columns import READABLE, USUAL
from gpost.common.records import record
from gpost.common.unbroken import NO_BREAK, unbroken

_BLANK = re.compile(r"[ \t\n\v\f\r]")
_WORDS = re.compile(r"( *)([^ ]+)")
_TYPED = re.compile(
    rf"[^ `]*`[^`]+`[^ `]*|\(gpost [^()`]+\)|(?<![^ {NO_BREAK}])-?\d+(?:\.\d+)?(?: -?\d+(?:\.\d+)?)+(?![\w.])"
)
"""Code in its quotes, a command in parentheses, numbers in a row."""
_HELD_WORD = re.compile(rf"[^ ]*[`{NO_BREAK}][^ ]*")
_HYPHEN = "\ue000"
"""Stands for a hyphen at which no line ends; a private letter, which no text has that is shown."""
_RUNS = re.compile(r" +|[^ ]+")
_GAPS = (2, 1)
"""Blanks between the columns of a table, the first that fit."""
_NAME = 16
"""A table needs so much room for its rows' names, the text with the longest words, or its rows are blocks."""


@record(frozen=True, slots=True)
class Paragraph:
    """A text that is broken into lines at its blanks."""

    text: str
    first: str = ""
    """What stands before its first line."""
    indent: str = ""
    """What stands before the others."""
    hyphens: bool = False
    """Whether files have its words parted at their hyphens."""


@record(frozen=True, slots=True)
class Line:
    """A text that is one line in files, and on a terminal if it fits."""

    text: str
    indent: str | None = None
    """What stands before the others where it doesn't; None: it stays whole, since it is to be copied."""


@record(frozen=True, slots=True)
class Column:
    """What a table's column is called, and how wide files have it, whatever stands in it."""

    name: str
    letters: int = 0
    """Its width in files."""
    number: bool = True
    """Whether it stands to the right."""
    ends: int = 0
    """In files a longer text loses its middle, and keeps so many letters of its end; 0: it stays whole."""
    gap: int = 1
    """Blanks before it in files."""
    long: str = ""
    """What it is called beside a single value; "": as in the head."""


@record(frozen=True, slots=True)
class Table:
    """Rows under a head, which is left out if no column has a name; a row may end early."""

    columns: Sequence[Column]
    rows: Sequence[Sequence[str] | Paragraph]
    """A row that is a paragraph stands between the others, over the table's whole width."""
    margin: str = ""


Part: TypeAlias = str | Line | Paragraph | Table
"""One of those; a text alone is a line that is broken with a hanging indent."""


def laid_out(parts: Iterable[Part], width: int | None = None) -> str:
    """The parts as lines, each ended: at most `width` columns wide, but for longer words, which stay whole.

    None: for a file or a pipe. Paragraphs and tables have USUAL columns there, and a line stays a line.
    """
    found = (_filed(part) if width is None else _fitted(part, width) for part in parts)
    return "".join(f"{line}\n" for lines in found for line in lines)


def apart(sections: Iterable[Iterable[Part]]) -> Iterator[Part]:
    """The parts of all sections that have any, with an empty line between two sections."""
    begun = False
    for section in sections:
        parts = list(section)
        if parts and begun:
            yield ""
        yield from parts
        begun = begun or bool(parts)


def of_message(text: str) -> list[Part]:
    """The lines of a message; those that stand further in show a place in a file, and stay whole."""
    return [Line(line) if line.startswith(" ") else line for line in text.split("\n")]


def breadth(text: str) -> int:
    """Columns of a text on a terminal: two for a wide letter, none for a mark upon another (UAX #11)."""
    if text.isascii():
        return len(text)
    return sum(
        0 if category(c) in ("Mn", "Me", "Cf") else 2 if east_asian_width(c) in ("W", "F") else 1
        for c in text
    )


def shortened(text: str, letters: int, ends: int) -> str:
    """A text of so many letters at most: of a longer one its beginning, and `ends` letters of its end."""
    return text if len(text) <= letters else f"{text[: letters - 3 - ends]}...{text[len(text) - ends :]}"


def _filed(part: Part) -> Iterable[str]:
    match part:
        case Paragraph():
            held = _held(part.text, USUAL - max(len(part.first), len(part.indent)))
            lines = textwrap.wrap(
                _HELD_WORD.sub(lambda found: found[0].replace("-", _HYPHEN), held),
                USUAL,
                initial_indent=part.first,
                subsequent_indent=part.indent,
                break_on_hyphens=part.hyphens,
            )
            return [line.replace(NO_BREAK, " ").replace(_HYPHEN, "-") for line in lines]
        case Table():
            return _filed_table(part)
        case Line():
            return (part.text,)
    return (part,)


def _filed_table(table: Table) -> Iterator[str]:
    """A table whose columns are as wide as they are said to be."""
    head = [column.name for column in table.columns]
    for row in [head, *table.rows] if any(head) else table.rows:
        if isinstance(row, Paragraph):
            yield from _filed(row)
            continue
        line = table.margin
        for at, (column, cell) in enumerate(zip(table.columns, row, strict=False)):
            said = shortened(cell, column.letters, column.ends) if column.ends else cell
            line += " " * column.gap if at else ""
            line += said.rjust(column.letters) if column.number else said.ljust(column.letters)
        yield line.rstrip()


def _fitted(part: Part, width: int) -> Iterable[str]:
    match part:
        case Paragraph():
            return _broken(part.text, min(width, READABLE), part.first, part.indent)
        case Table():
            return _fitted_table(part, width)
        case Line(text, indent):
            margin, text = _parted(text)
            return (part.text,) if indent is None else _broken(text, width, margin, indent)
    margin, text = _parted(part)
    return _broken(text, width, margin, f"{margin}  ") or ("",)


def _parted(text: str) -> tuple[str, str]:
    """A line's margin, and the rest of it."""
    rest = text.lstrip(" ")
    return text[: len(text) - len(rest)], rest


def _broken(text: str, width: int, first: str = "", indent: str = "") -> list[str]:
    """A text in lines, broken at blanks alone; those inside a line are kept."""
    first, indent = (_narrowed(margin, width) for margin in (first, indent))
    lines, begun = [first], False
    for blanks, word in _WORDS.findall(_held(_BLANK.sub(" ", text), width - len(indent))):
        if begun and breadth(lines[-1] + blanks + word) > width:
            lines.append(indent + word)
        else:
            lines[-1] += (blanks if begun or len(lines) == 1 else "") + word
        begun = True
    return [line.replace(NO_BREAK, " ").rstrip() for line in lines] if begun else []


def _held(text: str, room: int) -> str:
    """The text with blanks that are none to break at, but for what is longer than a line."""
    held = unbroken(text)
    return _where_it_fits(_typed(held), _where_it_fits(held, text, room), room)


def _typed(held: str) -> str:
    """What is held together already, and what is to be typed as it stands."""
    return _TYPED.sub(lambda found: found[0].replace(" ", NO_BREAK), held)


def _where_it_fits(held: str, text: str, room: int) -> str:
    """What is held together and narrow enough, and the text where it isn't."""
    if 2 * max(map(len, held.split(" "))) <= room:  # no letter takes more than two columns
        return held
    return "".join(
        held[at:end] if breadth(held[at:end]) <= room else text[at:end]
        for at, end in (found.span() for found in _RUNS.finditer(held))
    )


def _narrowed(margin: str, width: int) -> str:
    """A margin of blanks that leaves room on a narrow terminal, where what stands further in still does."""
    if width >= USUAL or margin.strip():
        return margin
    near = width * 3 // 10
    return margin[: near + max(len(margin) - near, 0) // 3]


def _fitted_table(table: Table, width: int) -> Iterator[str]:
    """By what stands in its columns: texts share the room; where there is too little, each row is a block."""
    rows = [
        row if isinstance(row, Paragraph) else [_BLANK.sub(" ", cell).strip() for cell in row]
        for row in table.rows
    ]
    head = [column.name for column in table.columns]
    cells = [head, *(row for row in rows if not isinstance(row, Paragraph))]
    margin = _narrowed(table.margin, width)
    gap, widths = _shared(table.columns, cells, width - len(margin))
    if not widths:
        yield from _blocks(table.columns, rows, width, margin)
        return
    for row in [head, *rows] if any(head) else rows:
        if isinstance(row, Paragraph):
            yield from _fitted(row, width)
        else:
            said = _row(table.columns, row, widths, " " * gap)
            yield from ((margin + line).rstrip() for line in said)


def _shared(columns: Sequence[Column], cells: Sequence[Sequence[str]], width: int) -> tuple[int, list[int]]:
    """Blanks between the columns, and each one's width; none if the words don't fit beside one another.

    `cells`: the head, and the rows below it.
    """
    rooms = [(gap, width - gap * (len(columns) - 1)) for gap in _GAPS]
    whole = [0] * len(columns)
    for share in (width // len(columns), 0):  # what is typed stays whole where it leaves room for others
        least = [0] * len(columns)
        for row in cells:
            for at, cell in enumerate(row):
                said = cell if columns[at].number and row is not cells[0] else _longest(cell, share)
                whole[at] = max(whole[at], breadth(cell))
                least[at] = max(least[at], breadth(said))
        for gap, room in rooms:
            if sum(least) <= room:
                return gap, _widened(least, whole, room)
    texts = [at for at, column in enumerate(columns) if not column.number]
    name = max(texts, key=least.__getitem__, default=0)
    for gap, room in rooms:
        left = room - sum(least) + least[name]
        if texts and left >= _NAME:  # longer names stand on lines of their own
            names = [row[name] for row in cells if len(row) > name and breadth(_longest(row[name])) <= left]
            least[name] = max((breadth(_longest(each)) for each in names), default=0)
            whole[name] = max(map(breadth, names), default=0)
            return gap, _widened(least, whole, room)
    return 0, []


def _longest(cell: str, room: int = 0) -> str:
    """Its longest word; what is to be typed is one, if there is so much room."""
    held = unbroken(cell)
    return max(_where_it_fits(_typed(held), held, room).split(" "), key=breadth)


def _widened(widths: list[int], whole: Sequence[int], room: int) -> list[int]:
    """The widths with what is left given to the columns that are broken most often."""
    for _ in range(room - sum(widths)):
        wanting = [at for at, width in enumerate(widths) if width < whole[at]]
        if not wanting:
            break
        widths[max(wanting, key=lambda at: whole[at] / max(widths[at], 1))] += 1
    return widths


def _row(columns: Sequence[Column], row: Sequence[str], widths: Sequence[int], gap: str) -> Iterator[str]:
    """A row's lines; a name with a word that is wider than its column goes before the rest of its row."""
    broken = [_broken(cell, width) for cell, width in zip(row, widths, strict=False)]
    for at, cell in enumerate(row):
        if any(breadth(line) > widths[at] for line in broken[at]):
            yield from _broken(cell, sum(widths) + len(gap) * (len(widths) - 1))
            broken[at] = []
    for at in range(max(map(len, broken), default=0)):
        yield gap.join(
            _padded(lines[at] if at < len(lines) else "", width, column)
            for lines, width, column in zip(broken, widths, columns, strict=False)
        )


def _padded(text: str, width: int, column: Column) -> str:
    blanks = " " * (width - breadth(text))
    return blanks + text if column.number else text + blanks


def _blocks(
    columns: Sequence[Column], rows: Sequence[Sequence[str] | Paragraph], width: int, margin: str
) -> Iterator[str]:
    """Rows as `name: value`, all broken in the same places; an empty line before those of several lines."""
    names = [f"{name}: " if (name := column.long or column.name) else "" for column in columns]
    said = [
        row
        if isinstance(row, Paragraph)
        else [name + cell if cell else "" for name, cell in zip(names, row, strict=False)]
        for row in rows
    ]
    ends = _ends([row for row in said if not isinstance(row, Paragraph)], width - len(margin))
    blocks = [
        list(_fitted(row, width) if isinstance(row, Paragraph) else _block(row, ends, width, margin))
        for row in said
    ]
    spaced = any(
        len(block) > 1 for row, block in zip(said, blocks, strict=True) if not isinstance(row, Paragraph)
    )
    for at, (row, block) in enumerate(zip(said, blocks, strict=True)):
        if spaced and at and not isinstance(row, Paragraph):
            yield ""
        yield from block


def _ends(rows: Sequence[Sequence[str]], width: int) -> list[int]:
    """Before which cells of a row a line ends, so that as many as in every row fit stand on one."""
    widest = [0] * max(map(len, rows), default=0)
    for row in rows:
        widest[: len(row)] = map(max, widest, map(breadth, row))
    ends, used = [], 0
    for at, cell in enumerate(widest):
        if at and used + 2 + cell > width:
            ends.append(at)
            used = 2 + cell
        else:
            used += 2 * (at > 0) + cell
    return [*ends, len(widest)]


def _block(cells: Sequence[str], ends: Sequence[int], width: int, margin: str) -> Iterator[str]:
    """A row's lines, those after the first one indented."""
    for begin, end in zip([0, *ends], ends, strict=False):
        first = f"{margin}  " if begin else margin
        yield from _broken("  ".join(filter(None, cells[begin:end])), width, first, f"{margin}    ")
