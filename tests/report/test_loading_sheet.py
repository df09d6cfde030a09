"""The loading sheet in words and as JSON."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Config, Pause, Plan
from gpost.report.summary import CAUTIONS
from gpost.report.wording import clock
from gpost.supply.loading import LoadingSheet, loading_sheet
from gpost.testing import layer_start, make_survey
from gpost.workbook.load.words import HANDLING, loading_json, loading_text

POT = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10)
BLEND = ({"to_mm": 60, "clay": "white"}, {"blend": ["white", "cobalt blue"], "steps": 3})


def job(*entries: dict[str, Any], cartridge: Any = None, **more: Any) -> tuple[Plan, LoadingSheet]:
    """The pot with bands; line 60 ml, bore 60 mm."""
    base = {"line_ml": 60, "bore_mm": 60, **(cartridge or {})}
    bands = {"bands": list(entries or BLEND), **more}
    plan = Plan(POT, Config.model_validate({"cartridge": base, "colours": bands}))
    return plan, loading_sheet(plan)


def test_the_sheet_says_what_goes_in_first() -> None:
    """Each slug with ml, g and mm in the order of loading, and what that order is."""
    text = loading_text(*job(), name="pot.gcode")
    assert "Cartridge 1, filled from the plunger's end: what goes in first comes out first" in text
    assert text.index("230 ml, 428 g, 82 mm  white") < text.index("75 % white, 25 % cobalt blue")
    assert text.index("25 % white, 75 % cobalt blue") < text.index("(stays behind)")
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
    """Layer, height and clock in words and in JSON; the first is put on before."""
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


def test_the_usual_cautions_follow_those_of_the_slugs() -> None:
    """Hands, dust, water and plugs, food, local codes."""
    plan, sheet = job()
    care = " ".join(loading_text(plan, sheet, name="a").partition("Take care")[2].split())
    places = [care.index(text) for text in (*HANDLING, *CAUTIONS)]
    assert places == sorted(places)
