"""Wishes that no file can carry out are refused with a sentence that goes on from the step's name."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gpost.errors import PlanError
from gpost.plan.checking import check_intention
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Command,
    DryChance,
    LayClay,
    LeastLayerTime,
    MovePause,
    Note,
    Pause,
    Say,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Stroke,
    Wait,
)
from gpost.spot import Spot
from gpost.testing import make_survey

SURVEY = make_survey(layers=2, lead_in_ml=5)
END = SURVEY.lines
BEAD = Stroke(((10.0, 10.0), (10.0, 70.0)), 8.0, 4.0, 4.0, 3.0)
HERE = Spot(5)


def pause(spot: Spot = HERE, **more: Any) -> Pause:
    """A pause."""
    return Pause(spot, "look", "why", "Look", **more)


def bead(**changes: Any) -> LayClay:
    """Clay laid as one bead, changed."""
    values = {"points_mm": BEAD.points_mm, "width_mm": 8.0, "height_mm": 4.0, "z_mm": 4.0, "clay_ml": 3.0}
    return LayClay(HERE, (Stroke(**{**values, **changes}),), 900.0)


@pytest.mark.parametrize(
    "wish",
    [
        pause(),
        pause(Spot(0)),
        pause(Spot(END)),
        pause(Spot(END - 1, 0.999)),
        pause(Spot(np.int64(5))),  # type: ignore[arg-type]
        pause(prime_ml=3.0, load_ml=500.0, lay=bead()),
        MovePause(pause(), pause(Spot(6)), ""),
        bead(),
        Say(HERE, ""),
        Wait(HERE, 0.001),
        Wait(Spot(END), 86_400),
        LeastLayerTime(0.0),
        DryChance(0.5),
        Air(HERE, 0.0),
        Air(HERE, 1.0),
        AirInPause(True),
        Command(HERE, ("M302 P1",)),
        ScaleFeed(0, END, 0.5, 300.0),
        ScaleFlow(5, 5, 2.0),
        Shift(0, END, (1.0, -2.0, 0.0)),
        Silence(np.array([0, END - 1])),
        Silence(np.array([], np.int64)),
        SilencePush(3),
        Note("all is well"),
    ],
)
def test_wishes_that_can_be_carried_out_pass(wish: Any) -> None:
    """Anywhere in the file, from before its first line to behind its last."""
    check_intention(wish, SURVEY)


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        (pause(Spot(-1)), "wants to insert at line 0, but the file has"),
        (pause(Spot(END + 1)), rf"wants to insert at line {END + 2}, but the file has {END} lines"),
        (Say(Spot(END, 0.5), "x"), rf"wants to insert at line {END + 1} \(part 0.5\)"),
        (Air(Spot(5, 1.0), 0.5), r"wants to insert at line 6 \(part 1\)"),
        (Say(Spot(5, -0.1), "x"), "wants to insert"),
        (Say(Spot(5, math.nan), "x"), "wants to insert"),
        (Say(Spot("5"), "x"), "no line number"),  # type: ignore[arg-type]
        (replace(pause(), in_time=True), "in time, but names no new clay"),
        (replace(pause(), in_time=True, new_cartridge=True), "or not where it is to show"),
        (replace(pause(), in_time=True, shows_at=Spot(6)), "names no new clay"),
        (MovePause(pause(), pause(Spot(END + 1)), ""), "wants to insert"),
        (pause(prime_ml=-1.0), "wants a prime of -1, which must be 0 or more"),
        (pause(prime_ml=math.inf), "wants a prime that is no ordinary number"),
        (pause(load_ml=math.nan), "wants a load that"),
        (LayClay(HERE, (), 900.0), "names no beads"),
        (LayClay(HERE, (BEAD,), 0.0), "wants a feed of 0, which must be above 0"),
        (LayClay(HERE, (BEAD,), 900.0, wipe_mm=-1), "wants a wipe of -1"),
        (pause(lay=LayClay(HERE, (), 900.0)), "names no beads"),
        (bead(points_mm=((1.0, 1.0),)), "at least 2 points"),
        (bead(points_mm=((1.0, 1.0), (1.0, 1.0))), "wants a bead's length of 0"),
        (bead(points_mm=((1.0, 1.0), (1.0, math.nan))), "a point that is nowhere"),
        (bead(clay_ml=-1.0), "wants a bead's clay of -1"),
        (bead(z_mm=math.inf), "wants a bead at no height"),
        (Air(HERE, 1.01), "wants the blower at 1.01; a level is 0 to 1"),
        (Air(HERE, math.nan), "wants the blower at nan"),
        (Wait(Spot(END + 1), 5.0), "wants to insert at line"),
        (Wait(HERE, 0.0), "wants a wait of 0, which must be above 0"),
        (Wait(HERE, -1.0), "wants a wait of -1"),
        (Wait(HERE, math.nan), "wants a wait that is no ordinary number"),
        (Wait(HERE, 0.0004), "wants a wait of 0.0004 s; it may last from 0.001 s to a day"),
        (Wait(HERE, 86_401.0), "wants a wait of 86401 s"),
        (LeastLayerTime(-1.0), "wants a least layer time of -1"),
        (DryChance(0.0), "takes a chance of 0.0; it is above 0"),
        (DryChance(0.51), "takes a chance of 0.51"),
        (DryChance(math.nan), "takes a chance of nan"),
        (Command(HERE, ("M0\nG28",)), "wants to send 'M0.nG28': a command is one line"),
        (Command(HERE, ("M0 ;x",)), "wants to send 'M0 ;x'"),
        (Command(HERE, ("",)), "wants to send ''"),
        (Command(HERE, ("M117 é",)), "no plain text"),
        (Command(HERE, (5,)), "wants to send 5"),  # type: ignore[arg-type]
        (ScaleFeed(0, 5, 0.0), "wants a feed factor of 0"),
        (ScaleFeed(0, 5, math.nan), "wants a feed factor that"),
        (ScaleFeed(5, 4, 0.5), "end before they begin"),
        (ScaleFeed(0, 5, 0.5, -1.0), "wants a least feed of -1"),
        (ScaleFlow(0, 5, -1.0), "wants a clay factor of -1"),
        (Shift(5, 4, (0, 0, 0)), "end before they begin"),
        (Shift(0, 5, (0, math.nan, 0)), "wants to move the piece by no number"),
        (Silence(np.array([END])), "a line outside the file"),
        (Silence(np.array([-1])), "a line outside the file"),
        (Silence(np.array([0.5])), "no line numbers"),  # type: ignore[arg-type]
        (SilencePush(30), "wants to silence line 31 as a push in place, but it is none, or does more"),
        (SilencePush(-1), "wants to silence line 0 as a push"),
        (SilencePush("3"), "which is no line number"),  # type: ignore[arg-type]
        (Note(5), "notes what is no text"),  # type: ignore[arg-type]
        ("G28", "wants a thing of the kind str, which gpost can't do"),
        (None, "wants a thing of the kind NoneType"),
    ],
)
def test_wishes_that_cannot_be_carried_out_are_refused(wish: Any, said: str) -> None:
    """Places outside the file, amounts that are none, shapes that can't be laid, commands that are more."""
    with pytest.raises(ValueError, match=said):
        check_intention(wish, SURVEY)


