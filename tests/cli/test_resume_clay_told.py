"""`gpost resume`: what is told of the clay in the cartridge, stopped once or twice, and what to do if it lacks."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

from tests.cli.test_resume_clay import made, words
from tests.resuming import resume, summary, tail

PLAIN = """
cartridge: {volume_ml: 90, reserve_ml: 10, reserve_spread_ml: 2, empty_g: 300, line_ml: 6}
steps: [{cold: {move_cold: true}}, {purge: {volume_ml: 3}}]
"""
REFILLED = """
cartridge: {volume_ml: 45, reserve_ml: 10, reserve_spread_ml: 2, empty_g: 300, line_ml: 6}
steps: [{cold: {move_cold: true}}, {purge: {volume_ml: 3}}, {refill: {prime_ml: 2}}]
"""
ROOMY = PLAIN.replace("{volume_ml: 3}}", "{volume_ml: 3}}, {refill: {prime_ml: 2}}")
OFF = 0.03
"""The studio's spread of E, a share."""
RESERVE_ML, SPREAD_ML = 10, 2


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One clay from one cartridge, loaded with less than it holds; no refill."""
    return made(tmp_path_factory.mktemp("plain"), PLAIN)


@pytest.fixture(scope="module")
def refilled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One clay, and a refill."""
    return made(tmp_path_factory.mktemp("refilled"), REFILLED)


def done(folder: Path, *args: object, of: str = "print", name: str = "rest") -> dict[str, Any]:
    """The summary of a rest that is written."""
    result = resume(folder, *args, "--overwrite", of=of, name=name)
    assert result.exit_code == 0, result.output
    return summary(folder, name)


def on(found: dict[str, Any]) -> float:
    """Clay that a summary tells to be in the cartridge that is on."""
    cartridge = found["cartridges"][0]
    assert cartridge["is_on"]
    assert cartridge["begins_ml"] == cartridge["to_load_ml"] == found["resume"]["stops"][-1]["left_ml"]
    return float(cartridge["begins_ml"])


WAYS: list[list[object]] = [
    [],
    ["--left-ml", 90],
    ["--left-ml", 61.3],
    ["--left-g", 120],
    ["--came-g", 20],
    ["--came-ml", 9],
    ["--turned", "flow=90@3"],
    ["--run-out", 1],
    ["--left-ml", 80, "--run-out", 6],
]


@pytest.mark.parametrize("said", WAYS)
def test_what_is_told_at_a_second_stop_follows_from_the_first(plain: Path, said: list[object]) -> None:
    """It is what was told at the first, less what the rest was to give until then; a weight counts from there."""
    whole = summary(plain, "print")
    loaded_ml, first = whole["cartridges"][0]["to_load_ml"], done(plain, "--from-layer", 10, *said)
    gone_ml = whole["clay_ml"] - first["clay_ml"] + first["resume"]["stops"][0]["run_out_ml"]
    if said in ([], ["--run-out", 1]):
        assert on(first) == pytest.approx(loaded_ml - gone_ml, abs=1e-6)
    second = done(plain, "--from-layer", 18, of="rest", name="last")
    assert on(second) == pytest.approx(on(first) - (first["clay_ml"] - second["clay_ml"]), abs=1e-6)
    if not said:
        assert on(second) == pytest.approx(on(done(plain, "--from-layer", 18, name="direct")), abs=1e-6)
    weighed = done(plain, "--from-layer", 18, "--came-ml", 5, of="rest", name="last")
    assert on(weighed) == pytest.approx(on(first) - 5, abs=1e-6)


def test_a_summary_of_an_earlier_gpost_is_gone_on_with(plain: Path) -> None:
    """It has planned with as much as the cartridge holds, and told beside that what was loaded: that counts."""
    first = done(plain, "--from-layer", 10, name="new")
    second = done(plain, "--from-layer", 18, of="new", name="last")
    (stop,) = first["resume"]["stops"]
    stop["left_ml"] += 90 - summary(plain, "print")["cartridges"][0]["to_load_ml"]
    del stop["told_ml"]
    (plain / "old.json").write_text(json.dumps(first))
    assert on(done(plain, "--from-layer", 18, of="old", name="again")) == pytest.approx(on(second), abs=1e-9)
    assert tail(plain / "again.gcode") == tail(plain / "last.gcode")


@pytest.mark.parametrize("came_ml", [9.0, 21.0, 25.0])
@pytest.mark.parametrize("recipe", [ROOMY, REFILLED])
def test_one_fact_said_in_two_ways_is_one_file(tmp_path: Path, recipe: str, came_ml: float) -> None:
    """What a cartridge has given, and what is left in it: a refill comes where that ends."""
    folder = made(tmp_path, recipe)
    loaded_ml = summary(folder, "print")["cartridges"][0]["to_load_ml"]
    came = done(folder, "--from-layer", 8, "--came-ml", came_ml, name="came")
    left = done(folder, "--from-layer", 8, "--left-ml", loaded_ml - came_ml, name="left")
    assert tail(folder / "came.gcode") == tail(folder / "left.gcode")
    assert came["cartridges"] == left["cartridges"]
    assert came["sure"] == left["sure"]


