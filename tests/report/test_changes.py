"""Every change is gathered by step, kind and reason."""

from __future__ import annotations

import dataclasses

import numpy as np

from gpost.config.model import Config
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Command,
    Intention,
    LayClay,
    MovePause,
    Note,
    Pause,
    Say,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    Stroke,
)
from gpost.plan.plan import Plan
from gpost.report.changes import changes
from gpost.report.model import Change
from gpost.spot import Spot
from gpost.survey.model import OwnPause
from gpost.testing import layer_start, make_survey
from gpost.write.output import Written

SURVEY = make_survey(layers=6)
EMPTY = Plan(SURVEY, Config())
EDITS = (ScaleFeed, ScaleFlow, Shift, Silence)


def at(layer: int) -> Spot:
    return layer_start(SURVEY, layer)


def carried_out(plan: Plan) -> Written:
    """As if the rewriter had done all of it: block i at line 100 (i + 1), three lines an edit."""
    kinds = [entry.intention for entry in plan.entries]
    return Written(
        size_bytes=0,
        lines=0,
        places={
            i: (100 * (i + 1), 100 * (i + 1) + 9) for i, k in enumerate(kinds) if not isinstance(k, EDITS)
        },
        edited={i: 3 for i, k in enumerate(kinds) if isinstance(k, EDITS)},
    )


def changed(*wishes: Intention) -> list[Change]:
    plan = EMPTY.adding("glaze", wishes)
    return list(changes(plan, carried_out(plan)))


def bead(clay_ml: float) -> tuple[Stroke, ...]:
    return (Stroke(((0, 0), (50, 0)), width_mm=5, height_mm=2, z_mm=2, clay_ml=clay_ml),)


def test_each_kind_is_told_in_words() -> None:
    """Each kind of intention has its own words, with the numbers a potter needs."""
    found = changed(
        Pause(at(2), "refill", "the cartridge is empty", "Refill"),
        LayClay(at(1), bead(12.34), 1200, why="purge"),
        Say(at(3), "hello"),
        Air(at(3), 0.25),
        Command(Spot(0), ("M302 P1",), why="the extruder may move cold"),
        ScaleFeed(at(5).line, at(6).line, 0.7),
        ScaleFlow(at(5).line, at(6).line, 1.05),
        Shift(0, at(6).line, (12.5, -3.0, 0.0), why="onto its place"),
        Silence(np.array([1, 4]), why="heating"),
    )
    assert {change.kind: change.what for change in found} == {
        "pause": "pause: refill",
        "lay": "12.3 ml of clay laid beside the piece: purge",
        "say": "message on the display",
        "air": "blower set to 25 %",
        "command": "sent M302 P1: the extruder may move cold",
        "feed": "feed taken to 70 %",
        "flow": "clay taken to 105 %",
        "shift": "piece moved by x 12.5 mm, y -3 mm: onto its place",
        "silence": "turned into comments: heating",
    }


def test_blocks_of_one_reason_are_counted_together() -> None:
    """Inserted blocks are counted, each with its layer and the output line where it starts."""
    [air] = changed(Air(at(2), 0.2), Air(at(4), 0.6))
    assert (air.count, air.what) == (2, "blower set to 20 to 60 %")
    assert [(place.layer, place.output_line) for place in air.where] == [(2, 100), (4, 200)]


def test_different_reasons_stay_apart() -> None:
    """Two reasons of one step are two changes."""
    found = changed(Silence(np.array([1]), why="heating"), Silence(np.array([2]), why="the fan"))
    assert [change.what for change in found] == [
        "turned into comments: heating",
        "turned into comments: the fan",
    ]


def test_edited_lines_are_counted() -> None:
    """Edits are counted in lines, and neighbouring stretches are one place."""
    feeds = [ScaleFeed(at(n).line, at(n + 1).line, 1 - n / 10) for n in (2, 3, 5)]
    [feed] = changed(*feeds)
    assert (feed.count, feed.what) == (9, "feed taken to 50 to 80 %")
    assert [(place.layer, place.last_layer) for place in feed.where] == [(2, 3), (5, 5)]


