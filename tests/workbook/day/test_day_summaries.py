"""A piece's own summary says what the day's sheet says: its numbers, its loads, and nothing of one piece alone."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from gpost.demo.gcode import Piece, SliceStyle
from gpost.workbook.day.doing import Task, do_day
from gpost.workbook.day.pieces import read_pieces
from gpost.workbook.day.wishes import Wishes
from gpost.write.inputs import NOTHING_READ
from tests.sliced import write_piece

STUDIO = """
clay: {colour: white}
cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 6, empty_g: 400SPREAD}
machine: {display_letters: 20, pause: {relieve_ml: 0}}
steps: [purge: {volume_ml: 2}, refill: {prime_ml: 2}, tally]
"""
SPREAD = ", reserve_spread_ml: 1"
PIECES = {
    "cup-1": (16, ""),
    "cup-2": (16, ""),
    "tall": (110, ""),
    "tower-blue": (190, "clay: {colour: blue}\n"),
    "banded": (40, "colours: {line_holds: white, bands: [{to_mm: 20, clay: white}, {clay: blue}]}\n"),
}
"""By height and own config: cups take 15 ml, the tall one 82 and the tower 140, of 55 in a cartridge."""


class Day(NamedTuple):
    """A day that is written."""

    out: Path
    sheet: dict[str, Any]
    summaries: dict[str, dict[str, Any]]

    def text(self, name: str) -> str:
        """A piece's summary in words, on one line."""
        row = next(row for row in self.sheet["pieces"] if row["name"] == name)
        return " ".join((self.out / row["file"]).with_suffix(".txt").read_text().split())


@pytest.fixture(scope="module", params=[SPREAD, ""], ids=["a spread", "none"])
def day(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Day:
    """The day of all pieces, with and without a spread of the reserve."""
    home = tmp_path_factory.mktemp("day")
    (home / "sliced").mkdir()
    for name, (height_mm, own) in PIECES.items():
        piece = Piece(height_mm=height_mm, radius_mm=20, segments=24, base_layers=1)
        write_piece(home / "sliced" / f"{name}.gcode", piece, SliceStyle())
        if own:
            (home / "sliced" / f"{name}.yaml").write_text(own)
    (home / "studio.yaml").write_text(STUDIO.replace("SPREAD", request.param))
    config, pieces, left_out = read_pieces(home / "sliced", [home / "studio.yaml"])
    task = Task(home / "sliced", home / "out", None, None, None, False, NOTHING_READ)
    sheet = json.loads(do_day(pieces, left_out, config, Wishes(0.0, 600.0, 300.0), task).json)
    assert not sheet["left_out"]
    return Day(
        home / "out",
        sheet,
        {
            row["name"]: json.loads((home / "out" / row["file"]).with_suffix(".json").read_text())
            for row in sheet["pieces"]
        },
    )


def of(day: Day, number: int) -> dict[str, Any]:
    """The sheet's cartridge of that number."""
    return next(row for row in day.sheet["cartridges"] if row["number"] == number)


def test_numbers_and_loads_are_the_sheet_s(day: Day) -> None:
    """In the table of cartridges, in pauses, in every sentence; slugs are those that the sheet lists."""
    for row in day.sheet["pieces"]:
        own = day.summaries[row["name"]]
        assert [cartridge["number"] for cartridge in own["cartridges"]] == row["cartridges"]
        for cartridge in own["cartridges"]:
            told = of(day, cartridge["number"])
            assert cartridge["load_ml"] == pytest.approx(told["load_ml"], abs=0.002)
            assert cartridge["load_g"] == pytest.approx(told["wet_g"], abs=0.2)
            assert cartridge["sure_load_ml"] in (None, cartridge["load_ml"])
            assert cartridge["pieces"] == told["pieces"]
            assert [slug["clay_ml"] for slug in cartridge["slugs"]] == pytest.approx(
                [slug["clay_ml"] for slug in told["slugs"]], abs=0.002
            )
        put_on = [pause["cartridge"] for pause in own["pauses"] if pause["new_cartridge"]]
        assert put_on == row["cartridges"][1:]
        said = [*own["notes"], *own["warnings"], *(pause["reason"] for pause in own["pauses"])]
        numbers = {int(found) for text in said for found in re.findall(r"cartridge (\d+)", text)}
        assert numbers
        assert numbers <= set(row["cartridges"])


def test_the_words_tell_to_load_it_once(day: Day) -> None:
    """Where it is put on, as much as the sheet says; pieces that follow on it are told what is in it."""
    seen: set[int] = set()
    for row in day.sheet["pieces"]:
        text = day.text(row["name"])
        for number in row["cartridges"]:
            told = of(day, number)
            start = f"cartridge {number}, {told['colour']}: "
            load = f"{start}load at least {math.ceil(round(told['load_ml'], 3))} ml"
            assert (load in text) == (number not in seen)
            assert (f"{start}it is on, with {row['first_ml']:.0f} ml in it" in text) == (number in seen)
            seen.add(number)
        assert "wedge by the day's sheet" in text
    assert seen == {row["number"] for row in day.sheet["cartridges"]}
    assert any(len(row["pieces"]) > 1 for row in day.sheet["cartridges"])


def test_what_is_wedged_is_the_sheet_s(day: Day) -> None:
    """A piece has what it takes of each clay: all of that, and what stays, is what the day wedges."""
    for clay in day.sheet["clays"]:
        own = [row for s in day.summaries.values() for row in s["clays"] if row["name"] == clay["name"]]
        assert all(row["left_ml"] == 0 for row in own)
        taken_ml = sum(row["clay_ml"] for row in own)
        assert taken_ml + clay["left_ml"] == pytest.approx(clay["clay_ml"], abs=0.01)


def test_no_advice_that_takes_clay_from_the_next_piece(day: Day) -> None:
    """Knobs and weights are told of cartridges of one piece alone, and of others that they are shared."""
    told = 0
    for row in day.sheet["pieces"]:
        own = day.summaries[row["name"]]
        alone = {number for number in row["cartridges"] if len(of(day, number)["pieces"]) == 1}
        assert {knob["cartridge"] for knob in own["knobs"]} == alone
        for weighing in own["weighings"]:
            assert {weighing["cartridge"], weighing["cartridge"] + 1} <= alone
            assert not of(day, weighing["cartridge"])["fill_ml"]
        told += len(own["weighings"])
        shared = alone != set(row["cartridges"])
        assert ("shared with other pieces of the day" in day.text(row["name"])) == shared
    assert told
