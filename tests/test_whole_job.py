"""The whole job in every dialect: a twisted bottle with all seven steps, executed by the oracle."""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import pi
from pathlib import Path

import numpy as np
import pytest

from gpost.demo.gcode import Piece, SliceStyle
from gpost.pipeline import make_plan, run_file
from gpost.plan.plan import Plan
from gpost.read.source import Source
from gpost.report.model import Summary
from gpost.steps.recipe import Recipe, make_recipe
from gpost.survey.build import survey_source
from gpost.write.output import Written
from gpost.write.rewriter import Rewriter
from tests.config_files import load_files
from tests.reference.interpreter import run
from tests.reference.outputs import Block, Output, take_apart
from tests.sliced import slice_piece

ML_PER_MM = pi / 4 * 1.75**2 / 1000
"""Clay of 1 mm of a virtual strand of 1.75 mm: pi d^2 / 4, geometry."""
BOTTLE = Piece(
    name="twisted-bottle",
    profile="bottle",
    height_mm=54,
    radius_mm=38,
    layer_mm=1.8,
    bead_width_mm=5,
    lobes=3,
    lobe_depth=0.1,
    twist_deg_per_mm=1.0,
    foot_mm=12,
    base_layers=2,
    segments=36,
    centre_x_mm=160,
)
RECIPE = """
machine:
  bed: {x_min_mm: 0, x_max_mm: 300, y_min_mm: 0, y_max_mm: 300}
  park: {x_mm: 15, y_mm: 15}
clay:
  metering: {unit: filament, diameter_mm: 1.75}
  bead_width_mm: 5
  colour: white
cartridge: {volume_ml: 32, reserve_ml: 5, line_ml: 10}
steps:
  - cold: {move_cold: true}
  - purge: {volume_ml: 6, bead_width_mm: 8, bead_height_mm: 3}
  - swap: {at_height_mm: 36, colour: blue}
  - refill: {share: even, prime_ml: 4, join_layers: 0}
  - fan:
      bands:
        - {from_layer: 1, level_percent: 0}
        - {from_layer: 4, level_percent: 25}
        - {from_height_mm: 30, level_percent: 60}
  - taper: {from_height_mm: 20, to_percent: 50, floor_mm_min: 1000}
  - tally
"""
PLASTIC = {"heaters": True, "comments": True}
DIALECTS = {
    "level rings": SliceStyle(**PLASTIC),  # type: ignore[arg-type]
    "one rising wall": SliceStyle(wall="rise", level_last=True, **PLASTIC),  # type: ignore[arg-type]
    "relative": SliceStyle(relative_axes=True, relative_e=True, modal_g=True),
    "relative axes, absolute clay": SliceStyle(relative_axes=True, wall="rise", level_last=True),
    "inches": SliceStyle(inches=True, decimals=5, z_hop=True, retract=True, newline="\r\n"),
    "numbered": SliceStyle(numbered=True, g92_every_layer=True, retract=True, **PLASTIC),  # type: ignore[arg-type]
    "arcs, no G repeated": SliceStyle(arcs=True, modal_g=True, relative_e=True, prime_in_place=True),
    "small letters": SliceStyle(lowercase=True, base="spiral", trim_zeros=True, g92_every_layer=True),
}


@dataclass(frozen=True)
class Job:
    """One dialect's file before and after, with what gpost says about it."""

    source: bytes
    output: bytes
    plan: Plan
    written: Written
    summary: Summary

    @cached_property
    def before(self) -> Output:
        """The source, executed."""
        return take_apart(self.source, ())

    @cached_property
    def after(self) -> Output:
        """The output, executed, inserted blocks apart."""
        return take_apart(self.output, self.written.places.values())

    @cached_property
    def pauses(self) -> list[Block]:
        """The blocks in which the machine waits."""
        return [block for block in self.after.blocks if block.after.paused > block.before.paused]


@pytest.fixture(scope="module")
def recipe() -> Recipe:
    """All seven steps, from text."""
    return make_recipe(load_files({"recipe.yaml": RECIPE}))