def test_a_rest_that_must_run_dry_is_refused_with_what_to_do(plain: Path) -> None:
    """As a run is; with as much more as is said, and no less, nothing more is said of it."""
    result = resume(plain, "--from-layer", 12, "--run-out", 6, name="dry")
    assert (result.exit_code, (plain / "dry.gcode").exists()) == (1, False)
    said = re.search(
        r"short-clay.*runs out here: (\d+) ml are asked of it, and (\d+) ml can be counted on; weigh (\d+) ml "
        r"more into it, or put another one on, .*\(--left-ml (\d+)\)",
        words(result.output),
    )
    assert said is not None, result.output
    asked_ml, usable_ml, more_ml, left_ml = map(int, said.groups())
    has_ml = on(done(plain, "--from-layer", 12))
    need_ml = done(plain, "--from-layer", 12)["cartridges"][0]["need_ml"] + 6
    assert (asked_ml, usable_ml) == (round(need_ml), round(has_ml - RESERVE_ML))
    # the margin for 5 %: a normal distribution, the spreads of E and of what stays behind (JCGM 100:2008)
    sure_ml = need_ml + RESERVE_ML + NormalDist().inv_cdf(0.95) * math.hypot(OFF * need_ml, SPREAD_ML)
    assert left_ml == math.ceil(sure_ml)
    assert more_ml == left_ml - round(has_ml)
    enough = done(plain, "--from-layer", 12, "--run-out", 6, "--left-ml", left_ml)
    assert enough["warnings"] == []
    less = done(plain, "--from-layer", 12, "--run-out", 6, "--left-ml", left_ml - 1)
    (warning,) = less["warnings"]
    assert f"weigh 1 ml more into it, or put another one on, and write the rest with what is in it then (--left-ml {left_ml})" in warning
    in_spite = resume(plain, "--from-layer", 12, "--run-out", 6, "--allow", "short-clay", "--overwrite")
    assert in_spite.exit_code == 0
    load = words(in_spite.output).partition(" Load ")[2]
    assert "TOO LITTLE" in load.partition("Before you start")[0]


def test_a_rest_that_may_run_dry_says_so(plain: Path) -> None:
    """First of all, under Load, and in the JSON, with what to do: the chance by the closed form."""
    need_ml = done(plain, "--from-layer", 12)["cartridges"][0]["need_ml"]
    left_ml = round(need_ml + RESERVE_ML + 1, 1)
    result = resume(plain, "--from-layer", 12, "--left-ml", left_ml, "--overwrite")
    found, said = summary(plain), words(result.output)
    likely = NormalDist(0, math.hypot(OFF * need_ml, SPREAD_ML)).cdf(need_ml + RESERVE_ML - left_ml)
    assert found["sure"]["dry_percent"] == pytest.approx(100 * likely, abs=0.02)
    (warning,) = found["warnings"]
    assert f"in {100 * likely:.0f} % of all prints it has too little" in warning
    must_ml = math.ceil(need_ml + RESERVE_ML + NormalDist().inv_cdf(0.95) * math.hypot(OFF * need_ml, SPREAD_ML))
    what = f"weigh {must_ml - round(left_ml)} ml more into it, or put another one on"
    assert what in warning
    assert "Look at this first" in said
    assert f"That may be too little: {what}" in said
    load = said.partition(" Load ")[2].partition("Before you start")[0]
    assert re.search(rf"it could run dry, .*in {100 * likely:.0f} % of all prints", load)


@pytest.mark.parametrize("layer", [4, 8, 11])
def test_the_card_of_weights_is_that_of_the_run(refilled: Path, layer: int) -> None:
    """The same cartridge weighs the same when it comes off, with as much in it where it goes on as Load says."""
    (card,) = summary(refilled, "print")["weighings"]
    found = done(refilled, "--from-layer", layer)
    (mine,) = found["weighings"]
    assert mine["held_ml"] == pytest.approx(on(found), abs=1e-9)
    assert mine["left_g"] == pytest.approx(card["left_g"], abs=0.1)
    text = words(resume(refilled, "--from-layer", layer, "--overwrite").output)
    assert f"put on with {round(on(found))} ml it weighed" in text


def test_the_card_counts_from_what_was_said(refilled: Path) -> None:
    """A cartridge filled to the brim where it goes on weighs that, less what it gives."""
    found = done(refilled, "--from-layer", 8, "--left-ml", 45)
    (card,) = found["weighings"]
    assert card["held_ml"] == 45
    assert card["held_g"] == pytest.approx(45 * 1.8)
    # what is drawn back before it comes off is in it again: the studio's 0.3 ml
    assert card["left_g"] == pytest.approx((45 - found["cartridges"][0]["clay_ml"] + 0.3) * 1.8, abs=1e-6)


@pytest.mark.parametrize("left_ml", [48.4, 48.6, 49.4, 49.5, 60.0])
def test_one_amount_is_one_number(plain: Path, left_ml: float) -> None:
    """What is in the cartridge that is on is the nearest whole ml wherever it is said."""
    result = resume(plain, "--from-layer", 10, "--left-ml", left_ml, "--overwrite")
    assert result.exit_code == 0, result.output
    assert set(re.findall(r"(\d+) ml (?:or more )?in it", words(result.output))) == {str(round(left_ml))}


@pytest.mark.parametrize("grams", [90 * 1.8 * 1.06, 300 + 40 * 1.8, 5000])
def test_more_than_a_cartridge_holds_is_asked_about(plain: Path, grams: float) -> None:
    """A weight of clay and cartridge together is not taken for a full one; nothing is written."""
    result = resume(plain, "--from-layer", 10, "--left-g", grams, name="heavy")
    assert result.exit_code == 1
    assert "more than the 90 ml that a cartridge holds" in words(result.output)
    assert "weighed with its cartridge?" in words(result.output)
    assert not (plain / "heavy.gcode").exists()


def test_a_heaped_cartridge_is_full(plain: Path) -> None:
    """A weight that comes to hardly more than it holds is that of a full one."""
    assert on(done(plain, "--from-layer", 10, "--left-g", 90 * 1.8 * 1.04, name="heaped")) == 90
