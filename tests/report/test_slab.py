"""The slab in words and weights: what is lifted off with it is weighed with it."""

from __future__ import annotations

import math

import pytest
from gpost_plugins.slab import Slab

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.report.afterwards import CARD, taken_off_g
from gpost.report.model import Summary
from gpost.report.prepared import slab_record
from gpost.report.summary import summarise
from gpost.report.text import sheet_text, to_text
from gpost.testing import make_survey, run_step
from gpost.write.output import Written

CONFIG = Config.model_validate({"clay": {"wet_density_g_ml": 2, "water_percent": 25}})
PIECE_G = 5 * 10 * 2
"""Five layers of 10 ml, 2 g a ml; a quarter of it is water."""


def summary_of(plan: Plan) -> Summary:
    """As if it had been written."""
    return summarise(plan, Written(0, 0), source="vase.gcode", output="out.gcode")


def flat(text: str) -> str:
    return " ".join(text.split())


def planned(**settings: float) -> Plan:
    """Five layers on a slab."""
    return run_step(Slab, {"thickness_mm": 3, **settings}, make_survey(layers=5), config=CONFIG)


ROUND, SQUARE = planned(diameter_mm=190), planned(x_size_mm=180, y_size_mm=160)


@pytest.mark.parametrize(
    ("plan", "area_mm2"), [(ROUND, math.pi * 95**2), (SQUARE, 180 * 160)], ids=["round", "square"]
)
def test_what_is_lifted_off_weighs_what_piece_and_slab_do(plan: Plan, area_mm2: float) -> None:
    """Area times thickness times density, and the piece; dry it is three quarters of that."""
    summary = summary_of(plan)
    slab_g = area_mm2 * 3 / 1000 * 2
    assert taken_off_g(summary) == pytest.approx((PIECE_G + slab_g, 0.75 * (PIECE_G + slab_g)))
    assert (
        f"with the slab, but without the board, {PIECE_G + slab_g:.0f} g* wet, about "
        f"{0.75 * (PIECE_G + slab_g):.0f} g* dry"
    ).replace("*", "") in flat(to_text(summary)).replace("*", "")
    assert f"# wet mass of the piece, g; not its slab ({math.ceil(slab_g)} g)" in sheet_text(summary)


def test_without_a_slab_the_piece_is_weighed_alone() -> None:
    """Nothing is said of one."""
    summary = summary_of(Plan(make_survey(layers=5), CONFIG))
    assert taken_off_g(summary) == pytest.approx((PIECE_G, 0.75 * PIECE_G))
    said = flat(to_text(summary))
    assert "a slab of" not in said
    assert (
        f"Lift it off with its board, never by the wall; dry it slowly, covered at first, air all round. It is "
        f"dry when it gets no lighter: {PIECE_G} g" in said
    )
    assert CARD[0][1] in sheet_text(summary)


def test_a_round_slab_is_round_in_words() -> None:
    """One size, across; a square one has two."""
    assert "a round slab, 190 mm across, 3 mm thick (171 g)" in flat(to_text(summary_of(ROUND)))
    assert "a slab of 180 x 160 mm, 3 mm thick (173 g)" in flat(to_text(summary_of(SQUARE)))
    found = slab_record(ROUND)
    assert found is not None
    assert (found.round, found.x_size_mm, found.y_size_mm) == (True, 190, 190)
