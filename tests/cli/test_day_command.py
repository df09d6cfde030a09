"""`gpost day`: the sheet of a folder, and how it fails."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from gpost.demo.gcode import class_pieces
from tests.sliced import write_piece

Gpost = Callable[..., Result]

STUDIO = Path(__file__).parents[2] / "configs" / "studio.yaml"
DAY = ("twisted-bottle", "small-bowl-1", "small-bowl-2")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A twisted bottle and two small bowls, sliced."""
    (tmp_path / "sliced").mkdir()
    for name in DAY:
        write_piece(tmp_path / "sliced" / f"{name}.gcode", *class_pieces()[name])
    return tmp_path / "sliced"


def test_the_class_day(gpost: Gpost, folder: Path) -> None:
    """A bottle and two bowls come out of one cartridge; the sheet says when to be there."""
    result = gpost("day", folder, "-c", STUDIO, "--start", "13:30")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("3 pieces, 1 cartridge, 0 changes of colour, 13:30 to ")
    load_ml = re.search(r"load at least (\d+) ml", result.stdout)
    assert load_ml
    told = f"13:30   put in cartridge 1, white stoneware, {load_ml[1]} ml, run out 55 ml until it"
    assert told in result.stdout


@pytest.mark.parametrize("factor", ["60.007", "0.01"])
def test_a_time_factor_of_another_unit(gpost: Gpost, folder: Path, factor: str) -> None:
    """Minutes that were taken for seconds make 60: no machine is so slow."""
    result = gpost("day", folder, "-c", STUDIO, "--time-factor", factor)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "0.1<=x<=10" in result.stderr


def test_json(gpost: Gpost, folder: Path) -> None:
    """The same as JSON; a piece of another colour follows in the order that the potter names."""
    (folder / "small-bowl-1.yaml").write_text("clay: {colour: grey}\n")
    args = ("day", folder, "-c", STUDIO, "--json", "--colours", "grey, white stoneware")
    found = json.loads(gpost(*args).stdout)
    assert found["colour_changes"] == 1
    assert [row["colour"] for row in found["cartridges"]] == ["grey", "white stoneware"]
    assert found["pieces"][0]["name"] == "small-bowl-1.gcode"


def test_a_piece_that_cannot_be_printed(gpost: Gpost, folder: Path) -> None:
    """Status 1: it is left out with the reason, and the others are packed."""
    (folder / "broken.gcode").write_bytes(b"")
    result = gpost("day", folder, "-c", STUDIO)
    assert result.exit_code == 1
    assert "3 pieces" in result.stdout
    assert "broken.gcode" in result.stdout.partition("Left out")[2]


def test_nothing_is_written(gpost: Gpost, folder: Path) -> None:
    """The day writes no file."""
    before = sorted(folder.parent.rglob("*"))
    gpost("day", folder, "-c", STUDIO)
    assert sorted(folder.parent.rglob("*")) == before


@pytest.mark.parametrize("start", ["25:00", "9", "9:60", "noon", "9:00;"])
def test_wrong_start(gpost: Gpost, folder: Path, start: str) -> None:
    """Status 2: what is no time of day is refused."""
    result = gpost("day", folder, "-c", STUDIO, "--start", start)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is no time of day" in result.stderr


def test_no_folder(gpost: Gpost) -> None:
    """Status 2: a folder that is not there."""
    result = gpost("day", "nowhere", "-c", STUDIO)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is no folder" in result.stderr


def test_a_day_is_written(gpost: Gpost, folder: Path, tmp_path: Path) -> None:
    """-o writes a file to run for each piece, its summary, and the sheet that is printed; it names the files."""
    out = tmp_path / "out"
    result = gpost("day", folder, "-c", STUDIO, "-o", out)
    assert (result.exit_code, result.stdout) == (0, (out / "day.txt").read_text())
    files = sorted(path.name for path in out.glob("*.gcode"))
    assert [name[:3] for name in files] == ["01-", "02-", "03-"]
    assert all(name in result.stdout for name in files)
    again = gpost("day", folder, "-c", STUDIO, "-o", out)
    assert again.exit_code == 1
    assert "exists already" in again.stderr
    assert gpost("day", folder, "-c", STUDIO, "-o", out, "--overwrite").exit_code == 0


