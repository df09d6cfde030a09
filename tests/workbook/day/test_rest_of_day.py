"""A day that goes on: numbers, times, names and clays are those that lie on the bench already."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gpost.demo.gcode import Piece, SliceStyle
from gpost.workbook.day.doing import Task, do_day
from gpost.workbook.day.pieces import read_pieces
from gpost.workbook.day.wishes import Wishes
from gpost.write.inputs import NOTHING_READ
from tests.sliced import write_piece

STUDIO = """
clay: {colour: white}
cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 6}
steps: [purge: {volume_ml: 2}, tally]
"""
PIECES = {"2": (40, ""), "bowl": (30, ""), "jug": (40, ""), "vase": (40, "clay: {colour: blue}\n")}
"""The white ones take 32, 24 and 32 ml, of 55 in a cartridge, so that each is printed from its own."""
NINE_S = 9 * 3600.0
Do = Callable[..., dict[str, Any]]


@pytest.fixture
def do(tmp_path: Path) -> Do:
    """do(first, ...) writes a day of four pieces, one of them packed, into `out`, or what is left of it."""
    folder = tmp_path / "sliced"
    folder.mkdir()
    for name, (height_mm, own) in PIECES.items():
        piece = Piece(height_mm=height_mm, radius_mm=20, segments=24, base_layers=1)
        write_piece(folder / f"{name}.gcode", piece, SliceStyle())
        if own:
            (folder / f"{name}.yaml").write_text(own)
    jug = folder / "jug.gcode"
    (folder / "jug.gcode.gz").write_bytes(gzip.compress(jug.read_bytes()))
    jug.unlink()
    (tmp_path / "studio.yaml").write_text(STUDIO)

    def day(
        first: str | None = None,
        left: tuple[str, float] | None = None,
        *,
        when_due: bool = True,
        out: Path | None = tmp_path / "out",
    ) -> dict[str, Any]:
        config, pieces, left_out = read_pieces(folder, [tmp_path / "studio.yaml"])
        task = Task(folder, out, first, None, left, True, NOTHING_READ, when_due=when_due)
        found: dict[str, Any] = json.loads(
            do_day(pieces, left_out, config, Wishes(NINE_S, 600.0, 300.0), task).json
        )
        return found

    return day


def numbers(sheet: dict[str, Any]) -> list[int]:
    """Of all cartridges."""
    return [row["number"] for row in sheet["cartridges"]]


@pytest.mark.parametrize("written", [True, False])
def test_cartridges_are_numbered_on(do: Do, tmp_path: Path, written: bool) -> None:
    """From the last that printed pieces have used, over and over; without a folder by the whole day."""
    out = tmp_path / "out" if written else None
    sheet, last = do(out=out), 0
    assert numbers(sheet) == list(range(1, len(numbers(sheet)) + 1))
    for _ in range(3 if written else 1):
        last = max(last, *sheet["pieces"][0]["cartridges"])
        sheet = do(sheet["pieces"][1]["name"], out=out)
        assert numbers(sheet) == list(range(last + 1, last + 1 + len(numbers(sheet))))
        assert {n for row in sheet["pieces"] for n in row["cartridges"]} == set(numbers(sheet))
        for row in sheet["pieces"] if written else ():
            (text,) = (tmp_path / "out").glob(f"{row['file'][:2]}-*.txt")
            assert f"cartridge {row['cartridges'][0]}, " in " ".join(text.read_text().split())
    assert last == (3 if written else 1)


def test_the_cartridge_that_is_on_keeps_its_number(do: Do) -> None:
    """The piece's own, if it is of that clay, or else the last before it; what it holds is not wedged."""
    whole = do()
    at = next(n for n, row in enumerate(whole["pieces"]) if row["name"] == "vase.gcode")
    assert at == 3
    own, last = whole["pieces"][3]["cartridges"][0], whole["pieces"][2]["cartridges"][-1]
    assert own != last
    assert numbers(do("vase", ("blue", 50.0), out=None))[0] == 1 + numbers(do(out=None)).index(own)
    sheet = do("vase", ("blue", 50.0))
    assert numbers(sheet) == [own]
    (clay,) = sheet["clays"]
    assert (clay["clay_ml"], clay["on_ml"]) == (0, 56)
    assert clay["piece_ml"] + clay["beside_ml"] + clay["left_ml"] == pytest.approx(56)
    assert sheet["events"][0]["text"] == f"cartridge {own} (blue) is on, 50 ml in it"


