"""Recipes that stop and go on: the clay that a rest's summary tells is what a tape of clay gives.

The files that were written are followed by the reference interpreter, which pushes the tape
(tests/reference/tape.py); the summaries say what a potter reads from them: what goes into the hose and into
each cartridge, and at which wait. All that is compared is reckoned here.
"""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.cli.test_resume_clay import made
from tests.reference.interpreter import run
from tests.reference.state import Event
from tests.reference.tape import Slugs, Tape, one
from tests.resuming import resume, summary, tail

ML_PER_MM = math.pi / 4 * 1.75**2 / 1000
"""Clay of 1 mm of a strand of 1.75 mm: geometry."""
RISE_MM = 2.0
"""Of the vase's layers."""
RECIPES = {
    "bands": """
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 12}
colours: {bands: [{to_mm: 20, clay: white}, {to_mm: 30, clay: blue}, {to_mm: 40, clay: red}, {clay: white}]}
steps: [{cold: {move_cold: true}}, {purge: {volume_ml: 8}}, {refill: {prime_ml: 4}}]
""",
    "bands, refilled": """
cartridge: {volume_ml: 42, reserve_ml: 10, line_ml: 7}
colours: {bands: [{to_mm: 12, clay: white}, {to_mm: 24, clay: blue}, {to_mm: 36, clay: red}, {clay: blue}]}
steps: [{cold: {move_cold: true}}, {refill: {prime_ml: 3, join_layers: 0}}]
""",
    "swaps": """
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 5}
steps:
  - cold: {move_cold: true}
  - swap: {at_height_mm: 24, colour: blue}
  - swap: {at_height_mm: 40, colour: red}
  - refill: {prime_ml: 2, join_layers: 0}
""",
    "swap, refilled": """
cartridge: {volume_ml: 32, reserve_ml: 10, line_ml: 9}
steps:
  - cold: {move_cold: true}
  - swap: {at_height_mm: 30, colour: blue}
  - refill: {prime_ml: 2, join_layers: 0}
""",
}
SAID = {
    "as planned": [],
    "run out": ["--run-out", 3, "--left-ml", 30],
    "less left": ["--left-ml", 19],
    "weighed": ["--came-ml", 5],
    "other hose": ["--hose-holds", "red"],
}


def slugs_of(cartridge: dict[str, Any]) -> Slugs:
    """What goes into a cartridge; the last of it goes on."""
    told = cartridge["slugs"]
    if not told:
        return one(cartridge["colour"])
    found = [(next(iter(slug["clays"])), slug["clay_ml"]) for slug in told]
    return [*found[:-1], (found[-1][0], math.inf)]


def hose_of(found: dict[str, Any]) -> Slugs:
    """What is told to be in the hose."""
    line = found["line"]
    told = [(next(iter(slug["clays"])), slug["clay_ml"]) for slug in line["slugs"]]
    return told or one(line["at_start"])


def follow(
    events: list[Event], tape: Tape, found: dict[str, Any]
) -> tuple[list[tuple[Event, float, float]], list[float]]:
    """Push the tape; returns (event, pushed before it, after it) of each event, and what each cartridge gave."""
    cartridges = iter(found["cartridges"][1:])
    waits = [pause["new_cartridge"] for pause in found["pauses"]]
    rows, used_ml, paused = [], [0.0], 0
    for event in events:
        before_ml = tape.moved_ml
        tape.push(event.e_metered_mm * ML_PER_MM)
        used_ml[-1] += tape.moved_ml - before_ml
        rows.append((event, before_ml, tape.moved_ml))
        if event.state.paused > paused:
            paused = event.state.paused
            if waits[paused - 1]:
                tape.put_on(slugs_of(next(cartridges)))
                used_ml.append(0.0)
    return rows, used_ml


