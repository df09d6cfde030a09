"""A day says what its pieces are warned of, as `gpost check` does of each."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from gpost.demo.gcode import Piece, SliceStyle
from gpost.pipeline import check_file
from gpost.steps.recipe import make_recipe
from gpost.workbook.day.doing import Task, do_day
from gpost.workbook.day.pieces import read_pieces
from gpost.workbook.day.wishes import Wishes
from gpost.workbook.day.writing import Done
from gpost.write.inputs import NOTHING_READ
from tests.config_files import load_files
from tests.sliced import write_piece

STUDIO = """
cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 6}
machine: {display_letters: 40, max_flow_ml_min: 1000}
steps: [tally]
"""
HOT = ["M104 S200", "M140 S60"]
MANY = [f"M{code}" for code in (7101, 7102, 7103, 7104, 7105, 7106)]
"""Each is unknown to gpost, which says so."""


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder of three cups: one is heated, one has six commands that nobody knows, one is plain."""
    (tmp_path / "sliced").mkdir()
    for name, more in (("hot", HOT), ("many", MANY), ("plain", [])):
        path = tmp_path / "sliced" / f"{name}.gcode"
        piece = Piece(height_mm=16, radius_mm=20, segments=24, base_layers=1)
        write_piece(path, piece, SliceStyle())
        path.write_text("\n".join([*more, path.read_text()]))
    (tmp_path / "studio.yaml").write_text(STUDIO)
    return tmp_path


def day(home: Path, out: Path | None = None, *, pages: bool = False) -> Done:
    """The day, packed, and written if a folder is named."""
    config, pieces, left_out = read_pieces(home / "sliced", [home / "studio.yaml"])
    task = Task(home / "sliced", out, None, None, None, False, NOTHING_READ, pages=pages)
    return do_day(pieces, left_out, config, Wishes(0.0, 600.0, 300.0), task)


def warned(home: Path, name: str) -> list[str]:
    """What `gpost check` warns of."""
    recipe = make_recipe(load_files({"studio.yaml": STUDIO}))
    found = check_file(home / "sliced" / name, recipe.config, recipe.steps)
    return [f.sentence for f in found if f.severity == "warning"]


@pytest.mark.parametrize("written", [True, False])
def test_the_sheet_says_it(home: Path, tmp_path: Path, written: bool) -> None:
    """How many in the table and in the JSON, the first five in words, and where the rest is; of a plain piece nothing."""
    done = day(home, tmp_path / "out" if written else None)
    found = {row["name"]: row for row in json.loads(done.json)["pieces"]}
    first = " ".join(done.text().partition("Prepare")[0].split())
    for name in ("hot.gcode", "many.gcode", "plain.gcode"):
        own = warned(home, name)
        assert found[name]["warnings"] == len(own)
        assert found[name]["warned"] == own[:5]
        assert all(f"{name}: {' '.join(text.split())}" in first for text in own[:5])
    assert (found["plain.gcode"]["warnings"], "plain.gcode" in first) == (0, False)
    assert found["many.gcode"]["warnings"] > 5
    more = found["many.gcode"]["warnings"] - 5
    stem = (found["many.gcode"]["file"] or "").removesuffix(".gcode")
    where = f"in {stem}.txt" if written else "which gpost check says"
    assert f"many.gcode: and {more} more, {where}" in first
    rows = [line.split() for line in done.text().splitlines() if line.split()[-1:] == [str(5 + more)]]
    assert [row[0] for row in rows] == [found["many.gcode"]["file"] or "many.gcode"]


def test_the_pages_say_it(home: Path, tmp_path: Path) -> None:
    """The first section of the day's index, behind the name of the file to run."""
    done = day(home, tmp_path / "out", pages=True)
    html = (tmp_path / "out" / "index.html").read_text("utf-8").replace("\u00a0", " ")
    verdict = html.partition('id="verdict"')[2].partition("</section>")[0]
    file = done.files["hot.gcode"]
    assert f"<strong>{file}</strong>: heating, line 1" in verdict
    assert f"<strong>{done.files['many.gcode']}</strong>: and " in verdict
    assert done.files["plain.gcode"] not in verdict


def test_what_the_day_says_itself_is_said_once(home: Path) -> None:
    """Clays of nearly one name are asked about for the day; each piece's own question is the same."""
    for name, clay in (("hot", "white clay"), ("plain", "wihte clay")):
        (home / "sliced" / f"{name}.yaml").write_text(f"clay: {{colour: {clay}}}\n")
    (home / "studio.yaml").write_text(STUDIO + "clays: [{name: white clay}]\n")
    text = " ".join(day(home).text().partition("Prepare")[0].split())
    assert text.count("is one misspelt?") == 1
