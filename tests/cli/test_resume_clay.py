"""`gpost resume`: which clay is where in the rest, what is to be wedged for it, and how sure it is."""

from __future__ import annotations

import re
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

from tests.cli.test_resume_command import CONFIG
from tests.resuming import resume, summary, vase_ran

STUDIO = """
machine:
  bed: {x_max_mm: 300, y_max_mm: 300}
  ceiling_mm: 300
  park: {x_mm: 15, y_mm: 15}
  pause: {relieve_ml: RELIEVE}
clay: {metering: {unit: filament, diameter_mm: 1.75, spread_percent: 3}, wet_density_g_ml: 1.8, colour: white}
clays: [{name: white}, {name: blue}, {name: red}]
"""
BANDS = """
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 12}
colours: {bands: [{to_mm: 20, clay: white}, {to_mm: 30, clay: blue}, {to_mm: 40, clay: red}, {clay: white}]}
steps: [{cold: {move_cold: true}}, {purge: {volume_ml: 8}}, {refill: {prime_ml: 4}}]
"""
REFILLED = """
cartridge: {volume_ml: 45, reserve_ml: 10, line_ml: 6}
steps: [{cold: {move_cold: true}}, {refill: {prime_ml: 2}}]
"""
SWAPPED = """
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 12}
steps: [{cold: {move_cold: true}}, {swap: {at_height_mm: 30, colour: blue, prime_ml: 4}}]
"""
LAYER_ML = 1.748
"""Clay of one of the vase's layers, net; only to tell apart what is one layer and what is none."""


def made(folder: Path, recipe: str, relieve_ml: float = 0.3) -> Path:
    """A folder with a vase of 25 layers of 2 mm, run with a recipe to `print.gcode`."""
    return vase_ran(folder, STUDIO.replace("RELIEVE", str(relieve_ml)) + recipe)


@pytest.fixture
def banded(tmp_path: Path) -> Path:
    """Four bands of colour in one cartridge."""
    return made(tmp_path, BANDS)


@pytest.fixture
def refilled(tmp_path: Path) -> Path:
    """One clay, and a refill."""
    return made(tmp_path, REFILLED)


def words(text: str) -> str:
    """A text without its line breaks."""
    return " ".join(text.split())


def edges(job: Path, name: str = "rest") -> list[tuple[list[str], float, float]]:
    """(clays, height asked for, height at which it shows) of each edge that a summary tells."""
    return [
        (list(edge["clays"]), edge["wanted_mm"], edge["start_mm"]) for edge in summary(job, name)["edges"]
    ]


def on_clay(found: dict[str, Any]) -> dict[str, Any]:
    """The clay of a summary with its name."""
    return {clay["name"]: clay for clay in found["clays"]}


def test_bands_show_where_the_run_had_them(banded: Path) -> None:
    """With nothing said, the edges that are still to come are those of the run, with how sure they are."""
    assert resume(banded, "--from-layer", 11).exit_code == 0
    assert summary(banded)["edges"] == summary(banded, "print")["edges"][1:]
    assert "Look at this first" not in resume(banded, "--from-layer", 11, "--overwrite").output
    shares = [(row["layer"], row["clays"]) for row in summary(banded)["shares"]]
    assert shares == [(11, {"blue": 1.0}), (15, {"red": 1.0}), (20, {"white": 1.0})]


def test_bands_come_sooner_by_what_is_run_out(banded: Path) -> None:
    """By three layers' clay and a half; what that does is said first."""
    result = resume(banded, "--from-layer", 11, "--run-out", 3.5 * LAYER_ML)
    assert edges(banded) == [(["red"], 30.0, 22.0), (["white"], 40.0, 32.0)]
    assert "red, asked for from 30.0 mm on, shows from 22.0 mm on" in words(result.output)
    # blue was at the nozzle, red behind it in the hose
    assert [list(slug["clays"]) for slug in summary(banded)["line"]["slugs"]] == [["blue"], ["red"]]