def test_the_rest_of_the_day(gpost: Gpost, folder: Path, tmp_path: Path) -> None:
    """--from and --left-ml go on in the same folder, from the cartridge that is on."""
    out = tmp_path / "out"
    gpost("day", folder, "-c", STUDIO, "-o", out)
    second = json.loads((out / "day.json").read_text())["pieces"][1]
    args = ("--from", second["file"], "--left-ml", "500", "--overwrite", "--json")
    found = json.loads(gpost("day", folder, "-c", STUDIO, "-o", out, *args).stdout)
    assert [row["file"][:2] for row in found["pieces"]] == ["02", "03"]
    assert found["cartridges"][0]["held_ml"] == 500
    assert [row["file"] for row in found["printed"]] == [sorted(path.name for path in out.glob("01-*.gcode"))[0]]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--left-ml", "300"), "--left-ml goes with --from"),
        (("--from", "small-bowl-1", "--left-ml", "300", "--left", "white=300"), "--left-ml goes with --from"),
        (("--left", "white"), "is no clay with its ml, such as white=300"),
        (("--left", "white=0"), "is no clay with its ml"),
        (("--left", "white=inf"), "is no clay with its ml"),
        (("--from", "vase"), "the day has no piece vase"),
    ],
)
def test_a_rest_that_can_t_be_meant(gpost: Gpost, folder: Path, args: tuple[str, ...], said: str) -> None:
    """Status 2, and nothing on standard output."""
    result = gpost("day", folder, "-c", STUDIO, *args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert said in result.stderr


def test_not_into_the_folder_of_the_sliced_files(gpost: Gpost, folder: Path) -> None:
    """Status 2: nothing of it is written."""
    before = sorted(folder.iterdir())
    result = gpost("day", folder, "-c", STUDIO, "-o", folder)
    assert (result.exit_code, result.stdout) == (2, "")
    assert sorted(folder.iterdir()) == before


def test_a_calendar_takes_nothing_of_the_day(gpost: Gpost, folder: Path, tmp_path: Path) -> None:
    """Among the day's files it ends in .ics, and then it may lie in a folder that the day makes."""
    out = tmp_path / "out"
    words = ("day", folder, "-c", STUDIO, "-o", out)
    assert gpost(*words, "--calendar", out / "day.ics").exit_code == 0
    before = (out / "day.json").read_bytes()
    result = gpost(*words, "--overwrite", "--calendar", out / "day.json")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "must end in .ics" in result.stderr
    assert (out / "day.json").read_bytes() == before


def test_the_rest_begins_when_it_was_due(gpost: Gpost, folder: Path, tmp_path: Path) -> None:
    """Without --start; with it then."""
    out = tmp_path / "out"
    gpost("day", folder, "-c", STUDIO, "-o", out, "--start", "13:30")
    due_s = json.loads((out / "day.json").read_text())["pieces"][1]["start_s"]
    for start, wanted_s in (((), due_s), (("--start", "15:00"), 15 * 3600)):
        args = ("day", folder, "-c", STUDIO, "-o", out, "--overwrite", "--from", "2", "--json", *start)
        assert json.loads(gpost(*args).stdout)["events"][0]["clock_s"] == pytest.approx(wanted_s, abs=0.1)


@pytest.mark.parametrize(
    ("own", "said"),
    [
        ({"small-bowl-1": "{colour: blue}", "small-bowl-2": "{colour: bleu}"}, "blue and bleu count as two clays"),
        ({"small-bowl-1": "{colour: blue}", "small-bowl-2": "{colour: Blue}"}, "blue and Blue count as two clays"),
        ({"small-bowl-1": "{colour: 'blue '}", "small-bowl-2": "{colour: blue}"}, "blue  and blue count as two"),
        ({"small-bowl-1": "{colour: ochre}"}, "ochre is none of the studio's clays (clays): white stoneware"),
    ],
)
@pytest.mark.parametrize("written", [True, False])
def test_names_of_clays_are_asked_about(
    gpost: Gpost, folder: Path, tmp_path: Path, own: dict[str, str], said: str, written: bool
) -> None:
    """Nearly alike over several pieces, or unknown: before what is to be wedged, and in the JSON."""
    for name, clay in own.items():
        (folder / f"{name}.yaml").write_text(f"clay: {clay}\n")
    listed = tmp_path / "clays.yaml"
    listed.write_text("clays: [{name: white stoneware}]\n")
    args = ["day", folder, "-c", STUDIO, "-c", listed]
    text = gpost(*args, *(("-o", tmp_path / "text") if written else ())).stdout
    assert " ".join(said.split()) in " ".join(text.partition("Prepare")[0].split())
    found = json.loads(gpost(*args, "--json", *(("-o", tmp_path / "json") if written else ())).stdout)
    assert any(warning.startswith(said) for warning in found["warnings"])


def test_bands_that_can_t_be_are_told(gpost: Gpost, folder: Path) -> None:
    """By the piece's name: the steps of its blend are thinner than a cartridge lets through."""
    (folder / "small-bowl-1.yaml").write_text(
        "cartridge: {bore_mm: 60}\ncolours: {line_holds: white, bands: [{to_mm: 5, clay: white}, "
        "{to_mm: 20, blend: [white, blue], steps: 40}, {clay: blue}]}\n"
    )
    (folder.parent / "bore.yaml").write_text("cartridge: {bore_mm: 60}\n")
    found = json.loads(gpost("day", folder, "-c", STUDIO, "-c", folder.parent / "bore.yaml", "--json").stdout)
    own = [text for text in found["warnings"] if text.startswith("small-bowl-1.gcode: ")]
    assert any("instead of 40" in text for text in own)
    assert any("slug" in text for text in own)


@pytest.mark.parametrize(
    "args",
    [
        ("day", "sliced", "-c", STUDIO, "-o", ""),
        ("batch", "sliced", "-c", STUDIO, "-o", ""),
        ("run", "sliced/small-bowl-1.gcode", "-c", STUDIO, "-o", ""),
        ("run", "sliced/small-bowl-1.gcode", "-c", STUDIO, "-o", "out.gcode", "--json", ""),
        ("run", "sliced/small-bowl-1.gcode", "-c", STUDIO, "-o", "out.gcode", "--summary", ""),
        ("load", "sliced/small-bowl-1.gcode", "-c", STUDIO, "--svg", ""),
        ("demo", ""),
        ("calibrate", "-c", STUDIO, "--strip", ""),
    ],
)
def test_an_empty_name_is_no_place_to_write(
    gpost: Gpost, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...]
) -> None:
    """Status 2, and nothing comes to lie in the current folder."""
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    result = gpost(*args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "the name is empty; say where to write" in result.stderr
    assert sorted(tmp_path.rglob("*")) == before
