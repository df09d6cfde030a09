"""A piece of a day that has stopped goes on as it was planned in the day: its clay, its numbers, its words."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from gpost.cli import cli
from gpost.demo.gcode import Piece, SliceStyle
from tests.sliced import write_piece

STUDIO = """
clay: {colour: white}
cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 6}
machine: {display_letters: 40}
steps: [purge: {volume_ml: 2}, refill: {prime_ml: 2}, tally]
"""
PIECES = {"cup": (16, ""), "tall": (110, ""), "two": (60, "steps: [purge: {volume_ml: 2}, swap: {at_height_mm: 30, colour: blue}]\n")}


def typed(*args: object) -> Result:
    """`gpost` with these arguments."""
    return CliRunner().invoke(cli, [str(arg) for arg in args])


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a day of three pieces on shared cartridges, in `out`."""
    folder = tmp_path_factory.mktemp("day")
    for name, (height_mm, own) in PIECES.items():
        piece = Piece(height_mm=height_mm, radius_mm=20, segments=24, base_layers=1)
        (folder / "sliced").mkdir(exist_ok=True)
        write_piece(folder / "sliced" / f"{name}.gcode", piece, SliceStyle())
        if own:
            (folder / "sliced" / f"{name}.yaml").write_text(own)
    (folder / "studio.yaml").write_text(STUDIO)
    result = typed("day", folder / "sliced", "-c", folder / "studio.yaml", "-o", folder / "out")
    assert result.exit_code == 0, result.output
    return folder


def found(day: Path, name: str) -> tuple[Path, dict[str, Any]]:
    """A piece's file to run, and its summary."""
    path = next(path for path in (day / "out").glob(f"*-{name}.gcode"))
    return path, json.loads(path.with_suffix(".json").read_text())


def resumed(day: Path, name: str, *args: object) -> tuple[list[str], dict[str, Any], str]:
    """(lines behind the opening, summary, words) of a piece that is gone on with."""
    path, _ = found(day, name)
    out = day / f"{name}-rest.gcode"
    result = typed(
        "resume", path.with_suffix(".json"), *args, "-o", out, "--json", day / f"{name}-rest.json", "--overwrite"
    )
    assert result.exit_code == 0, result.output
    lines = out.read_text().splitlines()
    rest = lines[lines.index("; gpost: resume ends") + 1 :]
    return rest, json.loads((day / f"{name}-rest.json").read_text()), " ".join(result.output.split())


@pytest.mark.parametrize("name", sorted(PIECES))
def test_every_piece_of_a_day_goes_on(day: Path, name: str) -> None:
    """What it lays, and what the display says at its pauses, is the end of the file that the day has written."""
    path, _ = found(day, name)
    rest, _, said = resumed(day, name, "--from-layer", 4)
    assert path.read_text().splitlines()[-len(rest) :] == rest
    assert "plan what comes after it anew" in said


@pytest.mark.parametrize(("ending", "more"), [("", []), (".gz", []), ("", ["--rehearse"])])
def test_a_rest_may_lie_among_the_days_files(day: Path, tmp_path: Path, ending: str, more: list[str]) -> None:
    """What comes after the piece is planned anew beside it, as its page advises: it stays, and is named."""
    shutil.copytree(day, tmp_path / "day")
    out = tmp_path / "day" / "out"
    plan = ["day", tmp_path / "day" / "sliced", "-c", tmp_path / "day" / "studio.yaml", "-o", out, "--overwrite"]
    piece = found(tmp_path / "day", "tall")[0]
    name = f"{piece.stem}-{'rehearsal' if more else 'rest'}"
    rest = out / f"{name}.gcode{ending}"
    done = typed("resume", piece.with_suffix(".json"), "--from-layer", 4, "-o", rest, "--json", out / f"{name}.json", *more)
    assert done.exit_code == 0, done.output
    assert ("plan what comes after it anew" in " ".join(done.output.split())) != bool(more)
    before = {path.name: path.read_bytes() for path in (rest, out / f"{name}.json")}
    order = json.loads((out / "day.json").read_text())["pieces"]
    after = order[[row["name"] for row in order].index("tall.gcode") + 1 :]
    for first in ([], ["--from", after[0]["name"], "--left-ml", 20] if after else []):
        result = typed(*plan, *first)
        assert result.exit_code == 0, result.output
        said = f"{rest.name} lies among the day's files: it is the rest of a stopped print"
        assert said in " ".join(result.output.split())
        assert said in " ".join((out / "day.txt").read_text().split())
        assert {path: (out / path).read_bytes() for path in before} == before
    stray = out / "98-tall.gcode"
    stray.write_bytes(piece.read_bytes())
    assert "98-tall.gcode is none of this day's files" in " ".join(typed(*plan).output.split())


def test_clay_is_counted_from_what_the_day_had_in_the_cartridge(day: Path) -> None:
    """What is left is what the piece began with, less what it took: its summary's own sums."""
    for name in PIECES:
        _, whole = found(day, name)
        rest, summary, _ = resumed(day, name, "--from-layer", 4)
        first = whole["cartridges"][0]
        begins_ml = first["begins_ml"]
        passed_ml = whole["clay_ml"] - summary["clay_ml"]
        assert summary["resume"]["stops"][0]["left_ml"] == pytest.approx(begins_ml - passed_ml, abs=1e-6)
        assert summary["resume"]["cartridge"] == first["number"]
        assert rest


def test_later_cartridges_are_the_days(day: Path) -> None:
    """Numbers and loads of those still to come are what the day's sheet says, though other pieces share them."""
    _, whole = found(day, "tall")
    _, summary, _ = resumed(day, "tall", "--from-layer", 4)
    assert summary["in_day"]
    later = [(c["number"], c["load_ml"], c["pieces"]) for c in summary["cartridges"][1:]]
    assert later
    assert later == [(c["number"], c["load_ml"], c["pieces"]) for c in whole["cartridges"][1:]]
    due = [p for p in whole["pauses"] if p["cartridge"] is not None]
    assert [(p["cartridge"], p["message"]) for p in summary["pauses"][1:]] == [
        (p["cartridge"], p["message"]) for p in due
    ]


def test_what_is_run_out_is_in_the_next_load(day: Path) -> None:
    """Where the rest takes more than the day has reckoned with, sheet and display ask for that."""
    path, whole = found(day, "tall")
    rest, summary, _ = resumed(day, "tall", "--from-layer", 4, "--run-out", 6)
    for mine in summary["cartridges"][1:]:
        assert mine["load_ml"] >= mine["need_ml"] + 5 - 1e-6
        shown = [line for line in rest if re.search(rf"M117 .*{mine['number']}", line)]
        asked = [int(ml) for line in shown for ml in re.findall(r"(\d+) ?ml", line)]
        assert asked
        assert min(asked) >= mine["need_ml"] + 5 - 1
    assert whole["cartridges"]
    assert path.is_file()


def test_it_can_stop_once_more(day: Path) -> None:
    """The rest's own summary is gone on with as the day's was."""
    resumed(day, "tall", "--from-layer", 4)
    out = day / "last.gcode"
    result = typed("resume", day / "tall-rest.json", "--from-layer", 12, "-o", out, "--overwrite")
    assert result.exit_code == 0, result.output
    lines = out.read_text().splitlines()
    rest = lines[lines.index("; gpost: resume ends") + 1 :]
    path, _ = found(day, "tall")
    assert path.read_text().splitlines()[-len(rest) :] == rest
