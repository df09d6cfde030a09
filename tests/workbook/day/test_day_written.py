"""A day as files: what is loaded is what is run, by the reference interpreter and by sums made here."""

from __future__ import annotations

import json
import math
import os
import shutil
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gpost.demo.gcode import Piece, SliceStyle
from gpost.errors import ConfigError, OutputError, PlanError
from gpost.workbook.day import writing
from gpost.workbook.day.doing import Task, do_day
from gpost.workbook.day.pieces import read_pieces
from gpost.workbook.day.wishes import Wishes
from gpost.write.inputs import NOTHING_READ
from tests.reference.interpreter import run
from tests.sliced import write_piece

STUDIO = """
clay: {colour: white}
cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 6}
machine: {display_letters: 40}
steps: [purge: {volume_ml: 2}, tally]
"""
REFILL = "steps: [purge: {volume_ml: 2}, refill: {prime_ml: 2}, tally]\n"
BANDS = "colours: {line_holds: white, bands: [{to_mm: 20, clay: white}, {to_mm: 30, blend: [white, blue], steps: 1}, {clay: blue}]}\n"
PIECES: dict[str, tuple[float, str]] = {
    "banded": (40, BANDS),
    "bowl-blue": (40, "clay: {colour: blue}\n"),
    "bowl-white": (40, ""),
    "cup-blue": (16, "clay: {colour: blue}\n"),
    "cup-grey": (16, "clay: {colour: grey}\n"),
    "cup-white-1": (16, ""),
    "cup-white-2": (16, ""),
    "tall": (110, REFILL),
}
"""Eight pieces in three colours, by height and own config: cups take 13 ml, bowls 30, the tall one 78."""
ML_PER_MM = math.pi / 4 * 1.75**2 / 1000
WISHES = Wishes(0.0, between_s=600.0, pause_s=300.0)


