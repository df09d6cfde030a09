"""One number to load for each cartridge: the same in every output, rounded up, and slugs that add up to it."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from gpost.cli import cli
from gpost.demo.gcode import class_pieces
from gpost.report.parts import CartridgeRecord, SlugRecord
from gpost.report.toload import portions, what_to_load, whole_parts
from tests.page.browser import plain
from tests.sliced import write_piece

STUDIO = """
clay: {metering: {unit: filament, diameter_mm: 1.75, spread_percent: 3}, colour: white}
cartridge: {volume_ml: 400, reserve_ml: 20, line_ml: 30, bore_mm: 60, empty_g: 400, mixing_stages: 12, plug_part: 0.4}
"""
SWAP = "steps: [cold, {swap: {at_height_mm: 60, colour: blue}}]\n"
BLEND = """
cartridge: {volume_ml: 1500, least_slug_mm: 1}
colours: {bands: [{to_mm: 20, clay: white}, {to_mm: 100, blend: [white, blue], steps: 12}, {clay: blue}]}
steps: [cold]
"""


def outputs(folder: Path, recipe: str) -> tuple[dict[str, Any], str, str]:
    """(summary, text, page) of the twisted bottle."""
    write_piece(folder / "bottle.gcode", *class_pieces()["twisted-bottle"])
    (folder / "studio.yaml").write_text(STUDIO)
    (folder / "recipe.yaml").write_text(recipe)
    names = ["-c", str(folder / "studio.yaml"), "-c", str(folder / "recipe.yaml")]
    names += ["-o", str(folder / "out.gcode"), "--page", str(folder / "out.html")]
    names += ["--json", str(folder / "out.json")]
    done = CliRunner().invoke(cli, ["run", str(folder / "bottle.gcode"), *names])
    assert done.exit_code == 0, done.output
    html = plain((folder / "out.html").read_text("utf-8"))
    return json.loads((folder / "out.json").read_text()), " ".join(done.output.split()), html


def pictures(html: str) -> str:
    """What all pictures of a page say in words: each `alt`."""
    return " ".join(re.findall(r'<img [^>]*alt="([^"]*)"', html))


@pytest.mark.parametrize("recipe", [SWAP, BLEND])
def test_text_page_pictures_and_json_say_one_number(tmp_path: Path, recipe: str) -> None:
    """The one that is 95 % sure, up to whole ml and grams: never less than what is needed, in no output."""
    summary, text, html = outputs(tmp_path, recipe)
    for cartridge in summary["cartridges"]:
        ml, g = cartridge["to_load_ml"], math.ceil(cartridge["to_load_g"] - 1e-6)
        assert ml == math.ceil(cartridge["sure_load_ml"] - 1e-6) > cartridge["load_ml"]
        assert re.search(rf"load at least {ml:.0f} ml\*? \({g} g\*? wet\) to be 95 % sure", text)
        assert f"<span>{ml:.0f} ml</span> <span>{g} g</span>" in html
        assert f"Cartridge {cartridge['number']} ({ml:.0f} ml) ends at" in pictures(html)
        if cartridge["slugs"]:
            assert sum(slug["clay_ml"] for slug in cartridge["slugs"]) == pytest.approx(ml)
            assert sum(slug["wet_g"] for slug in cartridge["slugs"]) == pytest.approx(cartridge["to_load_g"])
        else:
            assert f"{ml:.0f} ml, {g} g" in pictures(html)


def test_the_slugs_that_are_shown_add_up(tmp_path: Path) -> None:
    """On the page and in the text, ml and grams; and what is wedged for a slug adds up to its grams."""
    summary, text, html = outputs(tmp_path, BLEND)
    (cartridge,) = summary["cartridges"]
    ml, g = cartridge["to_load_ml"], math.ceil(cartridge["to_load_g"] - 1e-6)
    said = re.findall(r"\d+\. [^:]*: (\d+) ml, (\d+) g, \d+ mm", text)
    shown = re.findall(r"<td><span>(\d+) ml,</span> <span>(\d+) g,</span>", html)
    assert len(cartridge["slugs"]) > 10
    for rows in (said, shown):
        assert len(rows) == len(cartridge["slugs"])
        assert (sum(int(row[0]) for row in rows), sum(int(row[1]) for row in rows)) == (ml, g)
    wedged = re.findall(
        r"wedge (\d+) g white, (\d+) g blue</span></td>\s*<td><span>\d+ ml,</span> <span>(\d+) g", html
    )
    assert len(wedged) > 8
    assert all(int(white) + int(blue) == int(whole) for white, blue, whole in wedged)


@given(st.lists(st.floats(0, 5000), min_size=1, max_size=40))
def test_whole_parts_add_up_and_none_is_off_by_one(parts: list[float]) -> None:
    """Rounded up or down as a whole: they add up to it, and each is its own, down or up."""
    for whole in (math.floor(sum(parts)), math.ceil(sum(parts))):
        found = whole_parts(parts, whole)
        if whole >= sum(map(math.floor, parts)):
            assert sum(found) == whole
            pairs = zip(found, parts, strict=True)
            assert all(one in (math.floor(part), math.floor(part) + 1) for one, part in pairs)


def test_largest_remainders_come_first() -> None:
    """The textbook case of Hamilton's method: 1.5, 1.4 and 1.1 of 4."""
    assert whole_parts([1.4, 1.5, 1.1], 4) == [1, 2, 1]


def test_a_record_that_is_older_is_read() -> None:
    """Without `to_load_ml` it is what was told then: the sure load, or the least."""
    old = CartridgeRecord(number=1, colour="white", clay_ml=80, wet_g=150, usable_ml=280, over_ml=0)
    assert what_to_load(old.model_copy(update={"load_ml": 100.2, "load_g": 186.4}))[:2] == (101, 187)
    sure = {"load_ml": 100.2, "load_g": 186.4, "sure_load_ml": 105.01, "sure_load_g": 195.3}
    assert what_to_load(old.model_copy(update=sure))[:2] == (106, 196)


def test_what_is_on_already_is_what_is_in_it() -> None:
    """Nothing is loaded into it."""
    on = CartridgeRecord(
        number=2, colour="blue", clay_ml=80, wet_g=150, usable_ml=280, over_ml=0,
        to_load_ml=200, to_load_g=400, begins_ml=150.2, is_on=True,
    )  # fmt: skip
    assert what_to_load(on)[:2] == (150, 300)


def test_grams_of_a_mixture_add_up() -> None:
    """Three thirds of 10 g are 4, 3 and 3."""
    third = {"a": 1 / 3, "b": 1 / 3, "c": 1 / 3}
    (portion,) = portions([SlugRecord(clays=third, clay_ml=5.5, wet_g=10.0)])
    assert (portion.ml, portion.g, sum(portion.g_of.values())) == (6, 10, 10)
    assert sorted(portion.g_of.values()) == [3, 3, 4]
