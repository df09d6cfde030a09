"""Weighings from a file: a table as people and their programs for tables write it, or YAML."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

import yaml

from gpost.clay.trials import Weighing
from gpost.common.later import later
from gpost.common.plain import shown
from gpost.config.typed import read_number
from gpost.errors import ConfigError

_SHAPE = "it must hold two numbers a weighing: E and grams"
_UNITS = ("", "g")
_HOLDS = ("E", "grams")
_NUMBER = later(r"\s*[-+.]?[0-9]")
_SEPARATOR = later(r"sep=(.)", flags=2)
"""The line by which programs for tables say what parts their columns, in any case of letters."""
_BY_COMMA = later(r"[-+]?[0-9]+,[0-9]+")
_THOUSANDS = later(r"[-+]?[1-9][0-9]{0,2}([.,][0-9]{3})+")
_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


class _Row(NamedTuple):
    """A line of a table."""

    number: int
    cells: list[str]


def read_weighings(path: Path) -> list[Weighing]:
    """Weighings from a table (E and grams in a line, a heading if you like) or from a YAML list of pairs.

    Where semicolons or tabs part the columns, a number may have a decimal comma. Raises ConfigError that
    names the line for what can't be read, or in two ways.
    """
    text = _text(path)
    try:
        if path.suffix.lower() in (".yaml", ".yml"):
            return list(_of_yaml(text))
        return list(_of_table(text))
    except _NoneAtAll as error:
        raise ConfigError(f"{shown(path)} holds no weighings: {_SHAPE}") from error
    except ValueError as error:
        raise ConfigError(f"{shown(path)}, {error}") from error


class _NoneAtAll(Exception):
    """The file holds nothing that looks like a weighing."""


def _text(path: Path) -> str:
    """The file as text, in UTF-8 or in UTF-16 that says so. Raises ConfigError."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ConfigError(f"{shown(path)} can't be read: {error.strerror or error}") from error
    try:
        text = data.decode("utf-16" if data[:2] in _MARKS else "utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")  # as older programs write a heading; numbers are the same in all
    if "\0" in text:
        raise ConfigError(
            f"{shown(path)} can't be read, as it is no text; from a program for tables save it as CSV"
        )
    return text


def _of_table(text: str) -> Iterator[Weighing]:
    """Raises ValueError with the line, _NoneAtAll."""
    rows = _rows(text)
    if rows and not any(_NUMBER.match(cell) for cell in rows[0].cells):
        del rows[0]
    if not any(_NUMBER.match(cell) for row in rows for cell in row.cells):
        raise _NoneAtAll
    commas = any(_BY_COMMA.fullmatch(cell) for row in rows for cell in row.cells)
    for row in rows:
        where = f"line {row.number}: "
        if len(row.cells) < len(_HOLDS):
            raise ValueError(
                f"{where}there is one column; part E and grams by a semicolon, a comma or a tab, such as "
                "400;1.9"
            )
        if len(row.cells) > len(_HOLDS):
            raise ValueError(
                f"{where}there are {len(row.cells)} columns; keep two, E and grams, and where a comma parts "
                "them write a point for the decimals, such as 400,1.9"
            )
        yield Weighing(*(_cell(where, cell, at, commas=commas) for at, cell in enumerate(row.cells)))


def _rows(text: str) -> list[_Row]:
    """The lines that hold anything, in columns; those at the end that are empty in each are left out."""
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    said = _SEPARATOR.fullmatch(lines[0][1].strip()) if lines else None
    if said:
        del lines[0]
    lines = [(number, line) for number, line in lines if not line.lstrip().startswith("#")]
    parts = said[1] if said else next((sign for sign in ";\t" if any(sign in line for _, line in lines)), ",")
    rows = [_Row(number, [cell.strip() for cell in _cut(number, line, parts)]) for number, line in lines]
    used = max((at for row in rows for at, cell in enumerate(row.cells, 1) if cell), default=0)
    return [_Row(row.number, row.cells[: max(used, len(_HOLDS))]) for row in rows]


def _cut(number: int, line: str, parts: str) -> list[str]:
    """A line's columns. Raises ValueError where its quotation marks don't end."""
    try:
        return next(csv.reader([line], delimiter=parts, strict=True))
    except csv.Error as error:
        raise ValueError(f"line {number}: its quotation marks don't fit; leave them out") from error


def _cell(where: str, cell: str, at: int, *, commas: bool) -> float:
    """A number of a table; `commas`: its other numbers may have decimal commas."""
    if not cell:
        raise ValueError(f"{where}there is nothing for {_HOLDS[at]}")
    if _THOUSANDS.fullmatch(cell) and ("," in cell or commas):
        whole, point = cell.replace(",", "").replace(".", ""), cell.replace(",", ".")
        either = f"{whole} or {point}" if point.count(".") == 1 else whole
        raise ValueError(f"{where}{cell!r} may be meant as thousands; write {either}, whichever is meant")
    return _number(where, cell.replace(",", ".") if _BY_COMMA.fullmatch(cell) else cell, at)


def _number(where: str, text: str, at: int) -> float:
    try:
        return read_number(text, _UNITS[at])
    except ValueError as error:
        raise ValueError(f"{where}{error}") from error


def _of_yaml(text: str) -> Iterator[Weighing]:
    """Raises ValueError with the weighing, _NoneAtAll."""
    try:
        found = yaml.safe_load(text)
    except yaml.YAMLError as error:
        raise _NoneAtAll from error
    if not isinstance(found, list) or not found:
        raise _NoneAtAll
    for count, row in enumerate(found, 1):
        where = f"weighing {count}: "
        pair = [row.get("e"), row.get("grams")] if isinstance(row, Mapping) else row
        if not isinstance(pair, list) or len(pair) != len(_HOLDS):
            raise ValueError(f"{where}{row!r} is no pair, such as [400, 1.9] (with a point, not a comma)")
        yield Weighing(*(_value(where, value, at) for at, value in enumerate(pair)))


def _value(where: str, value: object, at: int) -> float:
    if value is None:
        raise ValueError(f"{where}there is nothing for {_HOLDS[at]}")
    return _number(where, str(value), at)