@pytest.fixture(scope="module")
def sliced(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the sliced pieces, with two that can't be printed, and the studio's config beside it."""
    folder = tmp_path_factory.mktemp("day") / "sliced"
    folder.mkdir()
    for name, (height_mm, own) in PIECES.items():
        piece = Piece(height_mm=height_mm, radius_mm=20, segments=24, base_layers=1)
        write_piece(folder / f"{name}.gcode", piece, SliceStyle())
        if own:
            (folder / f"{name}.yaml").write_text(own)
    (folder / "broken.gcode").write_bytes(b"")
    write_piece(folder / "wide.gcode", Piece(height_mm=16, radius_mm=900, segments=24), SliceStyle())
    (folder.parent / "studio.yaml").write_text(STUDIO)
    return folder


Do = Callable[..., dict[str, Any]]


@pytest.fixture
def do(sliced: Path, tmp_path: Path) -> Do:
    """do(first=, left_ml=, left=, overwrite=) writes the day into `out`, and gives its sheet."""

    def day(
        first: str | None = None,
        left_ml: float | None = None,
        left: tuple[str, float] | None = None,
        overwrite: bool = False,
        out: Path | None = tmp_path / "out",
    ) -> dict[str, Any]:
        config, pieces, left_out = read_pieces(sliced, [sliced.parent / "studio.yaml"])
        task = Task(sliced, out, first, left_ml, left, overwrite, NOTHING_READ)
        found: dict[str, Any] = json.loads(do_day(pieces, left_out, config, WISHES, task).json)
        return found

    return day


def names(folder: Path) -> list[str]:
    """What lies in a folder."""
    return sorted(path.name for path in folder.iterdir())


def taken_ml(folder: Path, file: str) -> list[float]:
    """Clay out of each cartridge of a written file, by the reference interpreter: cut where one is put on."""
    program = (folder / file).read_bytes()
    pauses = json.loads((folder / file).with_suffix(".json").read_text())["pauses"]
    cuts = [pause["output_line"] - 1 for pause in pauses if pause["new_cartridge"]]
    found = [0.0] * (len(cuts) + 1)
    for event in run(program):
        found[sum(event.line >= cut for cut in cuts)] += event.e_metered_mm * ML_PER_MM
    return found


def test_what_is_loaded_is_what_is_run(do: Do, tmp_path: Path) -> None:
    """Over all written files each cartridge gives just what the sheet says, and its load is that and the reserve, in whole ml."""
    sheet, out = do(), tmp_path / "out"
    taken = {row["number"]: row["fill_ml"] for row in sheet["cartridges"]}
    before = dict(taken)
    for row in sheet["pieces"]:
        own = taken_ml(out, row["file"])
        assert len(own) == len(row["cartridges"])
        load_ml = sheet["cartridges"][row["cartridges"][0] - 1]["load_ml"]
        assert row["first_ml"] == math.ceil(round(load_ml - taken[row["cartridges"][0]], 3))
        for number, ml in zip(row["cartridges"], own, strict=True):
            taken[number] += ml
    for row in sheet["cartridges"]:
        assert row["clay_ml"] == pytest.approx(taken[row["number"]], abs=0.002)
        assert row["load_ml"] == math.ceil(taken[row["number"]] + 5 - 0.002)
        assert taken[row["number"]] > before[row["number"]]
    assert {row["name"].removesuffix(".gcode") for row in sheet["pieces"]} == set(PIECES)
    assert {row["name"] for row in sheet["left_out"]} == {"broken.gcode", "wide.gcode"}
    assert "outside-bed" in next(r["reason"] for r in sheet["left_out"] if r["name"] == "wide.gcode")


def test_loads_have_the_margin_that_each_piece_asks_for(sliced: Path, tmp_path: Path) -> None:
    """With 1 ml as the reserve's spread, 1.645 more in each (normal distribution, 95 %); no run warns of too little."""
    studio, out = tmp_path / "studio.yaml", tmp_path / "out"
    studio.write_text(STUDIO.replace("reserve_ml: 5", "reserve_ml: 5, reserve_spread_ml: 1"))
    config, pieces, left_out = read_pieces(sliced, [studio])
    task = Task(sliced, out, None, None, None, False, NOTHING_READ)
    sheet = do_day(pieces, left_out, config, WISHES, task).sheet
    assert len(sheet.pieces) == 8
    for row in sheet.cartridges:
        assert row.load_ml == math.ceil(row.clay_ml + 5 + 1.6449)
    for record in out.glob("*-*.json"):
        own = json.loads(record.read_text())
        assert all(row["dry_percent"] <= 5.01 for row in own["cartridges"])
        assert not any("short-clay" in warning for warning in own["warnings"])


def test_eight_pieces_in_three_colours(do: Do) -> None:
    """White needs three cartridges of 55 ml, blue and grey one each, the slugs their own; one change of colour.

    Added up by hand, cups 12.9, bowls 29.7, the tall one 78.5 ml, 2 more for each purge and the prime, 6 for
    the hose: white 2 * 14.9 + 31.7 + 82.5 + 6 = 150 > 2 * 55, blue 14.9 + 31.7 < 55. The slugs end in blue, so
    that the hose is filled twice alone, with white and with grey.
    """
    sheet = do(out=None)
    by_colour: dict[str, int] = {}
    for row in sheet["cartridges"]:
        by_colour[row["colour"]] = by_colour.get(row["colour"], 0) + 1
    assert by_colour == {"white": 3, "white, blue": 1, "blue": 1, "grey": 1}
    assert sheet["colour_changes"] == 1
    assert sorted(row["colour"] for row in sheet["cartridges"] if row["fill_ml"]) == ["grey", "white"]
    assert [row["file"] for row in sheet["pieces"]] == [None] * 8


def test_names_sort_in_the_order_of_printing(do: Do, tmp_path: Path) -> None:
    """Three files for each piece, the first with its number in front, and the sheet twice."""
    sheet = do()
    files = [row["file"] for row in sheet["pieces"]]
    assert files == sorted(files)
    assert files == [f"{number:02d}-{row['name']}" for number, row in enumerate(sheet["pieces"], 1)]
    stems = [file.removesuffix(".gcode") for file in files]
    wanted = [f"{stem}{end}" for stem in stems for end in (".gcode", ".txt", ".json")]
    assert names(tmp_path / "out") == sorted([*wanted, "day.txt", "day.json"])
    assert json.loads((tmp_path / "out" / "day.json").read_text()) == sheet


def test_each_file_begins_by_asking_for_its_clay(do: Do, tmp_path: Path) -> None:
    """The display has clay and ml of the cartridge by the sheet's number, and it waits before anything moves."""
    sheet = do()
    for row in sheet["pieces"]:
        lines = (tmp_path / "out" / row["file"]).read_bytes().splitlines()
        moves = [event.line for event in run(b"\n".join(lines)) if event.kind == "move"]
        assert lines.index(b"M0") < moves[0]
        said = lines[lines.index(b"M0") - 1].decode()
        number, colour = row["cartridges"][0], sheet["cartridges"][row["cartridges"][0] - 1]["colour"]
        inside = "4 slugs" if row["name"] == "banded.gcode" else colour
        assert said.endswith(f"cartridge {number}: {inside} {row['first_ml']:.0f} ml")
        assert said.startswith("M117 Hose")


def test_a_refill_s_words_are_the_day_s(do: Do, tmp_path: Path) -> None:
    """The number, and all that the sheet has loaded into it, also for the pieces that follow."""
    sheet = do()
    row = next(row for row in sheet["pieces"] if row["name"] == "tall.gcode")
    loaded = sheet["cartridges"][row["cartridges"][-1] - 1]
    assert len(loaded["pieces"]) > 1
    text = (tmp_path / "out" / row["file"]).read_text()
    assert f"M117 Refill {loaded['number']}: white {math.ceil(loaded['load_ml'])} ml" in text
    summary = json.loads((tmp_path / "out" / row["file"]).with_suffix(".json").read_text())
    assert all(change["kind"] != "move" for change in summary["changes"])


def test_slugs_are_listed_in_the_order_of_loading(do: Do, tmp_path: Path) -> None:
    """They are a cartridge's own and add up to its load, from the hose's filling to what stays behind."""
    sheet = do()
    (row,) = [row for row in sheet["cartridges"] if row["slugs"]]
    assert row["pieces"] == ["banded.gcode"]
    assert [list(slug["clays"]) for slug in row["slugs"]] == [
        ["white"],
        ["white", "blue"],
        ["blue"],
        ["blue"],
    ]
    assert sum(slug["clay_ml"] for slug in row["slugs"]) == pytest.approx(row["load_ml"], abs=0.01)
    assert [slug["reserve"] for slug in row["slugs"]] == [False, False, False, True]
    own = json.loads(next((tmp_path / "out").glob("*-banded.json")).read_text())["cartridges"][0]["slugs"]
    before_ml = sheet["cartridges"][row["number"] - 1]["fill_ml"]
    assert row["slugs"][0]["clay_ml"] == pytest.approx(own[0]["clay_ml"] + before_ml, abs=0.01)
    assert "filled from the plunger's end" in (tmp_path / "out" / "day.txt").read_text()


def test_what_is_there_stays_until_it_may_be_replaced(do: Do, tmp_path: Path) -> None:
    """A second day is refused; with the word for it, it takes the place of the first and of all its files."""
    do()
    out = tmp_path / "out"
    before = {path.name: path.stat().st_mtime_ns for path in out.iterdir()}
    with pytest.raises(OutputError, match="exists already"):
        do()
    assert {path.name: path.stat().st_mtime_ns for path in out.iterdir()} == before
    stray = out / "99-cup.gcode"
    stray.write_text("G28\n")
    with pytest.raises(OutputError, match=r"99-cup\.gcode is none of this day's files"):
        do(overwrite=True)
    stray.unlink()
    do(overwrite=True)
    assert names(out) == sorted(before)


def test_the_rest_of_a_day(do: Do, tmp_path: Path) -> None:
    """From a piece on, twice: what is printed stays as it is, numbers go on, and the first cartridge is that one."""
    whole, out = do(), tmp_path / "out"
    order = [row["name"] for row in whole["pieces"]]
    at = order.index("tall.gcode")
    printed = {path.name: path.read_bytes() for path in out.glob("*") if path.name[:2] <= f"{at:02d}"}
    rest = do(first="tall", left_ml=30, overwrite=True)
    assert sorted(row["name"] for row in rest["pieces"]) == sorted(order[at:])
    assert [row["file"][:2] for row in rest["pieces"]] == [f"{n:02d}" for n in range(at + 1, 9)]
    assert {name: (out / name).read_bytes() for name in printed} == printed
    first = rest["cartridges"][0]
    assert (first["colour"], first["held_ml"], first["fill_ml"]) == ("white", 30, 0)
    row = next(row for row in rest["pieces"] if row["name"] == "tall.gcode")
    own = next(row["cartridges"][0] for row in whole["pieces"] if row["name"] == "tall.gcode")
    assert (row["cartridges"][0], row["first_ml"]) == (own, 30)
    for row in rest["pieces"]:
        taken_ml(out, row["file"])
    used = sum(taken_ml(out, r["file"])[0] for r in rest["pieces"] if r["cartridges"][0] == own)
    assert 0 < used <= 25 + 0.002
    last = rest["pieces"][-1]["name"]
    end = do(first=last, overwrite=True)
    assert [row["file"] for row in end["pieces"]] == [f"08-{last}"]
    assert len(list(out.glob("*.gcode"))) == 8


@pytest.mark.parametrize("name", ["od\nd \x1b[31m.gcode", os.fsdecode(b"b\xffd.gcode")])
def test_names_that_are_no_text(sliced: Path, tmp_path: Path, name: str) -> None:
    """They are written, known again on the sheet, kept when they are printed and taken away when they are not."""
    folder, out = tmp_path / "own", tmp_path / "out"
    folder.mkdir()
    for other in ("cup-white-1.gcode", "cup-white-2.gcode", name):
        shutil.copy(sliced / "cup-white-1.gcode", folder / other)
    found = read_pieces(folder, [sliced.parent / "studio.yaml"])

    def day(first: str | None) -> list[str]:
        config, pieces, left_out = found
        do_day(pieces, left_out, config, WISHES, Task(folder, out, first, None, None, True, NOTHING_READ))
        return sorted(path.name for path in out.glob("*.gcode"))

    written = day(None)
    assert {file[3:] for file in written} == {"cup-white-1.gcode", "cup-white-2.gcode", name}
    assert day("3") == day("2") == written
    assert len(day(None)) == 3


def test_a_rest_without_a_folder_goes_by_the_whole_day(do: Do) -> None:
    """Nothing is written, and the pieces before are those of the day as it would be packed."""
    order = [row["name"] for row in do(out=None)["pieces"]]
    rest = do(first=order[3], out=None)
    assert sorted(row["name"] for row in rest["pieces"]) == sorted(order[3:])


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"first": "tal"}, "did you mean tall"),
        ({"first": "broken"}, "broken.gcode, which can't be printed: broken.gcode is empty"),
        (
            {"left": ("wihte", 30.0)},
            "no piece that is left is in wihte, which --left names; did you mean white",
        ),
        ({"left": ("white", 4.0)}, "is all reserve"),
        ({"first": "tall", "left_ml": 61.0}, "is more than the 60 ml"),
    ],
)
def test_what_can_t_be_meant(do: Do, asked: dict[str, Any], said: str) -> None:
    """A sentence says what there is; nothing is written."""
    with pytest.raises(ConfigError, match=said):
        do(**asked)