def amounts_ml(tape: Tape, low_ml: float, high_ml: float) -> dict[str, float]:
    """ml of each clay that come between two places of the tape."""
    found: dict[str, float] = {}
    edges = sorted(
        {low_ml, high_ml, *(begins_ml for begins_ml, _ in tape.parts if low_ml < begins_ml < high_ml)}
    )
    for begins_ml, ends_ml in pairwise(edges):
        clay = tape.at((begins_ml + ends_ml) / 2)
        found[clay] = found.get(clay, 0.0) + ends_ml - begins_ml
    return found


@pytest.fixture(scope="module", params=RECIPES)
def job(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a vase, run by one of the recipes, nothing drawn back at waits."""
    return made(tmp_path_factory.mktemp("job"), RECIPES[request.param], relieve_ml=0)


@pytest.mark.parametrize("said", SAID)
@pytest.mark.parametrize("place", [["--from-layer", 6], ["--from-layer", 13], ["--from-line", 0.55]])
def test_the_clay_that_is_told_is_the_clay_that_comes(job: Path, place: list[Any], said: str) -> None:
    """Colours, cartridges, hose and edges of the rest, by what has been pushed before and what is pushed then."""
    whole = (job / "print.gcode").read_bytes()
    if place[0] == "--from-line":  # inside a layer
        place = [place[0], int(place[1] * whole.count(b"\n"))]
    assert resume(job, *place, "--overwrite", name="plain").exit_code == 0
    events, ran = run(whole), summary(job, "print")
    events = events[: len(events) - len(tail(job / "plain.gcode"))]
    tape = Tape(ran["line"]["clay_ml"], hose_of(ran), slugs_of(ran["cartridges"][0]))
    _, gave_ml = follow(events, tape, ran)

    result = resume(job, *place, *SAID[said], "--overwrite")
    assert result.exit_code == 0, result.output
    found = summary(job)
    if said == "weighed":  # the column has moved by what came beyond the plan, or lags by what didn't
        tape.push(5 - gave_ml[-1])
    if said == "other hose":
        tape.fill_hose("red")
    begun_ml = tape.moved_ml
    held = amounts_ml(tape, begun_ml, begun_ml + tape.line_ml)
    assert set(held) == {clay for clay in held if clay in found["line"]["at_start"]}
    rows, used_ml = follow(run((job / "rest.gcode").read_bytes()), tape, found)

    assert [use["clay_ml"] for use in found["cartridges"]] == pytest.approx(used_ml, abs=1e-3)
    left_ml = {"run out": 30.0, "less left": 19.0}.get(said)
    if left_ml is not None:
        assert found["resume"]["stops"][-1]["left_ml"] == left_ml
    come = amounts_ml(tape, begun_ml, tape.moved_ml)
    told = {colour["colour"]: colour["clay_ml"] for colour in found["colours"]}
    assert told == pytest.approx({clay: ml for clay, ml in come.items() if ml > 1e-6}, abs=2e-3)
    shows = {edge["start_mm"] for edge in found["edges"]}
    for front_ml, _ in tape.changes(begun_ml + 1e-3):
        at = [
            event.end_mm[2] for event, before, after in rows if event.lays_clay and before <= front_ml < after
        ]
        if shows and at:
            assert any(abs(height - at[0]) <= RISE_MM + 0.01 for height in shows)


def test_run_out_that_ends_the_cartridge_inside_a_layer(tmp_path: Path) -> None:
    """The refill can't wait for the next layer then; what is run out, and of how much, is said with it."""
    job = made(tmp_path, RECIPES["bands, refilled"], relieve_ml=0)
    line = int(0.62 * (job / "print.gcode").read_bytes().count(b"\n"))
    assert resume(job, "--from-line", line).exit_code == 0
    gives_ml = summary(job)["resume"]["stops"][0]["left_ml"] - 10
    result = resume(job, "--from-line", line, "--run-out", 3, name="less")
    assert (result.exit_code, (job / "less.gcode").exists()) == (1, False)
    said = f"Of the {gives_ml:.4g} ml that cartridge 1 gives, 3 ml are run out first; run out less"
    assert said in " ".join(result.output.split())