def test_the_next_cartridge_is_loaded_for_what_is_asked(banded: Path) -> None:
    """With less in the cartridge it comes off early; what it still held goes into the next one.

    The 4 ml of the refill's prime, which were not planned, bring what is in the hose forward by two layers and
    a part; what is loaded then shows where it is asked for.
    """
    assert resume(banded, "--from-layer", 9, "--left-ml", 16).exit_code == 0
    first, second = summary(banded)["cartridges"][:2]
    assert first["need_ml"] <= 6
    assert edges(banded) == [(["blue"], 20.0, 20.0), (["red"], 30.0, 24.0), (["white"], 40.0, 40.0)]
    assert [list(slug["clays"]) for slug in second["slugs"]] == [["red"], ["white"], ["white"]]


@pytest.mark.parametrize(
    ("said", "more_ml"),
    [
        (["--turned", "flow=110@2"], 0.1 * 9),
        (["--turned", "flow=150@9", "--turned", "flow=100@10"], 0.5),
        (["--turned", "flow=80@8.0mm"], -0.2 * 6),
        (["--turned", "speed=50@3"], 0.0),
    ],
)
def test_a_knob_turned_by_hand_moves_bands(banded: Path, said: list[str], more_ml: float) -> None:
    """So many layers' clay more have come, out of the cartridge and towards the wall."""
    result = resume(banded, "--from-layer", 11, *said)
    assert result.exit_code == 0, result.output
    assert resume(banded, "--from-layer", 11, name="plain").exit_code == 0
    more_ml *= LAYER_ML
    left = [summary(banded, name)["resume"]["stops"][0]["left_ml"] for name in ("rest", "plain")]
    assert left[1] - left[0] == pytest.approx(more_ml, abs=0.02)
    red, white = edges(banded)[-2:]
    for edge, asked_mm in ((red, 30.0), (white, 40.0)):
        layers = -more_ml / LAYER_ML
        assert edge[2] == asked_mm + 2 * (layers // 1)
    if more_ml:
        amount = (
            f"{abs(more_ml):.1f} ml {'more' if more_ml > 0 else 'less'} than planned have left cartridge 1"
        )
        assert amount in words(result.output)


def test_what_the_scales_say_counts(banded: Path) -> None:
    """A cartridge that has lost 27 g (15 ml of 1.8 g) has given 15 ml; in ml it is the same."""
    passed_ml = summary(banded, "print")["clay_ml"] - 15 * LAYER_ML
    assert resume(banded, "--from-layer", 11, "--came-g", 27).exit_code == 0
    assert resume(banded, "--from-layer", 11, "--came-ml", 15, name="ml").exit_code == 0
    loaded_ml = summary(banded, "print")["cartridges"][0]["to_load_ml"]
    assert summary(banded)["resume"]["stops"][0]["left_ml"] == pytest.approx(loaded_ml - 15)
    assert edges(banded) == edges(banded, "ml")
    late_mm = 2 * (passed_ml - 15) / LAYER_ML
    for _, asked_mm, shows_mm in edges(banded)[-2:]:
        assert shows_mm == pytest.approx(min(asked_mm + late_mm, 50), abs=2.1)


@pytest.mark.parametrize("relieve_ml", [0, 0.3, 2])
def test_what_a_refill_gives_again_is_in_what_the_scales_say(tmp_path: Path, relieve_ml: float) -> None:
    """A cartridge loaded with so much that has given 9 ml holds the rest, whatever was drawn back before."""
    folder = made(tmp_path, REFILLED, relieve_ml=relieve_ml)
    assert resume(folder, "--from-layer", 20, "--came-ml", 9).exit_code == 0
    stop = summary(folder)["resume"]["stops"][0]
    loaded_ml = summary(folder, "print")["cartridges"][1]["to_load_ml"]
    assert stop["left_ml"] == pytest.approx(loaded_ml - 9)


def test_it_stays_so_when_it_stops_again(banded: Path) -> None:
    """What was turned, run out and in the hose before is still so for the rest of the rest."""
    first = ["--turned", "flow=140@2", "--run-out", 2, "--hose-holds", "blue"]
    assert resume(banded, "--from-layer", 9, *first).exit_code == 0
    assert resume(banded, "--from-layer", 14, of="rest", name="last").exit_code == 0
    assert edges(banded, "last") == edges(banded)[-2:]
    used_ml = summary(banded)["clay_ml"] - summary(banded, "last")["clay_ml"]
    left = [summary(banded, name)["resume"]["stops"][-1]["left_ml"] for name in ("rest", "last")]
    assert left[1] == pytest.approx(left[0] - used_ml, abs=1e-3)


def test_nothing_to_wedge_is_said(banded: Path) -> None:
    """Where hose and cartridge hold all that the rest takes, that is what is said of clay to prepare."""
    result = resume(banded, "--from-layer", 11)
    assert "nothing to wedge: hose and cartridge hold all that the rest needs" in result.output
    assert sum(clay["clay_ml"] for clay in summary(banded)["clays"]) == pytest.approx(0, abs=1e-6)
    assert "it is on, with" in result.output


def test_what_is_run_out_is_wedged(banded: Path) -> None:
    """Loaded as told, the cartridge has too little for it by about that much: another one ends the piece.

    How to do without it is said, and is so.
    """
    result = resume(banded, "--from-layer", 11, "--run-out", 6)
    wedged = {name: clay["clay_ml"] for name, clay in on_clay(summary(banded)).items()}
    on, last = summary(banded)["cartridges"]
    assert wedged["white"] == pytest.approx(last["to_load_ml"])
    assert wedged["red"] == pytest.approx(0, abs=1e-6)
    said = re.search(r"To keep to the plan, weigh (\d+) ml more into it.* \(--left-ml (\d+)\)", words(result.output))
    assert said is not None
    more_ml, in_all_ml = map(int, said.groups())
    assert in_all_ml - more_ml == round(on["begins_ml"])
    assert 4 <= more_ml <= 6  # of what was added to be sure a part is not needed any more
    assert resume(banded, "--from-layer", 11, "--run-out", 6, "--left-ml", in_all_ml, name="full").exit_code == 0
    assert len(summary(banded, "full")["cartridges"]) == 1
    assert sum(clay["clay_ml"] for clay in summary(banded, "full")["clays"]) == pytest.approx(0, abs=1e-6)
    less = "--left-ml", in_all_ml - 1, "--overwrite"
    assert resume(banded, "--from-layer", 11, "--run-out", 6, *less, name="full").exit_code == 0
    assert len(summary(banded, "full")["cartridges"]) == 2


def test_a_cartridge_that_is_still_put_on_is_wedged(refilled: Path) -> None:
    """And no more than that: hose and the cartridge that is on hold the rest."""
    assert resume(refilled, "--from-layer", 5).exit_code == 0
    found = summary(refilled)
    assert [use["number"] for use in found["cartridges"]] == [1, 2]
    assert found["clays"][0]["clay_ml"] == pytest.approx(found["cartridges"][1]["to_load_ml"])
    held_ml = 6 + found["cartridges"][0]["begins_ml"]
    assert found["clays"][0]["on_ml"] == pytest.approx(held_ml)


@pytest.mark.parametrize("relieve_ml", [0.0, 0.3])
def test_what_is_left_of_a_cartridge_that_comes_off_at_once_keeps_its_clay(tmp_path: Path, relieve_ml: float) -> None:
    """Stopped right before a swap, nothing more is asked of the white cartridge: what is in it is white yet.

    By hand: 12 ml of the hose and what is in the cartridge are there; all of the blue is still loaded.
    """
    job = made(tmp_path, SWAPPED, relieve_ml)
    swap = summary(job, "print")["pauses"][0]
    assert resume(job, "--from-line", swap["output_line"]).exit_code == 0
    found = summary(job)
    on, later = found["cartridges"]
    wedged = {clay["name"]: clay for clay in found["clays"]}
    assert (on["need_ml"], on["begins_ml"] > 10) == (0, True)
    assert wedged["white"]["on_ml"] == pytest.approx(12 + on["begins_ml"])
    assert wedged["white"]["left_ml"] == pytest.approx(on["begins_ml"], abs=1e-5)
    assert (wedged["white"]["clay_ml"], wedged["blue"]["on_ml"]) == (pytest.approx(0, abs=1e-6), 0)
    assert wedged["blue"]["clay_ml"] == pytest.approx(later["to_load_ml"])
    said = words(resume(job, "--from-line", swap["output_line"], "--overwrite").output)
    assert f"{12 + on['begins_ml']:.0f} of it are in hose and cartridge already" in said.split("wedge blue")[0]


def test_cartridges_that_are_past_count_for_no_chance(refilled: Path) -> None:
    """The chance is that of the last one alone, whose clay E is unsure of by 3 % (JCGM 100:2008, 5.1.2)."""
    after = summary(refilled, "print")["pauses"][0]["layer"] + 1
    assert resume(refilled, "--from-layer", after, "--left-ml", 31).exit_code == 0
    found = summary(refilled)
    (use,) = found["cartridges"]
    likely = NormalDist(0, 0.03 * use["need_ml"]).cdf(use["need_ml"] - (31 - 10))
    assert found["sure"]["dry_percent"] == pytest.approx(100 * likely, abs=0.02)
    assert use["dry_percent"] == pytest.approx(100 * likely, abs=1e-6)
    assert summary(refilled, "print")["sure"]["dry_percent"] > 1 > found["sure"]["dry_percent"]
    assert {knob["cartridge"] for knob in found["knobs"]} == {2}
    assert all(0 <= knob["from_s"] <= found["time_s"] for knob in found["knobs"])
    assert found["weighings"] == []
    assert len(found["layer_table"]["clay_ml"]) == len(found["layer_table"]["layer"])


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (
            ["--hose-holds", "gren"],
            "gren is none of the studio's clays (clays): white, blue, red; is it misspelt",
        ),
        (["--hose-holds", "blu"], "blue and blu count as two clays"),
        (["--run-out", "5000"], "--run-out asks for 5000 ml, and cartridge 1 gives 29.44 ml: 39.44 ml"),
        (["--run-out", "60"], "Run out less, or weigh more into it, or put a fuller one on"),
        (["--turned", "flow=110@20"], "--turned flow=110@20: the print has stopped below that"),
        (["--turned", "flow=110@45mm"], "the print has stopped below that"),
        (["--turned", "flow=400@1"], "all reserve"),
        (["--came-ml", "95"], "can't have given 95 ml: loaded as was told it held 68 ml"),
    ],
)
def test_refused_with_what_to_do(banded: Path, args: list[str], said: str) -> None:
    """What can't be so is refused in its own words, and nothing is written."""
    result = resume(banded, "--from-layer", 11, *args)
    assert result.exit_code == 1, result.output
    assert said in words(result.output)
    assert not (banded / "rest.gcode").exists()


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--waited", "1e9"], "more than a week, and a wall is dry by then"),
        (["--came-ml", "5", "--turned", "flow=110@3"], "in one way"),
        (["--came-ml", "5", "--came-g", "9"], "in one way"),
        (["--turned", "flow=110"], "flow=110@40"),
        (["--turned", "flow=999@4"], "not from 10 to 400"),
    ],
)
def test_wrong_usage(banded: Path, args: list[str], said: str) -> None:
    """It is said how to write it, and status 2 ends it."""
    result = resume(banded, "--from-layer", 11, *args)
    assert result.exit_code == 2
    assert said in words(result.output)