@pytest.mark.parametrize("written", [True, False])
def test_of_two_of_one_clay_what_is_in_it_tells_which_is_on(do: Do, tmp_path: Path, written: bool) -> None:
    """What the piece before has left is in that one's cartridge, and all that is loaded already keeps its number.

    The first takes 32 ml; hardly more than the reserve of 5 is left, and the next is packed on its own. Where more
    is in it the next one's own is on, as when it went wrong and is begun anew.
    """
    out = tmp_path / "out" if written else None
    whole = do(out=out)
    first, second = whole["pieces"][:2]
    (one,), (own,) = first["cartridges"], second["cartridges"]
    assert [row["colour"] for row in whole["cartridges"][:2]] == ["white", "white"]
    rest = do(second["name"], ("white", 7.0), out=out)
    assert rest["events"][0]["text"] == f"cartridge {one} (white) is on, 7 ml in it"
    assert rest["pieces"][0]["cartridges"] == [own]
    if not written:
        assert numbers(do(second["name"], ("white", 30.0), out=None))[0] == own


def test_the_clays_say_what_is_on(do: Do, tmp_path: Path) -> None:
    """No amount that is 0 stands beside others: it says that there is none to wedge."""
    do()
    do("vase", ("blue", 50.0))
    text = " ".join((tmp_path / "out" / "day.txt").read_text().split())
    assert "wedge no blue (ml: 30 in the piece" in text
    assert "; 56 of it are in hose and cartridge already)" in text


def test_the_rest_begins_when_its_piece_was_due(do: Do, tmp_path: Path) -> None:
    """And says so, first of all; a time that is asked for goes before it."""
    piece = do()["pieces"][2]
    rest = do(piece["name"])
    assert rest["events"][0]["clock_s"] == pytest.approx(piece["start_s"], abs=0.1)
    (note,) = rest["notes"]
    assert f"when {piece['name']} was due" in note
    second = (tmp_path / "out" / "day.txt").read_text().splitlines()[1]
    assert note.startswith(second)
    assert second.startswith("The rest begins at ")
    asked = do(piece["name"], when_due=False)
    assert (asked["events"][0]["clock_s"], asked["notes"]) == (NINE_S, [])


def test_the_sheet_names_the_file_to_start(do: Do) -> None:
    """Where files are written theirs, else the piece's."""
    for out in ({}, {"out": None}):
        sheet = do(**out)
        started = [event["text"] for event in sheet["events"] if event["text"].startswith("start ")]
        assert started == [f"start {row['file'] or row['name']}" for row in sheet["pieces"]]
    assert started[0].endswith(".gcode")


def test_what_a_piece_may_be_called(do: Do) -> None:
    """Its name with or without its endings, packed too; a figure is a place in the day, not a piece's name."""
    order = [row["name"] for row in do()["pieces"]]
    first, second = order[0], order[1]
    for called in ("jug", "jug.gcode", "jug.gcode.gz", f"{order.index('jug.gcode.gz') + 1}"):
        rest = do(called, out=None)
        assert "jug.gcode.gz" in [row["name"] for row in rest["pieces"]]
        assert len(rest["pieces"]) == 4 - order.index("jug.gcode.gz")
    assert "2.gcode" in order[:3]
    assert first not in [row["name"] for row in do("2", out=None)["pieces"]]
    assert second in [row["name"] for row in do("2", out=None)["pieces"]]
    by_name = do("2.gcode", out=None)
    assert len(by_name["pieces"]) == 4 - order.index("2.gcode")
