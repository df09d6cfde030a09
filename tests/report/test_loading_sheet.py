"""The loading sheet in words, as JSON and as a picture."""

from __future__ import annotations

import itertools
import json
import xml.etree.ElementTree as ET
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Config, Pause, Plan
from gpost.report.summary import CAUTIONS
from gpost.report.wording import clock
from gpost.supply.loading import LoadingSheet, loading_sheet
from gpost.testing import layer_start, make_survey
from gpost.workbook.load.picture import PALETTE, TAKE_CARE, loading_svg, mixed, palette
from gpost.workbook.load.words import HANDLING, loading_json, loading_text

POT = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10)
BLEND = ({"to_mm": 60, "clay": "white"}, {"blend": ["white", "cobalt blue"], "steps": 3})
SVG = "{http://www.w3.org/2000/svg}"


def job(*entries: dict[str, Any], cartridge: Any = None, **more: Any) -> tuple[Plan, LoadingSheet]:
    """The pot with bands; line 60 ml, bore 60 mm."""
    base = {"line_ml": 60, "bore_mm": 60, **(cartridge or {})}
    bands = {"bands": list(entries or BLEND), **more}
    plan = Plan(POT, Config.model_validate({"cartridge": base, "colours": bands}))
    return plan, loading_sheet(plan)


def rects(picture: str) -> list[ET.Element]:
    """Every rectangle of the picture but its ground."""
    return list(ET.fromstring(picture).iter(f"{SVG}rect"))[1:]


def test_the_sheet_says_what_goes_in_first() -> None:
    """Each slug with ml, g and mm in the order of loading, and what that order is."""
    text = loading_text(*job(), name="pot.gcode")
    assert "Cartridge 1, filled from the plunger's end: what goes in first comes out first" in text
    assert text.index("230 ml, 428 g, 81 mm  white") < text.index("75 % white, 25 % cobalt blue")
    assert text.index("25 % white, 75 % cobalt blue") < text.index("(reserve, stays")
    assert "comes out LAST" in loading_text(*job(loaded_from="outlet"), name="pot.gcode")


def test_a_mixture_says_what_to_wedge() -> None:
    """Grams of each clay."""
    text = " ".join(loading_text(*job(), name="pot.gcode").split())
    assert "75 % white, 25 % cobalt blue: wedge 237 g white, 79 g cobalt blue" in text


def test_a_mixed_change_is_told_with_trace_and_full() -> None:
    """A plug has one height, a line that mixes three."""
    mixing = loading_text(*job(cartridge={"mixing_stages": 9}), name="a")
    assert "(half; a trace from" in mixing
    assert "a trace" not in loading_text(*job(), name="a").partition("On the piece")[2].partition("Take")[0]


def test_warnings_are_told() -> None:
    """A line that holds another clay."""
    assert "Warnings" in loading_text(*job(line_holds="grey"), name="a")
    assert "Warnings" not in loading_text(*job(), name="a")


@given(st.text(max_size=100), st.sampled_from(["plunger", "outlet"]))
def test_text_fits_and_is_harmless(name: str, end: str) -> None:
    """Whatever the name, every line is printable and at most 80 characters long."""
    text = loading_text(*job(loaded_from=end), name=name)
    assert all(len(line) <= 80 and line.isprintable() for line in text.split("\n"))


def test_json_holds_every_slug_in_the_order_of_loading() -> None:
    """With the mass of each clay; what is loaded is the sum."""
    document = json.loads(loading_json(*job(), name="pot.gcode"))
    (cartridge,) = document["cartridges"]
    slugs = [*document["line"], *cartridge["slugs"]]
    assert sum(slug["clay_ml"] for slug in slugs) == pytest.approx(800 + 60 + 50)
    assert document["loaded_ml"]["white"] == pytest.approx(
        sum(slug["clays"].get("white", 0) * slug["clay_ml"] for slug in slugs)
    )
    assert cartridge["slugs"][1]["wet_g_of"] == {
        "white": pytest.approx(0.75 * cartridge["slugs"][1]["wet_g"]),
        "cobalt blue": pytest.approx(0.25 * cartridge["slugs"][1]["wet_g"]),
    }
    assert [edge["wanted_mm"] for edge in document["edges"]] == pytest.approx(
        [60, 60 + 100 / 3, 60 + 200 / 3]
    )
    assert (document["version"], document["source"]) == (1, "pot.gcode")


def test_json_has_totals_shares_and_cautions() -> None:
    """A cartridge's ml, grams and mm are those of its slugs; each layer's shares add up to 1."""
    document = json.loads(loading_json(*job(cartridge={"mixing_stages": 9}), name="pot.gcode"))
    (cartridge,) = document["cartridges"]
    for key in ("clay_ml", "wet_g", "length_mm"):
        assert cartridge[key] == pytest.approx(sum(slug[key] for slug in cartridge["slugs"]))
    layers = document["layers"]
    assert [layer["layer"] for layer in layers] == list(range(1, 81))
    assert all(sum(layer["clays"].values()) == pytest.approx(1, abs=2e-3) for layer in layers)
    assert layers[0]["clays"] == {"white": 1}
    assert layers[-1]["clays"] == {
        "white": pytest.approx(0.25, abs=0.03),
        "cobalt blue": pytest.approx(0.75, abs=0.03),
    }
    assert document["cautions"] == [*HANDLING, *CAUTIONS]


def test_a_bore_that_is_not_known_gives_no_length() -> None:
    """Null, and not nought."""
    document = json.loads(loading_json(*job(cartridge={"bore_mm": None}), name="pot.gcode"))
    assert document["cartridges"][0]["length_mm"] is None


