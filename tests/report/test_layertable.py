"""The table by layer says what the plan says, layer by layer."""

from __future__ import annotations

import numpy as np
import pytest
from gpost_plugins.stand import Stand

from gpost.api import Config, Plan, ScaleFeed
from gpost.clay.walls import SLENDER, Stiffness, margins, wall_of
from gpost.plan.intentions import Bearing
from gpost.report.jsonout import to_json
from gpost.report.layertable import MOST_ROWS, layer_table
from gpost.report.summary import summarise
from gpost.testing import make_survey, run_step
from gpost.write.output import Written

POT = make_survey(layers=40, layer_mm=2, ml_per_layer=10, time_per_layer_s=30)
CLAY = Stiffness(500, 0.3, 1.86, SLENDER, 1.5)


def test_heights_clock_and_age() -> None:
    """2 mm and 30 s a layer, 6 layers in the hose: until those are laid the clay is as old as the job."""
    table = layer_table(Plan(POT, Config()))
    assert table is not None
    assert table.layer == tuple(range(1, 41))
    assert table.height_mm == pytest.approx([2.0 * layer for layer in range(1, 41)])
    assert table.clock_s == pytest.approx([30.0 * layer for layer in range(1, 41)])
    assert table.age_min == pytest.approx([0.5 * min(layer, 6) for layer in range(1, 41)])
    assert (table.margin, table.layers_left_out) == (None, 0)


def test_clay_that_goes_through_no_hose_is_fresh() -> None:
    """With nothing in the hose it is laid as it leaves the cartridge, which may be as old as it likes."""
    config = Config.model_validate({"cartridge": {"line_ml": 0}})
    table = layer_table(Plan(POT, config))
    assert table is not None
    assert set(table.age_min) == {0.0}


def test_margins_are_those_of_the_whole_plan() -> None:
    """As many as layers, with what a step after it slows; reckoned apart from the table."""
    slower = ScaleFeed(POT.layers["first_line"][10], POT.lines, 0.5, 0, "")
    plan = Plan(POT, Config()).adding("stand", [Bearing("", clay=CLAY)]).adding("taper", [slower])
    table = layer_table(plan)
    assert table is not None
    wall = wall_of(POT.layers["height_mm"], POT.layers["laid_ml"])
    expected = margins(wall, np.cumsum(plan.layer_times_s), CLAY)
    assert table.margin == pytest.approx(expected, abs=1e-4)
    assert table.clock_s[-1] == pytest.approx(plan.total_s, abs=0.1)


def test_the_last_clay_counts() -> None:
    """If two steps say what the clay bears, the later one holds for the file that is printed."""
    stronger = Stiffness(5000, 0.3, 1.86)
    both = Plan(POT, Config()).adding("a", [Bearing("", clay=CLAY), Bearing("", clay=stronger)])
    alone = Plan(POT, Config()).adding("a", [Bearing("", clay=stronger)])
    assert layer_table(both) == layer_table(alone)


def test_stand_says_what_the_clay_bears() -> None:
    """With the step the least margin is the safety that it kept."""
    plan = run_step(Stand, {"yield_stress_pa": 400, "stiffening_pa_s": 0.5, "floor_mm_min": 0}, POT)
    table = layer_table(plan)
    assert table is not None
    assert table.margin is not None
    assert min(table.margin) == pytest.approx(1.5, abs=0.01)


def test_of_thousands_of_layers_the_worst_are_kept() -> None:
    """1000 rows at the most, evenly chosen from the first to the last, the weakest layer among them."""
    ml = np.full(5000, 10.0)
    ml[2222:2224] = (1000, 0.5)  # 0.5 ml can't bear what is above, and is no row of an even choice
    survey = make_survey(layer_ml=ml.tolist(), layer_mm=0.1, time_per_layer_s=5)
    plan = Plan(survey, Config()).adding("stand", [Bearing("", clay=CLAY)])
    table = layer_table(plan)
    assert table is not None
    assert table.margin is not None
    assert len(table.layer) <= MOST_ROWS
    assert len(table.layer) + table.layers_left_out == 5000
    assert (table.layer[0], table.layer[-1]) == (1, 5000)
    assert max(np.diff(table.layer)) <= 6
    assert table.layer[int(np.argmin(table.margin))] == 2224
    assert 2224 not in np.linspace(0, 4999, 1000).round() + 1
    assert len(to_json(summarise(plan, Written(1, 1), source="a", output="b"))) < 150_000


def test_a_layer_of_nothing_has_a_figure() -> None:
    """Where no clay is laid the margin has no end; 1000 stands for it, as JSON has no infinity."""
    survey = make_survey(layer_ml=[10, 10, 0])
    table = layer_table(Plan(survey, Config()).adding("stand", [Bearing("", clay=CLAY)]))
    assert table is not None
    assert table.margin is not None
    assert table.margin[2] == 1000


def test_a_file_without_clay_has_no_table() -> None:
    """There is nothing to list."""
    assert layer_table(Plan(make_survey(layers=0), Config())) is None
