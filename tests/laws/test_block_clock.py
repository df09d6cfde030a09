"""Law: the time that a plan says an inserted block takes is the reference interpreter's, way and way back included."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.plan.intentions import LayClay, Pause, Stroke
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.survey.model import Survey
from gpost.testing import layer_start, make_survey
from tests.reference.programs import Piece, piece_programs

AT_ONCE = 1e8
"""An acceleration with which every move is path / feed, as the interpreter counts it."""
TRAVEL, LIFT = 2400.0, 480.0
BEADS = (
    Stroke(((-100.0, -60.0), (-40.0, -60.0)), 8.0, 3.0, 3.0, 1.25),
    Stroke(((-40.0, -50.0), (-100.0, -50.0), (-100.0, -45.0)), 8.0, 3.0, 3.0, 1.5),
    Stroke(((-100.0, -120.0), (-40.0, -120.0)), 8.0, 3.0, 6.0, 0.75),
)
SAID: list[dict[str, Any]] = [
    {},
    {"commands": ["G4 P3000", "M0", "G4 S2.5"], "hold": ["M84 S0", "G4 S1"]},
    {"commands": ["M300 S440", "G4 S4", "M0"], "hold_again": True},
]
"""How the machine waits: with dwells beside it."""


def wishes(spots: st.SearchStrategy[Spot]) -> st.SearchStrategy[Any]:
    """A pause or beads."""
    beads = st.lists(st.sampled_from(BEADS), min_size=1, max_size=3).map(tuple)
    lays = st.builds(LayClay, spots, beads, st.sampled_from([300.0, 1234.5]), st.sampled_from([0.0, 10.0]))
    pauses = st.builds(
        Pause,
        spots,
        st.just("swap"),
        st.just("because"),
        st.just("Load blue"),
        prime_ml=st.sampled_from([0.0, 3.3, 12.0]),
        lay=st.one_of(st.none(), lays),
    )
    return st.one_of(pauses, lays)


@given(
    piece=piece_programs(),
    data=st.data(),
    relieve_ml=st.sampled_from([0.0, 0.3]),
    settle_s=st.sampled_from([0.0, 7.5]),
    lift_mm=st.sampled_from([3.0, 10.0]),
    said=st.sampled_from(SAID),
)
def test_a_block_takes_what_the_plan_says(
    rewrite: Any, piece: Piece, data: st.DataObject, relieve_ml: float, settle_s: float, lift_mm: float,
    said: dict[str, Any],
) -> None:
    """At a layer's start, but for where the nozzle really stands then: there and back at the travel's feed."""
    wish = data.draw(wishes(st.just(Spot(0))))
    index = data.draw(st.integers(0, len(piece.layer_lines) - 1))
    pause = {"relieve_ml": relieve_ml, "settle_s": settle_s, "lift_mm": lift_mm, "hold": [], **said}
    machine = {
        "acceleration_mm_s2": AT_ONCE,
        "travel_feed_mm_min": TRAVEL,
        "lift_feed_mm_min": LIFT,
        "pause": pause,
        "dwell_p": piece.dialect.dwell_p,
    }
    result = rewrite(
        piece.program,
        lambda survey: [dataclasses.replace(wish, spot=survey.start_of(min(index, len(survey.layers) - 1)))],
        dialect=piece.dialect,
        config={"machine": machine},
    )
    check(result)


def check(result: Any) -> None:
    """The one block's time, summed move by move."""
    (block,) = result.apart.blocks
    (stop,) = result.plan.stops
    row = result.survey.layers[result.survey.index_at(stop.spot.line)]
    place = (row["start_x_mm"], row["start_y_mm"], row["low_mm"])
    if stop.spot.line > row["first_line"]:
        place = result.survey.laid_at(stop.spot)
    moves = [event for event in block.events if event.kind == "move"]
    aside_mm = math.dist(moves[0].start_mm[:2], place[:2])
    above_mm = abs(moves[0].start_mm[2] - place[2])
    # as much nearer or farther, or higher or lower, on the way there and on the way back
    slack_s = 2 * aside_mm / TRAVEL * 60 + 2 * above_mm / LIFT * 60 + 0.02
    assert stop.seconds == pytest.approx(sum(event.time_s for event in block.events), abs=slack_s)
    assert result.plan.total_s == pytest.approx(result.survey.time_s + stop.seconds)