def test_without_e_no_clay_can_be_scaled() -> None:
    """That is the file's fault, not the step's."""
    with pytest.raises(PlanError, match="the file has no E"):
        check_intention(ScaleFlow(0, 5, 1.1), SURVEY, has_e=False)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("G4 P60000", "it is a dwell, which no clock would count; a step waits by the intention Wait"),
        ("g04 s5", "it is a dwell"),
        ("M400 G4 P1", "it is a dwell"),
        (
            "G1 X5",
            "it moves the machine; a step lays beads by LayClay, moves the piece by Shift, parks by Pause",
        ),
        ("G0 Z50", "it moves the machine"),
        ("G28", "it moves the machine"),
        ("G10", "it moves the machine"),
        ("G91", "it changes how later lines are read, and no intention does that"),
        ("M83", "it changes how later lines are read"),
        ("G92 E0", "it changes how later lines are read"),
        ("M221 S50", "it changes how later lines are read"),
    ],
)
def test_what_is_an_intention_of_its_own_is_no_command(code: str, said: str) -> None:
    """Whoever allows it: a dwell, a move, a mode; the sentence names what to want instead."""
    with pytest.raises(PlanError) as error:
        check_intention(Command(HERE, ("M0", code)), SURVEY)
    assert str(error.value).startswith(f"the command {code!r} can't be sent: {said}")


@pytest.mark.parametrize("code", ["M0", "M400", "M104 S0", "SAY MSG=G4", "M117 x", "M42 P4 S1", "M106 S9"])
def test_other_commands_are_for_the_studio_to_allow(code: str) -> None:
    """They pass here; whether they are free is asked when they are written."""
    check_intention(Command(HERE, (code,)), SURVEY)


@pytest.mark.parametrize(("level", "fits"), [(-0.5, False), (-1, False), (0, True), (0.5, True), (1, True), (1.001, False)])
def test_a_level_is_nought_to_one(level: float, fits: bool) -> None:
    """Off and full count."""
    if fits:
        check_intention(Air(HERE, level), SURVEY)
    else:
        with pytest.raises(ValueError, match="a level is 0 to 1"):
            check_intention(Air(HERE, level), SURVEY)