def test_a_sheet_of_another_s_is_not_followed(do: Do, tmp_path: Path) -> None:
    """A day.json that names files elsewhere is refused, and those are left alone."""
    out, other = tmp_path / "out", tmp_path / "01-cup.gcode"
    out.mkdir()
    other.write_text("mine")
    rows = [{"name": "cup.gcode", "file": "../01-cup.gcode"}]
    for document in ({"printed": [], "pieces": rows}, {"pieces": 3}, [1]):
        (out / "day.json").write_text(json.dumps(document))
        with pytest.raises(OutputError, match="move it away"):
            do(overwrite=True)
    assert other.read_text() == "mine"


def test_a_day_that_is_interrupted_leaves_nothing(
    do: Do, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C while the third piece is written: no file of the day is in its place, none is half done."""
    real, count = writing.run_file, 0

    def third(*args: Any, **how: Any) -> Any:
        nonlocal count
        count += 1
        if count == 3:
            raise KeyboardInterrupt
        return real(*args, **how)

    monkeypatch.setattr(writing, "run_file", third)
    with pytest.raises(KeyboardInterrupt):
        do()
    assert names(tmp_path / "out") == []


def test_an_interrupt_waits_until_all_files_have_their_names(
    do: Do, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C while the files are put in their place: all of them come first."""
    real = writing.put_in_place

    def signalled(*args: Any, **how: Any) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        real(*args, **how)

    monkeypatch.setattr(writing, "put_in_place", signalled)
    with pytest.raises(KeyboardInterrupt):
        do()
    assert len(names(tmp_path / "out")) == 3 * 8 + 2


def test_what_fails_as_it_is_packed_is_left_out_and_the_rest_packed_anew(
    do: Do, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The others are written, without a gap in their numbers, from cartridges that don't count it."""
    real = writing.run_file

    def but_one(source: Path, *args: Any, **how: Any) -> Any:
        if source.name == "bowl-white.gcode":
            raise PlanError("it won't")
        return real(source, *args, **how)

    monkeypatch.setattr(writing, "run_file", but_one)
    sheet = do()
    assert {"name": "bowl-white.gcode", "reason": "it won't"} in sheet["left_out"]
    assert [row["file"][:2] for row in sheet["pieces"]] == [f"{n:02d}" for n in range(1, 8)]
    assert all("bowl-white.gcode" not in row["pieces"] for row in sheet["cartridges"])
    assert len(list((tmp_path / "out").glob("*.gcode"))) == 7


def test_a_hose_that_would_have_to_hold_two_clays(sliced: Path, tmp_path: Path) -> None:
    """A day fills the hose with one clay: the piece is left out, and it is said what to do."""
    folder = tmp_path / "own"
    folder.mkdir()
    shutil.copy(sliced / "bowl-white.gcode", folder)
    (folder / "bowl-white.yaml").write_text("colours: {bands: [{to_mm: 3, clay: white}, {clay: blue}]}\n")
    (row,) = read_pieces(folder, [sliced.parent / "studio.yaml"])[2]
    assert row.reason.startswith("the hose would have to hold white, then blue when it begins")
    assert "line_holds" in row.reason
