"""What the summary says of a turned flow knob is what a written file does with it: M221 put in, and executed.

The reference interpreter knows the flow factor as printing usage has it (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import pi
from typing import NamedTuple

import pytest

from gpost.demo.gcode import Piece, SliceStyle
from gpost.pipeline import run_file
from gpost.report.byhand import KnobRecord
from gpost.report.model import Summary
from gpost.steps.recipe import make_recipe
from gpost.supply.turned import read_turn
from gpost.workbook.log.turned import effect
from tests.config_files import load_files
from tests.reference.interpreter import run
from tests.reference.state import Event
from tests.sliced import slice_piece

ML_PER_MM = pi / 4 * 1.75**2 / 1000
"""Clay of 1 mm of a virtual strand of 1.75 mm: pi d^2 / 4, geometry."""
BOTTLE = Piece(
    name="bottle", profile="bottle", height_mm=54, radius_mm=38, layer_mm=1.8, bead_width_mm=5, segments=36
)  # fmt: skip
RECIPE = """
machine: {bed: {x_min_mm: -150, x_max_mm: 300, y_min_mm: -150, y_max_mm: 300}, park: {x_mm: 15, y_mm: 15}}
clay: {metering: {unit: filament, diameter_mm: 1.75}, bead_width_mm: 5}
cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 10, empty_g: 300}
steps:
  - cold: {move_cold: true}
  - swap: {at_height_mm: 36, colour: blue}
  - refill: {share: even, join_layers: 0}
"""


class Job(NamedTuple):
    """A written file and what is said of it."""

    lines: Sequence[bytes]
    summary: Summary


@pytest.fixture(scope="module", params=[{}, {"wall": "rise", "level_last": True}], ids=["rings", "rise"])
def job(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Job:
    """The bottle in level rings, and as one rising wall."""
    path = tmp_path_factory.mktemp("job") / "bottle.gcode"
    path.write_bytes(slice_piece(BOTTLE, SliceStyle(**request.param)).text)
    recipe = make_recipe(load_files({"recipe.yaml": RECIPE}))
    summary = run_file(path, path.with_name("print.gcode"), recipe.config, recipe.steps)
    return Job(path.with_name("print.gcode").read_bytes().splitlines(), summary)


def turned(job: Job, knob: KnobRecord, percent: float) -> list[Event]:
    """What happens after the wait before a knob's place, the flow turned then."""
    at = 0
    if knob.cartridge > 1:
        events = run(b"\n".join(job.lines) + b"\n")
        waits = [b.line for a, b in pairwise(events) if b.state.paused > a.state.paused]
        at = waits[knob.cartridge - 2] + 1
    program = [*job.lines[:at], b"M221 S%d" % percent, *job.lines[at:]]
    return run(b"\n".join(program) + b"\n")[at:]


def metered(events: Sequence[Event]) -> list[tuple[float, float, bool]]:
    """(net ml so far, height, whether clay is laid) of each event."""
    found, ml = [], 0.0
    for event in events:
        ml += event.e_metered_mm * ML_PER_MM
        found.append((ml, event.end_mm[2], event.lays_clay))
    return found


def test_the_last_safe_layer(job: Job) -> None:
    """At its end no more has left the cartridge than is told to be in it, less the reserve; a layer later more."""
    seen = 0
    for knob in job.summary.knobs:
        use = job.summary.cartridges[knob.cartridge - 1]
        for flow in knob.flows:
            if flow.safe is None:
                continue
            rows = metered(turned(job, knob, flow.percent))
            till = flow.safe.height_mm
            safe = max(ml for ml, z, lays in rows if lays and z <= till + 1e-6)
            later = max(ml for ml, z, lays in rows if lays and z <= till + BOTTLE.layer_mm + 1e-6)
            assert use.to_load_ml is not None
            assert safe <= use.to_load_ml - 5 + 1e-6 < later + 1e-6
            seen += 1
    assert seen >= 4


def test_where_the_colour_shows(job: Job) -> None:
    """There the hose's 10 ml have come since the wait, to less than a layer."""
    seen = 0
    for knob in job.summary.knobs:
        for flow in knob.flows:
            for shown in flow.shows:
                rows = metered(turned(job, knob, flow.percent))
                owed_ml = -min(ml for ml, _, _ in rows) if rows else 0.0
                height = next(z for ml, z, lays in rows if lays and ml >= 10 + owed_ml)
                assert shown.height_mm == pytest.approx(height, abs=BOTTLE.layer_mm + 0.01)
                seen += 1
    assert seen == 3


@pytest.mark.parametrize("turns", [["flow=110@12"], ["flow=90@1"], ["flow=120@5", "flow=80@20"]])
def test_the_log_knows_the_clay(job: Job, turns: list[str]) -> None:
    """The clay laid with the knob turned at those layers' starts is the predicted clay times the log's share."""
    table = job.summary.layer_table
    assert table is not None
    lines, plain = list(job.lines), run(b"\n".join(job.lines) + b"\n")
    laid = [event for event in plain if event.lays_clay]
    for turn in sorted(map(read_turn, turns), key=lambda turn: -turn.place):
        below_mm = table.height_mm[int(turn.place) - 2] if turn.place > 1 else -1.0
        first = next(event.line for event in laid if event.end_mm[2] > below_mm + 1e-6)
        lines.insert(first, b"M221 S%d" % turn.percent)
    total = sum(event.e_metered_mm for event in run(b"\n".join(lines) + b"\n") if event.lays_clay)
    share = effect(job.summary, [read_turn(turn) for turn in turns]).flow_share
    assert total / sum(event.e_metered_mm for event in laid) == pytest.approx(share, abs=2e-3)
