"""Laws: the height said of a place on a wall that bobs up and down is that of the bead at that very place.

Beads, their heights and the clay metered until then are the reference interpreter's; of the walls what is written.
"""

from __future__ import annotations

import math
from itertools import accumulate
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.read.source import Source
from gpost.spot import Spot
from gpost.supply.heights import Heights
from gpost.survey.build import survey_source
from tests.laws.conftest import roomy
from tests.laws.stopped import place_on
from tests.laws.test_resume_waves import CONFIG
from tests.reference.interpreter import run
from tests.reference.pieces import Piece
from tests.reference.wavywalls import WavyWall, wavy_walls
from tests.resuming import ran, summary

ROUNDED_MM = 0.01
"""Amounts of clay are sums of rounded words; a steep bead climbs by so much at the most meanwhile."""


@pytest.fixture(scope="session")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where a wall's program lies."""
    return tmp_path_factory.mktemp("heights") / "wall.gcode"


def planned(path: Path, piece: Piece) -> Plan:
    """The plan of a piece, in which no step wants anything."""
    path.write_bytes(piece.program)
    config: Config = roomy(piece.dialect, CONFIG)
    return Plan(survey_source(Source(path), config), config)


@given(wall=wavy_walls(), share=st.floats(0, 0.99), data=st.data())
def test_the_height_at_a_place_is_that_of_the_bead_there(
    path: Path, wall: WavyWall, share: float, data: st.DataObject
) -> None:
    """By its spot, and by the clay metered until then, at the start of a turn as inside one."""
    piece = wall.piece()
    plan = planned(path, piece)
    events = run(piece.program, piece.dialect)
    laid = [e for e in events if e.lays_clay]
    bead = data.draw(st.sampled_from(laid) | st.sampled_from([e for e in laid if e.line in piece.layer_lines]))
    _, _, z = place_on(bead, share)
    assert plan.survey.height_at(Spot(bead.line, share)) == pytest.approx(z, abs=1e-6)
    before = list(accumulate((e.e_metered_mm for e in events), initial=0.0))[bead.line]
    at_ml = (before + share * bead.e_metered_mm) / 1000
    if share > 1e-3:  # where a bead begins the one before ends, which may be of another turn
        assert Heights(plan).of(at_ml) == pytest.approx(z, abs=ROUNDED_MM)


# with its seam in a trough a wave as deep as the rise looks like a wall that only climbs to who has the table alone
@given(wall=wavy_walls().filter(lambda wall: wall.phase > 0), shares=st.tuples(st.floats(0, 1), st.floats(0, 1)))
def test_between_two_amounts_nothing_lies_lower_or_higher_than_is_said(
    path: Path, wall: WavyWall, shares: tuple[float, float]
) -> None:
    """Whatever is laid from the one to the other."""
    piece = wall.piece()
    plan = planned(path, piece)
    events = run(piece.program, piece.dialect)
    metered_ml = [mm / 1000 for mm in accumulate((e.e_metered_mm for e in events), initial=0.0)]
    first_ml, last_ml = (share * metered_ml[-1] for share in sorted(shares))
    inside = [
        z
        for e in events
        if e.lays_clay and metered_ml[e.line] >= first_ml and metered_ml[e.line + 1] <= last_ml
        for z in (e.start_mm[2], e.end_mm[2])
    ]
    spots = [plan.find_clay(ml) for ml in (first_ml, last_ml)]
    for low_mm, high_mm in (Heights(plan).between(first_ml, last_ml), plan.survey.heights_between(*spots)):
        assert low_mm <= min(inside, default=math.inf) + ROUNDED_MM
        assert high_mm >= max(inside, default=-math.inf) - ROUNDED_MM


RECIPE = """
machine:
  bed: {x_max_mm: 300, y_max_mm: 300}
  ceiling_mm: 300
  park: {x_mm: 15, y_mm: 15}
clay: {metering: {unit: mm3}, colour: white}
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 6}
steps: [swap: {at_height_mm: 18, colour: blue, where: WHERE}]
"""


@pytest.mark.parametrize("where", ["exact", "layer"])
@pytest.mark.parametrize("spiral", [False, True])
@pytest.mark.parametrize("depth", [0.3, 1.7])
def test_a_colour_shows_as_high_as_its_first_bead(tmp_path: Path, depth: float, spiral: bool, where: str) -> None:
    """Where so much clay as the hose holds has come since its pause, in the file that is run; the summary says so."""
    wall = WavyWall(2.0, depth, 3, 3, 0, 0.0, 0.3, spiral, arcs=False, strokes=8, layers=16)
    (tmp_path / "wall.gcode").write_bytes(wall.piece().program)
    folder = ran(tmp_path, "wall.gcode", RECIPE.replace("WHERE", where))
    pause = summary(folder, "print")["pauses"][0]
    events = run((folder / "print.gcode").read_bytes())
    came_ml = [mm / 1000 for mm in accumulate((e.e_metered_mm for e in events), initial=0.0)]
    last = max(e.line for e in events[: pause["output_line"]] if e.lays_clay)
    goal_ml = came_ml[last + 1] + 6
    bead = next(e for e in events if e.lays_clay and came_ml[e.line + 1] >= goal_ml)
    _, _, z = place_on(bead, (goal_ml - came_ml[bead.line]) / (came_ml[bead.line + 1] - came_ml[bead.line]))
    assert pause["shows_at_height_mm"] == pytest.approx(z, abs=0.02)
    assert f"the new clay is expected at layer {pause['shows_at_layer']} ({z:.1f} mm)" in (folder / "print.json").read_text()