@pytest.fixture(scope="module", params=list(DIALECTS.values()), ids=list(DIALECTS))
def job(request: pytest.FixtureRequest, recipe: Recipe, tmp_path_factory: pytest.TempPathFactory) -> Job:
    """The bottle in one dialect, run; and the same two passes by hand, to know where each block stands."""
    path = tmp_path_factory.mktemp("job") / "bottle.gcode"
    path.write_bytes(slice_piece(BOTTLE, request.param).text)
    summary = run_file(path, path.with_name("print.gcode"), recipe.config, recipe.steps)
    output = path.with_name("print.gcode").read_bytes()
    source = Source(path)
    plan = make_plan(survey_source(source, recipe.config), recipe.steps, recipe.config)
    written = Rewriter(source, plan, "").write(io.BytesIO())
    return Job(path.read_bytes(), output, plan, written, summary)


def test_every_line_is_legal(job: Job) -> None:
    """The oracle has no complaint about the source nor about the output, checksums included."""
    assert job.before.errors == ()
    assert job.after.errors == ()


def test_the_piece_is_laid_as_it_was_sliced(job: Job) -> None:
    """Each line of the source goes from where to where it did, with the clay it did; feeds are only lower."""
    assert len(job.after.rows) == len(job.before.rows)
    for mine, own in zip(job.after.rows, job.before.rows, strict=True):
        np.testing.assert_allclose(mine.event.start_mm, own.event.start_mm, atol=1e-9, rtol=0)
        np.testing.assert_allclose(mine.event.end_mm, own.event.end_mm, atol=1e-9, rtol=0)
        assert mine.event.e_metered_mm == pytest.approx(own.event.e_metered_mm, abs=1e-8)


def test_pauses_are_where_the_summary_says(job: Job) -> None:
    """As many as listed, at their output line, layer and height, each at a layer's start."""
    starts = job.plan.survey.layers["first_line"].tolist()
    assert len(job.pauses) == len(job.summary.pauses) >= 2
    for block, said in zip(job.pauses, job.summary.pauses, strict=True):
        assert block.events[0].line + 1 == said.output_line
        assert block.next_row == starts[said.layer - 1]
        following = next(r.event for r in job.before.rows[block.next_row :] if r.event.lays_clay)
        assert following.start_mm[2] == pytest.approx(said.height_mm, abs=0.06)
        assert block.lines[0].startswith(f"; gpost: {said.kind}: ".encode())


def test_the_machine_waits_at_the_park(job: Job) -> None:
    """Over the piece's top, at the park, with the blower at rest."""
    for block in job.pauses:
        wait = next(event for event in block.events if event.state.paused > block.before.paused)
        top_mm = max(row.event.end_mm[2] for row in job.before.rows[: block.next_row] if row.event.lays_clay)
        assert wait.end_mm[:2] == pytest.approx((15, 15), abs=0.02)
        assert wait.end_mm[2] >= top_mm + 2
        assert wait.state.fan == 0
        assert block.after.fan == block.before.fan


def test_the_new_colour_shows_at_its_height(job: Job) -> None:
    """From the swap's wait on, the hose volume passes before the nozzle is where the colour is expected."""
    (swap,) = (said for said in job.summary.pauses if said.kind == "swap")
    assert swap.shows_at_height_mm is not None
    passed_ml = 0.0
    for event in run(job.output)[swap.output_line :]:
        passed_ml += event.e_metered_mm * ML_PER_MM
        if passed_ml >= 10 and event.lays_clay:
            assert event.end_mm[2] == pytest.approx(swap.shows_at_height_mm, abs=0.3)
            assert swap.shows_at_height_mm == pytest.approx(36, abs=2.0)
            return
    pytest.fail("the new clay never reaches the nozzle")


def test_the_purge_lies_beside_the_piece(job: Job) -> None:
    """6 ml before layer 1, on the bed, clear of all that is laid later."""
    (purge,) = (block for block in job.after.blocks if b"purge" in block.lines[0])
    beads = [event for event in purge.events if event.lays_clay and event.start_mm[:2] != event.end_mm[:2]]
    assert sum(event.e_metered_mm for event in beads) * ML_PER_MM == pytest.approx(6, abs=1e-5)
    assert purge.next_row == job.plan.survey.layers["first_line"][0]
    own = np.array([row.event.end_mm for row in job.before.rows if row.event.lays_clay])
    ends = np.array([place for event in beads for place in (event.start_mm, event.end_mm)])
    apart = np.maximum(
        own[:, :2].min(axis=0) - ends[:, :2].max(axis=0), ends[:, :2].min(axis=0) - own[:, :2].max(axis=0)
    )
    assert apart.max() >= 2.5 + 4 + 10 - 0.01  # half a wall, half a bead, the gap
    assert ends.min() > 0
    assert ends[:, :2].max() < 300