def test_the_text_tells_the_shares_across_a_change() -> None:
    """White to blue at 62 mm, half there, and every few mm of the change; nothing for a plug."""
    bands = ({"to_mm": 61, "clay": "white"}, {"clay": "blue"})
    plan, sheet = job(*bands, cartridge={"mixing_stages": 9})
    text = loading_text(plan, sheet, name="a")
    rows = [line for line in text.splitlines() if line.startswith("  - at ")]
    assert 4 <= len(rows) <= 13
    blue = float(sheet.shares(305)["blue"])
    assert f"  - at 62 mm: {blue * 100:.0f} % blue, {100 - blue * 100:.0f} % white" in rows
    assert "  - at " not in loading_text(*job(*bands), name="a")


def test_later_cartridges_say_when_they_are_due() -> None:
    """Layer, height and clock in words, in JSON and in the picture; the first is put on before."""
    survey_plan, _ = job({"clay": "white"})
    pause = Pause(layer_start(POT, 51), "refill", "", "", new_cartridge=True)
    plan = survey_plan.adding("test", [pause])
    sheet = loading_sheet(plan)
    seconds = plan.clock_before(pause.spot.line)
    text = " ".join(loading_text(plan, sheet, name="a").split())
    assert f"due at layer 51 (102.0 mm), {clock(seconds)} h (h:mm) after the start" in text
    assert text.count("due at") == 1
    first, second = json.loads(loading_json(plan, sheet, name="a"))["cartridges"]
    assert first["due"] == {"layer": 0, "height_mm": 0, "clock_s": 0}
    assert second["due"] == {"layer": 51, "height_mm": 102, "clock_s": pytest.approx(seconds)}
    assert f"cartridge 2, due at 102 mm, {clock(seconds)} h" in loading_svg(plan, sheet, name="a")


def test_the_usual_cautions_follow_those_of_the_slugs() -> None:
    """Hands, dust, water and plugs, food, local codes; the picture sends one to them."""
    plan, sheet = job()
    care = " ".join(loading_text(plan, sheet, name="a").partition("Take care")[2].split())
    places = [care.index(text) for text in (*HANDLING, *CAUTIONS)]
    assert places == sorted(places)
    assert TAKE_CARE in loading_svg(plan, sheet, name="a")


# ---- the picture ----


def test_the_picture_has_a_bar_a_layer_and_a_block_a_slug() -> None:
    """80 layers, the hose's clay, five slugs, two clays in the legend."""
    plan, sheet = job()
    assert len(rects(loading_svg(plan, sheet, name="pot"))) == 80 + len(sheet.slugs) + 2
    assert len(sheet.slugs) == 6


def test_the_piece_is_coloured_as_it_is_expected() -> None:
    """The lowest layer has the first clay's colour, the highest the last mixture's."""
    plan, sheet = job()
    colours = palette(sheet.clays)
    bars = rects(loading_svg(plan, sheet, name="pot"))[:80]
    assert bars[0].get("fill") == colours["white"]
    assert bars[-1].get("fill") == mixed({"white": 0.25, "cobalt blue": 0.75}, colours)


def test_the_slugs_lie_on_one_another_outlet_down() -> None:
    """What comes out first is lowest; heights go by volume, and nothing overlaps."""
    plan, sheet = job()
    blocks = rects(loading_svg(plan, sheet, name="pot"))[81:-2]
    tops = [float(block.get("y", 0)) for block in blocks]
    talls = [float(block.get("height", 0)) for block in blocks]
    assert tops == sorted(tops, reverse=True)
    for upper, lower in zip(range(1, len(tops)), range(len(tops)), strict=False):
        assert tops[upper] + talls[upper] == pytest.approx(tops[lower], abs=0.02)
    assert talls[0] / talls[1] == pytest.approx(sheet.slugs[1].clay_ml / sheet.slugs[2].clay_ml, rel=1e-2)


@pytest.mark.parametrize("steps", [5, 14, 40])
def test_labels_do_not_lie_on_one_another(steps: int) -> None:
    """Thin slugs, few or many: each label has its own place in the picture, two lines apart from the next."""
    plan, sheet = job({"blend": ["white", "cobalt blue"], "steps": steps})
    picture = ET.fromstring(loading_svg(plan, sheet, name="pot"))
    labels = [
        float(text.get("y", 0))
        for text in picture.iter(f"{SVG}text")
        if (text.text or "").endswith(("in white", "reserve"))
    ]
    tube = sorted(labels[len(sheet.of(0)) :])
    assert len(tube) == len(sheet.of(1))
    assert all(after - before >= 28 for before, after in itertools.pairwise(tube))
    assert max(tube) < float(picture.get("height", 0))


def test_names_cannot_break_the_picture() -> None:
    """What looks like a tag stays words."""
    plan, sheet = job({"clay": "</svg><script>"})
    texts = [
        text.text or "" for text in ET.fromstring(loading_svg(plan, sheet, name="<b>&")).iter(f"{SVG}text")
    ]
    assert "Loading sheet: <b>&" in texts
    assert any("</svg><script>" in text for text in texts)


def test_each_clay_has_its_own_colour() -> None:
    """By the colour its name tells, or the palette's next; two clays never share one while any is free."""
    found = palette(["white stoneware", "Cobalt Blue", "sky blue", "marl", "slip"])
    assert len(set(found.values())) == 5
    assert found["marl"] in PALETTE
    assert palette(["blue clay"])["blue clay"] == found["Cobalt Blue"]


def test_colours_mix_by_shares() -> None:
    """Half black and half white are grey."""
    assert mixed({"a": 0.5, "b": 0.5}, {"a": "#000000", "b": "#ffffff"}) == "#808080"
    assert mixed({"a": 1.0}, {"a": "#123456"}) == "#123456"