@given(piece=piece_programs(), data=st.data())
def test_a_block_inside_a_layer(rewrite: Any, piece: Piece, data: st.DataObject) -> None:
    """It is reckoned from where clay is laid there, not from the middle of the piece."""
    wish = data.draw(wishes(st.just(Spot(0))))
    share = data.draw(st.floats(0.1, 0.9))

    def wanted(survey: Survey) -> list[Any]:
        index = data.draw(st.integers(0, len(survey.layers) - 1))
        line = int(survey.layers["first_line"][index])
        inside, _ = survey.laid_path(line, survey.start_of(index + 1).line)
        return [dataclasses.replace(wish, spot=Spot(int(inside[int(share * len(inside))])))]

    machine = {
        "acceleration_mm_s2": AT_ONCE,
        "travel_feed_mm_min": TRAVEL,
        "lift_feed_mm_min": LIFT,
        "pause": {"hold": []},
    }
    check(rewrite(piece.program, wanted, dialect=piece.dialect, config={"machine": machine}))


@pytest.mark.parametrize("side", [0, 1, 2, 3])
def test_a_pause_in_a_square_ring_by_hand(rewrite: Any, side: int) -> None:
    """At each of the corners of a ring 160 mm wide, one of which is near the park: there and back are its own."""
    corners = [(220, 60), (220, 220), (60, 220), (60, 60)]
    program = ["G21", "G90", "M83", "G28", "G1 F1200"]
    for z in (2, 4):
        program.append(f"G0 X60 Y60 Z{z}")
        program += [f"G1 X{x} Y{y} E8" for x, y in corners]
    machine = {
        "acceleration_mm_s2": AT_ONCE,
        "travel_feed_mm_min": 3000,
        "lift_feed_mm_min": 600,
        "park": {"x_mm": 20, "y_mm": 20},
        "pause": {"hold": [], "relieve_ml": 0.0, "lift_mm": 10},
    }
    pause = Pause(Spot(11 + side), "swap", "because", "Load blue")
    result = rewrite(("\n".join(program) + "\n").encode(), lambda _: [pause], config={"machine": machine})
    way_mm = math.dist([(60, 60), *corners][side], (20, 20))
    assert result.plan.stops[0].seconds == pytest.approx(2 * way_mm / 50 + 2 * 1.0, abs=1e-3)
    assert result.plan.stops[0].wait_after_s == pytest.approx(way_mm / 50 + 1.0, abs=1e-3)


def test_a_purge_by_hand() -> None:
    """To a bead 100 mm away and back, at hand-made feeds: every leg of the way is in the sum."""
    survey = make_survey(layers=5)
    row = survey.layers[0]
    x, y, z = (float(row[key]) for key in ("start_x_mm", "start_y_mm", "low_mm"))
    bead = Stroke(((x - 100, y), (x - 100, y + 60)), 8.0, 4.0, z, 2.0)
    config = Config.model_validate(
        {
            "machine": {
                "acceleration_mm_s2": AT_ONCE,
                "travel_feed_mm_min": 3000,
                "lift_feed_mm_min": 600,
                "prime_flow_ml_min": 20,
                "pause": {"lift_mm": 10, "relieve_ml": 0.3},
            }
        }
    )
    plan = Plan(survey, config).adding("test", [LayClay(layer_start(survey, 1), (bead,), 600.0, 0.0)])
    relief_s, lift_s = 0.9, 1.0
    there_s, back_s = 100 / 50, math.dist((100, 0), (0, 60)) / 50
    # drawn back, up, there, down, given; the bead; drawn back, up, back, 9 mm down, the last mm while it is given
    wanted_s = relief_s + lift_s + there_s + lift_s + relief_s + 6.0
    wanted_s += relief_s + lift_s + back_s + 0.9 + max(0.1, relief_s)
    assert plan.total_s == pytest.approx(survey.time_s + wanted_s, abs=1e-3)
    assert plan.stops[0].seconds == pytest.approx(wanted_s, abs=1e-3)