def test_air_by_layer(job: Job) -> None:
    """Off on layers 1 to 3, at 25 % from layer 4 on, at 60 % from 30 mm on."""
    starts = job.plan.survey.layers["first_line"].tolist()
    for index, row in enumerate(job.after.rows):
        if not row.event.lays_clay or index < starts[0]:
            continue
        layer = int(np.searchsorted(starts, index, side="right"))
        low_mm = float(job.plan.survey.layers["low_mm"][layer - 1])
        expected = 153 if low_mm >= 29.999 else 64 if layer >= 4 else 0
        assert row.event.state.fan == expected, (layer, low_mm)


def test_feeds_by_layer(job: Job) -> None:
    """Laying moves run at the source's feed times their layer's factor, not under the floor; travel as it was."""
    layers = job.plan.survey.layers
    starts, top_mm = layers["first_line"], layers["height_mm"].max()
    bottom_mm = layers["height_mm"][layers["low_mm"] >= 19.999][0]
    slowed = 0
    for index, (mine, own) in enumerate(zip(job.after.rows, job.before.rows, strict=True)):
        feed, source = mine.event.feed_mm_min, own.event.feed_mm_min
        if source is None or own.event.kind != "move":
            continue
        goal = source
        if own.event.lays_clay and index >= starts[0]:
            height_mm = layers["height_mm"][np.searchsorted(starts, index, side="right") - 1]
            factor = 1 - 0.5 * max(height_mm - bottom_mm, 0) / (top_mm - bottom_mm)
            goal = max(source * factor, min(source, 1000))
        assert feed == pytest.approx(goal, rel=2e-3)
        slowed += goal < source
    assert slowed > 400


def test_no_heating_is_left(job: Job) -> None:
    """Neither heaters nor the file's own blower commands are carried out; what was there is a comment."""
    hot = (b"M104", b"M109", b"M140", b"M190")
    live = [row.raw.upper().lstrip(b"N0123456789 ") for row in job.after.rows]
    assert not [line for line in live if line.startswith((*hot, b"M106", b"M107"))]
    there = sum(any(code in row.raw.upper() for code in hot) for row in job.before.rows)
    assert sum(b"gpost silenced: " in row.raw for row in job.after.rows) >= there


def test_the_tally_is_what_leaves_the_nozzle(job: Job) -> None:
    """Clay of the output, by the oracle, is the summary's total; between loads it is each cartridge's."""
    events = run(job.output)
    ml = np.cumsum([event.e_metered_mm for event in events]) * ML_PER_MM
    assert ml[-1] == pytest.approx(job.summary.clay_ml, abs=1e-3)
    waits = [b.line for a, b in pairwise(events) if b.state.paused > a.state.paused]
    # at the wait 0.3 ml are drawn back
    edges = [0.0, *(ml[line] + 0.3 for line in waits), ml[-1]]
    assert [c.clay_ml for c in job.summary.cartridges] == pytest.approx(np.diff(edges).tolist(), abs=1e-3)
    assert all(cartridge.over_ml == 0 for cartridge in job.summary.cartridges)


def test_the_end_is_as_it_was(job: Job) -> None:
    """After the last line the machine stands where it would have, in the same modes."""
    ignore = frozenset({"fan", "hold_for_ever", "saved_offset", "feed_mm_min"})
    mine, own = (output.rows[-1].event.state for output in (job.after, job.before))
    assert mine.differences(own, tolerance_mm=1e-9, ignore=ignore) == []


def test_two_runs_give_the_same_bytes(job: Job, recipe: Recipe, tmp_path: Path) -> None:
    """Nothing depends on the time, on chance, or on an earlier run."""
    path = tmp_path / "bottle.gcode"
    path.write_bytes(job.source)
    run_file(path, tmp_path / "print.gcode", recipe.config, recipe.steps)
    assert (tmp_path / "print.gcode").read_bytes() == job.output
