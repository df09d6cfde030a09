"""The clock inside a layer: by the times of its moves, not by its lines."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from gpost.config.model import Clay, Config, CubicMillimetres, Machine
from gpost.plan.intentions import Wait
from gpost.plan.plan import Plan
from gpost.plan.restart import spot_at_clock
from gpost.spot import Spot
from gpost.survey import within
from gpost.survey.model import Survey

SurveyOf = Callable[..., Survey]
QUICK = Config(
    clay=Clay(metering=CubicMillimetres(unit="mm3"), bead_width_mm=6.0),
    machine=Machine(acceleration_mm_s2=1e9),
)
"""A machine that is at full speed at once, so that a move takes its length over its feed."""
POINTS = 40
"""So many short sides go along one long one."""


def uneven(layers: int = 4, dwell_s: float = 0.0) -> str:
    """Half-rounds of short sides at 1200 mm/min, closed by one long side at 300; a dwell before that, if any."""
    lines = ["G21", "G90", "M83", "G28"]
    for layer in range(layers):
        lines.append(f"G0 X140 Y100 Z{2 * layer + 2} F6000")
        for at in range(1, POINTS + 1):
            angle = math.pi * at / POINTS
            lines.append(f"G1 X{100 + 40 * math.cos(angle):.4f} Y{100 + 40 * math.sin(angle):.4f} E37 F1200")
        lines += [f"G4 S{dwell_s:g}"] * (dwell_s > 0)
        lines.append("G1 X140 Y100 E960 F300")
    return "\n".join(lines) + "\n"


CURVE_S = 80 * POINTS * math.sin(math.pi / POINTS / 2) / 20
"""Sides of 2 r sin(a / 2) at 20 mm/s."""
LONG_S = 80 / 5


@pytest.mark.parametrize("chunk_bytes", [60, 1 << 18])
def test_by_hand(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Of layer 3, the curve takes a third of the time on forty lines, the long side two thirds on one."""
    survey = survey_of(uneven(), config=QUICK, chunk_bytes=chunk_bytes)
    first = int(survey.layers["first_line"][2])
    start_s, end_s = survey.clock_at(Spot(first)), survey.clock_at(survey.start_of(3))
    long = next(line for line in range(first, survey.lines) if uneven().splitlines()[line].endswith("F300"))
    share = CURVE_S / (CURVE_S + LONG_S)
    assert end_s - start_s == pytest.approx(CURVE_S + LONG_S, abs=0.2)  # and the flight to the next
    assert survey.clock_at(Spot(long)) - start_s == pytest.approx(share * (end_s - start_s), abs=0.1)
    assert survey.clock_at(Spot(long, 0.5)) - start_s == pytest.approx(CURVE_S + LONG_S / 2, abs=0.1)
    by_lines = survey.clock_before(long) - start_s
    assert by_lines - CURVE_S > 10, "what it was by lines: most of the long side too early"


def test_a_dwell_counts_where_it_stands(survey_of: SurveyOf) -> None:
    """Half a minute between the curve and the long side: before it none of that has passed, after it all."""
    survey = survey_of(uneven(dwell_s=30), config=QUICK)
    first = int(survey.layers["first_line"][2])
    dwell = next(
        line for line in range(first, survey.lines) if uneven(dwell_s=30).splitlines()[line] == "G4 S30"
    )
    before_s, after_s = (
        survey.clock_at(Spot(line)) - survey.clock_at(Spot(first)) for line in (dwell, dwell + 1)
    )
    assert (before_s, after_s) == pytest.approx((CURVE_S, CURVE_S + 30), abs=0.1)


def test_it_rises_and_is_the_table_s_where_layers_begin(survey_of: SurveyOf) -> None:
    """From the file's start to its end, inside moves too; cut anywhere it is the same."""
    survey, cut = (survey_of(uneven(dwell_s=3), chunk_bytes=size) for size in (1 << 18, 70))
    spots = [Spot(line, share) for line in range(survey.lines) for share in (0.0, 0.5)]
    clock = [survey.clock_at(spot) for spot in spots]
    assert clock == sorted(clock)
    assert clock == pytest.approx([cut.clock_at(spot) for spot in spots], abs=1e-9)
    for line in (0, *survey.layers["first_line"].tolist(), survey.lines):
        assert survey.clock_at(Spot(line)) == survey.clock_before(line)


def test_a_long_layer_keeps_few_places(survey_of: SurveyOf, monkeypatch: pytest.MonkeyPatch) -> None:
    """One of every five lines or so is kept here, and between them it goes by lines: within that of the truth."""
    survey = survey_of(uneven(), config=QUICK)
    fine = [survey.clock_at(Spot(line)) for line in range(survey.lines)]
    monkeypatch.setattr(within, "MOST_PLACES", 10)
    coarse = survey_of(uneven(), config=QUICK)
    line_s = CURVE_S / POINTS
    curve = range(int(survey.layers["first_line"][1]) + 1, int(survey.layers["first_line"][1]) + POINTS - 5)
    assert [coarse.clock_at(Spot(line)) for line in curve] == pytest.approx(
        [fine[line] for line in curve], abs=6 * line_s
    )


@pytest.mark.parametrize("part", [0.1, 0.3, 0.34, 0.6, 0.95])
def test_a_clock_leads_back_to_its_place(survey_of: SurveyOf, part: float) -> None:
    """`--from-clock` finds the move that the machine is on then, and where on it: by hand, as above."""
    survey = survey_of(uneven(), config=QUICK)
    plan = Plan(survey, QUICK)
    start_s, end_s = (survey.clock_at(survey.start_of(index)) for index in (1, 2))
    clock_s = start_s + part * (CURVE_S + LONG_S)
    found, _ = spot_at_clock(plan, clock_s)
    assert plan.clock_at(found) == pytest.approx(clock_s, abs=1e-6)
    words = uneven().splitlines()[found.line]
    assert words.endswith("F300") == (part * (CURVE_S + LONG_S) > CURVE_S + 0.1)
    assert survey.index_at(found.line) == 1
    assert end_s > clock_s


@pytest.mark.parametrize("into_s", [0.5, 6.0, 10.0, 15.5])
def test_behind_several_blocks_on_one_line_it_is_on_that_line_s_move(survey_of: SurveyOf, into_s: float) -> None:
    """None of the time of those that are done is the move's, be they before it or inside it: by hand, as above."""
    survey = survey_of(uneven(), config=QUICK)
    first = int(survey.layers["first_line"][2])
    long = next(line for line in range(first, survey.lines) if uneven().splitlines()[line].endswith("F300"))
    blocks = [Wait(Spot(long, share), seconds) for share, seconds in ((0.0, 7.0), (0.0, 9.0), (0.25, 20.0), (0.5, 40.0))]
    plan = Plan(survey, QUICK).adding("test", blocks)
    done_s = sum(block.seconds for block in blocks if block.spot.fraction * LONG_S < into_s)
    found, _ = spot_at_clock(plan, survey.clock_at(Spot(long)) + done_s + into_s)
    assert found.line == long
    assert found.fraction == pytest.approx(into_s / LONG_S, abs=1e-3)
