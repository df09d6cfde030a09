"""The page as a file: one for all, small, and true to the records that it shows."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import zlib
from collections.abc import Callable
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from gpost.cli import cli
from gpost.config.model import Config
from gpost.page.sheet import SCRIPTS
from gpost.page.solid import solid
from gpost.pipeline import survey_file
from gpost.plan.plan import Plan
from gpost.survey.wall import laid_wall
from gpost.words import say
from tests.page.browser import plain
from tests.page.conftest import HOSTILE, OWN


def unpacked(packed: str, points: int) -> tuple[np.ndarray, np.ndarray]:
    """Steps, shape (3, k), and which begin a bead, written apart from the packing and by its docstring."""
    found = zlib.decompress(base64.b64decode(packed))
    steps = np.zeros((3, points), np.int64)
    for axis in range(3):
        total = 0
        for k in range(points):
            total = (total + found[2 * axis * points + k] + 256 * found[(2 * axis + 1) * points + k]) % 65536
            steps[axis, k] = total
    bits = [(found[6 * points + k // 8] >> (7 - k % 8)) & 1 for k in range(points)]
    return steps, np.array(bits, bool)


def test_what_is_packed_is_the_wall(page: Path) -> None:
    """Unpacked, each point is within what is said of where the path goes, and rows start with their layers."""
    survey = survey_file(page.parent / "bottle.gcode", Config())
    rows = np.arange(len(survey.layers))
    wall, packed = laid_wall(survey, 500_000), solid(Plan(survey, Config()), rows)
    steps, begins = unpacked(packed.packed, packed.points)
    off = np.array(packed.low_mm)[:, None] + steps * packed.step_mm - wall.places_mm
    assert np.linalg.norm(off, axis=0).max() <= packed.stray_mm
    assert begins.tolist() == wall.begins.tolist()
    assert packed.starts == tuple(np.searchsorted(wall.layer, rows).tolist())


def test_a_wide_piece_still_fits_two_bytes(tmp_path: Path) -> None:
    """A bed of two metres: steps get longer, and the error that is said with them."""
    lines = [
        "G21",
        "G90",
        "M83",
        "G28",
        "G1 F1800",
        "G0 X0 Y0 Z2",
        "G1 X2000 E9",
        "G1 Y1500 E9",
        "G1 X0 E9",
        "G1 Y0 E9",
    ]
    path = tmp_path / "wide.gcode"
    path.write_text("\n".join(lines) + "\n")
    config = Config()
    survey = survey_file(path, config)
    packed = solid(Plan(survey, config), np.array([len(survey.layers) - 1]))
    steps, _ = unpacked(packed.packed, packed.points)
    assert packed.step_mm == pytest.approx(2000 / 65535)
    assert packed.stray_mm == pytest.approx(packed.step_mm * 3**0.5 / 2)
    np.testing.assert_allclose((steps * packed.step_mm)[:2].max(axis=1), [2000, 1500], atol=packed.step_mm)


def test_all_scripts_and_looks_are_let_in_by_their_hashes(page: Path) -> None:
    """The policy names the SHA-256 of each script and of the style, as CSP level 3 asks, and nothing loose."""
    html = page.read_text("utf-8")
    policy = re.findall(r'Content-Security-Policy" content="([^"]*)"', html)[0].replace("&#39;", "'")
    for tag, kind in (("script", "script-src"), ("style", "style-src")):
        bodies = re.findall(rf"<{tag}>(.*?)</{tag}>", html, re.DOTALL)
        hashes = {
            f"'sha256-{base64.b64encode(hashlib.sha256(b.encode()).digest()).decode()}'" for b in bodies
        }
        assert set(re.findall(rf"{kind} ([^;]*)", policy)[0].split()) == hashes
        assert len(bodies) == (len(SCRIPTS) if tag == "script" else 1)
    assert "default-src 'none'" in policy
    assert not re.search(r"unsafe|https?:|\*", policy)
    assert "http://" not in html
    assert "https://" not in html


def test_hostile_words_stay_words_in_every_place(make_page: Callable[..., Path]) -> None:
    """Nowhere does markup from a config stand in the page as markup, in text, attribute or JSON."""
    own = OWN + f"sheet: {{before: [{json.dumps(HOSTILE)}]}}\nclay: {{colour: {json.dumps(HOSTILE)}}}\n"
    html = make_page("escaped.html", own).read_text("utf-8")
    assert "<img src=x" not in html
    assert "49" not in re.findall(r"data-tick=\"before 1 ([^\"]*)\"", html)[0]
    assert html.count("</script>") == html.count("<script") == len(SCRIPTS) + 2
    data = json.loads(re.findall(r'id="data">(.*?)</script>', html, re.DOTALL)[0])
    assert data["solid"]["colourings"][0]["legend"][0][0] == HOSTILE


def test_the_page_speaks_of_the_summary(page: Path, tmp_path: Path) -> None:
    """Waits, times and loads in its data are those of the JSON summary."""
    configs = Path(__file__).parents[2] / "configs"
    names = ["-c", str(configs / "studio.yaml"), "-c", str(configs / "two-colours.yaml")]
    names += ["-o", str(tmp_path / "out.gcode"), "--json", str(tmp_path / "out.json")]
    assert CliRunner().invoke(cli, ["run", str(page.parent / "bottle.gcode"), *names]).exit_code == 0
    summary = json.loads((tmp_path / "out.json").read_text())
    html = page.read_text("utf-8")
    data = json.loads(re.findall(r'id="data">(.*?)</script>', html, re.DOTALL)[0])
    assert [visit["clock_s"] for visit in data["visits"]] == [pause["clock_s"] for pause in summary["pauses"]]
    assert data["total_s"] == summary["time_s"]
    assert data["solid"]["layer"] == summary["layer_table"]["layer"]
    assert data["solid"]["clock_s"] == summary["layer_table"]["clock_s"]
    for cartridge in summary["cartridges"]:
        g = np.ceil(cartridge["to_load_g"] - 1e-6)
        assert f"<span>{cartridge['to_load_ml']:.0f} ml</span> <span>{g:.0f} g</span>" in html


def test_changes_stand_with_their_lines(page: Path) -> None:
    """Each change is folded in the page with lines of both files, and a few lines before and after it."""
    html = page.read_text("utf-8")
    folded = re.findall(r"<details><summary>What was changed</summary>(.*?)</details>", html, re.DOTALL)[0]
    source = (page.parent / "bottle.gcode").read_text().split("\n")
    output = (page.parent / "sheet.html.gcode").read_text().split("\n")
    assert "pause: swap" in folded
    parts = folded.split("<h3>")[1:]
    # whose lines stand inside the pause's
    parts = [part for part in parts if not part.startswith("fan: blower off while waiting")]
    assert len(parts) >= 3
    for part in parts:
        line = int(re.findall(r"from line (\d+) on", part)[0])
        was, now = re.findall(r'<dl class="lines">.*?<dd>(.*?)</dd>.*?<dd>(.*?)</dd>', part, re.DOTALL)[0]
        shown = [unescape(one) for one in re.findall(r"<code>(.*?)</code>", now, re.DOTALL)[0].split("\n")]
        assert shown == output[line - 1 : line - 1 + len(shown)]
        old = re.findall(r"<code>(.*?)</code>", was, re.DOTALL)
        number = int(re.findall(r"The first of them, (?:before )?line (\d+):", part)[0])
        assert [unescape(one) for one in old] == (source[number - 1 : number] if old else [])


def test_no_colour_is_guessed(make_page: Callable[..., Path]) -> None:
    """A clay without a swatch is grey in the drawing, whatever it is called."""
    html = make_page("grey.html", "clays: [{name: white stoneware, swatch: '#efe8dc'}]\n").read_text("utf-8")
    data = json.loads(re.findall(r'id="data">(.*?)</script>', html, re.DOTALL)[0])
    legend = dict(data["solid"]["colourings"][0]["legend"])
    red, green, blue = (int(legend["cobalt blue"][at : at + 2], 16) for at in (1, 3, 5))
    assert legend["white stoneware"] == "#efe8dc"
    assert max(red, green, blue) - min(red, green, blue) <= 16


def test_its_name_is_held_to_what_other_outputs_are(page: Path, tmp_path: Path) -> None:
    """A page is not written over the output, the source, or what is there already; nothing is written then."""
    source = page.parent / "bottle.gcode"
    (tmp_path / "there.html").write_text("mine")
    for name in (str(tmp_path / "out.gcode"), str(source), str(tmp_path / "there.html")):
        options = [
            "-c",
            str(Path(__file__).parents[2] / "configs" / "studio.yaml"),
            "-o",
            str(tmp_path / "out.gcode"),
        ]
        result = CliRunner().invoke(cli, ["run", str(source), *options, "--page", name])
        assert result.exit_code == 1, result.output
        assert sorted(path.name for path in tmp_path.iterdir()) == ["there.html"]
    assert (tmp_path / "there.html").read_text() == "mine"


def test_a_rehearsal_and_an_empty_recipe_have_a_page_too(page: Path, tmp_path: Path) -> None:
    """A rehearsal says that it is one; a job without waits says so."""
    source, studio = page.parent / "bottle.gcode", Path(__file__).parents[2] / "configs" / "studio.yaml"
    for name, more in (("a-rehearsal", ["--rehearse", "30"]), ("plain", [])):
        out = tmp_path / f"{name}.html"
        options = ["-c", str(studio), "-o", str(tmp_path / f"{name}.gcode"), "--page", str(out), *more]
        result = CliRunner().invoke(cli, ["run", str(source), *options])
        assert result.exit_code == 0, result.output
        html = plain(out.read_text("utf-8"))
        assert ("This is a rehearsal, 30 mm above" in html) == bool(more)
        assert say("page.never_waits") in html