def test_a_long_wait_is_said_as_one(banded: Path) -> None:
    """A day's wait runs the hose out, and the wall's clay is asked for before it goes on."""
    result = resume(banded, "--from-layer", 11, "--waited", 1440)
    assert result.exit_code == 0, result.output
    assert "After so long the wall is no longer soft" in words(result.output)
    assert summary(banded)["resume"]["stops"][0]["run_out_ml"] == 12


def test_notes_are_of_what_is_to_come(tmp_path: Path) -> None:
    """Neither cartridges that are empty, nor waits that have been, nor a colour that shows already."""
    own = "  - remind: {at_heights_mm: [12, 40, 44], how: pause, text: Look}\n  - tally\n"
    job = vase_ran(tmp_path, CONFIG.replace("volume_ml: 90", "volume_ml: 42") + own)
    layers = {}
    for layer in (15, 19):
        assert resume(job, "--from-layer", layer, name=f"from-{layer}").exit_code == 0
        layers[layer] = "\n".join(summary(job, f"from-{layer}")["notes"])
    for notes in layers.values():
        assert re.findall(r"the (\w+) pause at layer (\d+)", notes) == [("remind", "20"), ("remind", "22")]
        assert "cartridge 1" not in notes
    assert ["blue is expected from" in layers[layer] for layer in (15, 19)] == [True, False]
