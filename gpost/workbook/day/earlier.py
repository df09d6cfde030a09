"""What a day has written, and what is left to know of it when it goes on from one of its pieces."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

from gpost.common.plain import shown, storable
from gpost.errors import OutputError
from gpost.workbook.day.rest import Left
from gpost.workbook.day.sheet import DaySheet

JSON = "day.json"
NUMBERED = re.compile(r"(\d{2,})-(.+)", re.DOTALL)
"""The name of a file of a day: its number, and the piece."""
NO_NUMBERS: Mapping[str, tuple[int, ...]] = MappingProxyType({})
NOTHING_LEFT: Mapping[int, float] = MappingProxyType({})
LEFT_OFF = 0.05
"""Share of a cartridge by which what is left in it may be more than planned: common practice, no source."""


class Written(NamedTuple):
    """A day that is written, or what an earlier one has left in its folder: there names are as stored."""

    names: tuple[str, ...]
    """The pieces in the order of printing."""
    files: dict[str, str]
    """The file of each piece, by the piece's name."""
    cartridges: Mapping[str, tuple[int, ...]] = NO_NUMBERS
    """The numbers of its cartridges; of a sheet that doesn't say it none."""

    def before(self, piece: str) -> Written:
        """Those that are printed before a piece."""
        return self._of(self.names[: self.names.index(piece)])

    @property
    def stored(self) -> Written:
        """The same by names as the sheet stores them: without what is no text."""
        files = {storable(name): storable(file) for name, file in self.files.items()}
        numbers = {storable(name): own for name, own in self.cartridges.items()}
        return Written(tuple(files), files, numbers)

    def without(self, other: Written) -> Written:
        """Those that are not among others."""
        return self._of(tuple(name for name in self.names if name not in other.files))

    def _of(self, names: tuple[str, ...]) -> Written:
        numbers = {name: self.cartridges.get(name, ()) for name in names}
        return Written(names, {name: self.files[name] for name in names}, numbers)

    @property
    def last_number(self) -> int:
        """The highest number of a cartridge; 0 without any."""
        return max((number for own in self.cartridges.values() for number in own), default=0)


NOTHING_WRITTEN = Written((), {})


class Earlier(NamedTuple):
    """A day that is to go on from one of its pieces."""

    written: Written
    colours: Mapping[int, str]
    """The clay of its cartridges, by their numbers."""
    due_s: Mapping[str, float]
    """When each piece was to begin, in seconds after midnight."""
    left_ml: Mapping[int, float] = NOTHING_LEFT
    """What each cartridge is to hold when its pieces are done; of a sheet that doesn't say it none."""

    def first_number(self, piece: str, on: Left | None, volume_ml: float) -> int:
        """What the first cartridge is called if the day goes on from a piece.

        `on`: the one that is on, one of the piece's own, or the last that came before it. Where it may be
        either by its clay, it is the last if there is no more in it than that is left with. None: another is
        put on.
        """
        last = self.written.before(piece).last_number
        of_piece = self.written.cartridges.get(piece, ())
        most_ml = self.left_ml.get(last, 0.0) + LEFT_OFF * volume_ml
        first = (last,) if on is not None and on.held_ml <= most_ml else ()
        may_be = [
            number
            for number in (*first, *of_piece, last)
            if on is not None and self.colours.get(number) == on.colour
        ]
        return may_be[0] if may_be else last + 1


def earlier(sheet: DaySheet) -> Earlier:
    """A day that is packed, as if it had been written."""
    return Earlier(
        named(sheet, NOTHING_WRITTEN).stored,
        {row.number: row.colour for row in sheet.cartridges},
        {storable(row.name): row.start_s for row in sheet.pieces},
        {row.number: row.load_ml - row.clay_ml for row in sheet.cartridges},
    )


def read_earlier(out: Path) -> Earlier | None:
    """What an earlier day has written into a folder; None: nothing.

    Raises OutputError for a sheet that can't be understood.
    """
    path = out / JSON
    if not path.is_file():
        return None
    try:
        sheet = json.loads(path.read_bytes())
        rows = [*sheet["printed"], *sheet["pieces"]]
        files = {str(row["name"]): str(row["file"]) for row in rows}
        numbers = {str(row["name"]): tuple(map(int, row.get("cartridges", ()))) for row in rows}
        colours = {int(row["number"]): str(row["colour"]) for row in sheet.get("cartridges", ())}
        left_ml = {
            int(row["number"]): float(row["load_ml"]) - float(row["clay_ml"])
            for row in sheet.get("cartridges", ())
            if "load_ml" in row and "clay_ml" in row
        }
        due_s = {str(row["name"]): float(row["start_s"]) for row in sheet["pieces"] if "start_s" in row}
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise OutputError(f"{shown(path)} is no sheet of a day that gpost wrote; move it away") from error
    for name, file in files.items():
        found = NUMBERED.fullmatch(file)
        if found is None or found[2] != name or Path(file).name != file:
            raise OutputError(f"{shown(path)} names a file that is none of a day's; move it away")
    return Earlier(Written(tuple(files), files, numbers), colours, due_s, left_ml)


def named(sheet: DaySheet, stays: Written) -> Written:
    """Numbers in the order of printing, so that the files sort in it."""
    first = len(stays.names) + 1
    names = tuple(row.name for row in sheet.pieces)
    digits = max(2, len(str(first + len(names))))
    files = {name: f"{k:0{digits}d}-{name}" for k, name in enumerate(names, first)}
    return Written(names, files, {row.name: row.cartridges for row in sheet.pieces})