def test_a_piece_is_moved_upwards_or_downwards() -> None:
    """Each way that a piece is moved is told by itself, with its lines counted and where they are."""
    found = changed(
        Shift(0, 999, (0.0, 0.0, 3.1), "onto the slab"), Shift(at(3).line, 999, (1.0, 0.0, -0.25))
    )
    assert [(change.what, change.count) for change in found] == [
        ("piece moved by 3.1 mm upwards: onto the slab", 3),
        ("piece moved by x 1 mm, 0.25 mm downwards", 3),
    ]
    assert [(change.where[0].layer, change.where[0].last_layer) for change in found] == [(0, 6), (3, 6)]


def test_what_came_to_nothing_is_left_out() -> None:
    """An intention for which nothing was inserted or edited is no change."""
    plan = EMPTY.adding("glaze", [Say(at(1), "hello"), ScaleFeed(0, 5, 0.5), Silence(np.array([], np.int64))])
    assert changes(plan, Written(size_bytes=0, lines=0)) == ()


def test_notes_are_no_change() -> None:
    """What is only said in the summary changes nothing in the file."""
    assert changed(Note("well done")) == []


def test_moved_pause_is_told_by_the_step_that_moved_it() -> None:
    """A pause that a later step moved stays its own step's pause; the move is the later step's change."""
    pause = Pause(at(4), "swap", "blue", "Load blue")
    plan = EMPTY.adding("swap", [pause])
    moved = Pause(at(3), "swap", "blue", "Load blue")
    plan = plan.adding("refill", [MovePause(pause, moved, "joined with a refill")])
    found = changes(plan, carried_out(plan))
    assert [(c.step, c.kind, c.what, c.where[0].layer) for c in found] == [
        ("swap", "pause", "pause: swap", 3),
        ("refill", "move", "swap pause moved: joined with a refill", 3),
    ]


def test_blower_that_rests_in_pauses() -> None:
    """A blower that rests while the machine waits is one change, counted by pauses."""
    pauses = [Pause(at(n), "refill", "empty", "Refill") for n in (2, 4)]
    plan = EMPTY.adding("refill", pauses).adding("fan", [AirInPause(off=True)])
    [rest] = [change for change in changes(plan, carried_out(plan)) if change.step == "fan"]
    assert (rest.count, rest.what) == (2, "blower off while waiting")


def test_blower_that_rests_at_the_file_s_own_waits() -> None:
    """Those count as the pauses do, in printing order, with the output's line; not what isn't written."""
    first, second = at(1).line, at(5).line
    survey = dataclasses.replace(SURVEY, own_pauses=(OwnPause(first, "M0"), OwnPause(second, "M600")))
    plan = Plan(survey, Config()).adding("refill", [Pause(at(3), "refill", "empty", "Refill")])
    plan = plan.adding("fan", [AirInPause(off=True)])
    written = dataclasses.replace(carried_out(plan), own_pauses={first: 17, second: 99})
    [rest] = [change for change in changes(plan, written) if change.step == "fan"]
    assert rest.count == 3
    assert [(place.layer, place.output_line) for place in rest.where] == [(1, 17), (3, None), (5, 99)]
    gone_by = dataclasses.replace(written, own_pauses={second: 99})
    assert [change.count for change in changes(plan, gone_by) if change.step == "fan"] == [2]


def test_changes_come_in_the_order_of_the_steps() -> None:
    """Steps are told in the order in which they were used."""
    plan = EMPTY
    for step in ("purge", "cold", "tally"):
        plan = plan.adding(step, [Say(at(1), step)])
    assert [change.step for change in changes(plan, carried_out(plan))] == ["purge", "cold", "tally"]
