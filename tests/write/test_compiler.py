"""What an inserted block does, line by line, and where it is refused."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.motion.state import MachineState
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Ask,
    Command,
    Intention,
    LayClay,
    Pause,
    Say,
    Silence,
    Stroke,
    Wait,
)
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.survey.model import Survey
from gpost.testing import make_survey
from gpost.write.compiler import Compiler, Situation

STATE = MachineState(
    register=(180.0, 140.0, 6.0, 100.0), known=(True, True, True), feed_mm_min=1500.0, e_relative=True
)
PAUSE = Pause(Spot(50), "refill", "the cartridge is empty", "Load clay", prime_ml=1.0)
ML_PER_UNIT = 0.01
BEAD = Stroke(((20.0, 60.0), (20.0, 160.0)), 8.0, 4.0, 4.0, 2.0)


def config(**machine: Any) -> Config:
    """A machine whose unit of E is 0.01 ml; keys of `machine:` may be changed."""
    return Config.model_validate(
        {
            "machine": {"park": {"x_mm": 20, "y_mm": 20}, **machine},
            "clay": {"metering": {"unit": "ml", "ml_per_unit": ML_PER_UNIT}},
        }
    )


def block(
    wish: Any,
    *others: Intention,
    state: MachineState = STATE,
    top_mm: float = 6.0,
    survey: Survey | None = None,
    **machine: Any,
) -> list[str]:
    """The lines of one wish; `others` are in the plan too."""
    plan = Plan(survey or make_survey(), config(**machine)).adding("test", [wish, *others])
    return Compiler(plan).write(wish, Situation(state, top_mm, wish.spot)).lines


def test_a_pause_step_by_step() -> None:
    """Hold, relieve, lift, park, say, wait, prime, relieve, wipe, return above, come down, ready, restore.

    0.3 ml at 20 ml/min take 0.9 s, and so does the last mm of the descent, on which they are given back.
    """
    assert block(PAUSE, pause={"hold": ["M84 S0"], "relieve_ml": 0.3}) == [
        "; gpost: refill: the cartridge is empty",
        "M84 S0",
        "G1 E-30 F2000",
        "G0 Z16 F600",
        "G0 X20 Y20 F3000",
        "M117 Load clay",
        "M0",
        "G1 E30 F2000",
        "G1 E100",
        "G1 E-30",
        "G0 Y35 F3000",
        "G0 X180 Y140",
        "G0 Z7 F600",
        "G1 Z6 E30 F66.6667",
        "G92 E100",
        "G1 F1500",
        "; gpost: refill ends",
    ]


def test_a_pause_without_a_prime_leaves_the_register_alone() -> None:
    """What is drawn back is given again, so no G92 is needed, and nothing is wiped."""
    lines = block(replace(PAUSE, prime_ml=0.0))
    assert not any(line.startswith("G92") for line in lines)
    assert [line for line in lines if " E" in line] == ["G1 E-30 F2000", "G1 Z6 E30 F66.6667"]


def test_the_hose_settles_at_the_park_before_the_wipe() -> None:
    """After the prime the nozzle stands still there, by the machine's own unit; without a prime it does not."""
    settle: dict[str, Any] = {"pause": {"settle_s": 12.5}}
    lines = block(PAUSE, **settle)
    at = lines.index("G4 P12500")
    assert lines[at - 2 : at + 2] == ["G1 E100", "G1 E-30", "G4 P12500", "G0 Y35 F3000"]
    assert "G4 P12.5" in block(PAUSE, dwell_p="seconds", **settle)
    assert not any(line.startswith("G4") for line in block(replace(PAUSE, prime_ml=0.0), **settle))
    assert not any(line.startswith("G4") for line in block(PAUSE))


def test_a_relief_that_takes_no_time_does_not_hurry_the_descent() -> None:
    """The last of the descent is no faster than the rest, and the flow no more than that of the prime."""
    assert "G1 Z6 E1" in block(PAUSE, pause={"relieve_ml": 0.01})


@pytest.mark.parametrize(
    ("message", "shown"),
    [
        ("before", ["M117 Load clay", "M300", "M0"]),
        ("after", ["M300", "M0", "M117 Load clay"]),
        ("none", ["M300", "M0"]),
    ],
)
def test_the_message_comes_before_or_after_the_wait(message: str, shown: list[str]) -> None:
    """Or nowhere; a beep comes with the wait."""
    lines = block(PAUSE, pause={"message": message}, beep=["M300"])
    assert [line for line in lines if line[0] == "M" and line != "M84 S0"] == shown


def test_the_waiting_commands_are_the_config_s() -> None:
    """Several may be needed; they are sent as they stand."""
    lines = block(PAUSE, pause={"commands": ["M400", "M25"]}, display=None, allow_commands=["M400"])
    assert lines[lines.index("M400") + 1] == "M25"
    assert not any(line.startswith("M117") for line in lines)


@pytest.mark.parametrize(("wish", "manner"), [(replace(PAUSE, hold_again=True), False), (PAUSE, True)])
def test_a_second_wait_comes_after_the_prime(wish: Pause, manner: bool) -> None:
    """Asked for by the step or by the config, before the way back."""
    lines = block(wish, pause={"hold_again": manner})
    first, second = (n for n, line in enumerate(lines) if line == "M0")
    assert first < lines.index("G1 E100") < second < lines.index("G0 X180 Y140")


def test_the_blower_rests_while_the_machine_waits() -> None:
    """If asked for it is off from the park on, and blows as the plan had it set before the way back."""
    airs = [Air(Spot(40), 0.5), Air(Spot(60), 1.0), AirInPause(True)]
    lines = block(PAUSE, *airs)
    assert lines.index("G0 X20 Y20 F3000") < lines.index("M107") < lines.index("M0")
    assert lines.index("M0") < lines.index("M106 S128") < lines.index("G0 X180 Y140")
    assert not any(line.startswith("M10") for line in block(PAUSE, *airs[:2], AirInPause(False)))
    assert not any(line.startswith("M10") for line in block(PAUSE, Air(Spot(40), 0.0), AirInPause(True)))


@pytest.mark.parametrize(("before", "line"), [(True, "M106 S128"), (False, "M106 S64")])
def test_the_blower_set_at_the_pause_s_own_spot_counts_if_it_is_done_before(before: bool, line: str) -> None:
    """At one spot what is earlier in the plan is done first: its level comes back, a later one is still to come."""
    here = [Air(PAUSE.spot, 0.5), PAUSE] if before else [PAUSE, Air(PAUSE.spot, 0.5)]
    plan = Plan(make_survey(), config()).adding("test", [Air(Spot(40), 0.25), AirInPause(True), *here])
    lines = Compiler(plan).write(PAUSE, Situation(STATE, 6.0, PAUSE.spot)).lines
    assert [text for text in lines if text.startswith("M10")] == ["M107", line]


def test_the_source_s_own_blower_is_set_in_its_own_words() -> None:
    """Where the plan sets no air, the level that the source set comes back, to the last digit."""
    gentle = block(PAUSE, AirInPause(True), state=replace(STATE, air=0.5))
    assert [line for line in gentle if line.startswith("M10")] == ["M107", "M106 S0.5"]
    blowing = replace(STATE, air=90.5)
    lines = block(PAUSE, AirInPause(True), state=blowing)
    assert "M107" in lines
    assert "M106 S90.5" in lines
    survey = make_survey(commands=[("M", 1060, 12)])
    silenced = Silence(np.array([12]))
    assert "M106 S90.5" not in block(PAUSE, AirInPause(True), silenced, state=blowing, survey=survey)


def test_beads_are_laid_one_after_the_other() -> None:
    """Beads that begin close by on one level follow on; others are reached over the piece's top."""
    near = replace(BEAD, points_mm=((30.0, 160.0), (30.0, 60.0)))
    above = replace(BEAD, z_mm=8.0)
    lay = LayClay(Spot(50), (BEAD, near, above), 900.0, wipe_mm=10.0, why="purge")
    assert block(lay, pause={"relieve_ml": 0.3}) == [
        "; gpost: clay beside the piece: purge",
        "G1 E-30 F2000",
        "G0 Z18 F600",
        "G0 X20 Y60 F3000",
        "G0 Z4 F600",
        "G1 E30 F2000",
        "G1 Y160 E200 F900",
        "G0 X30 F3000",
        "G1 Y60 E200 F900",
        "G1 E-30 F2000",
        "G0 Z18 F600",
        "G0 X20 F3000",
        "G0 Z8 F600",
        "G1 E30 F2000",
        "G1 Y160 E200 F900",
        "G1 E-30 F2000",
        "G0 Y150 F3000",
        "G0 Z18 F600",
        "G0 X180 Y140 F3000",
        "G0 Z7 F600",
        "G1 Z6 E30 F66.6667",
        "G92 E100",
        "G1 F1500",
        "; gpost: clay beside the piece ends",
    ]


def test_the_lift_clears_beads_that_are_higher_than_the_piece() -> None:
    """Beads laid earlier, and those to be laid now, count as much as the piece's top."""
    tower = LayClay(Spot(20), (replace(BEAD, z_mm=80.0),), 900.0)
    assert "G0 Z90 F600" in block(PAUSE, tower)
    assert "G0 Z16 F600" in block(PAUSE, replace(tower, spot=Spot(51)))
    assert "G0 Z90 F600" in block(replace(PAUSE, lay=tower))


def test_clay_switched_on_is_off_on_the_way() -> None:
    """In a file that switches clay on by M101 the block switches it off first and on again last."""
    lines = block(PAUSE, state=replace(STATE, laying=True))
    moves = [n for n, line in enumerate(lines) if line.startswith("G")]
    assert lines.index("M103") < moves[0]
    assert lines.index("M101") > moves[-1]


AUGER = {"auger": {"on": "M3 S<level>", "off": "M5"}}


@pytest.mark.parametrize(
    ("state", "machine", "off", "on"),
    [
        (replace(STATE, laying=True), {}, "M103", "M101"),
        (replace(STATE, laying=True), AUGER, "M103", "M101"),
        (replace(STATE, auger_runs=True, auger_number=600.5), AUGER, "M5", "M3 S600.5"),
        (replace(STATE, auger_runs=True), AUGER, "M5", "M3"),
        # one command for both is sent once
        (replace(STATE, laying=True, auger_runs=True), {"auger": {"on": "M101", "off": "M103"}}, "M103", "M101"),
        (replace(STATE, auger_number=600.0), AUGER, None, None),
        (STATE, {}, None, None),
    ],
)
def test_clay_that_is_switched_on_is_off_where_the_nozzle_stands_still(
    state: MachineState, machine: dict[str, Any], off: str | None, on: str | None
) -> None:
    """On the wall it would heap up there, at a wait as at a question."""
    around = ([off] if off else []), ([on] if on else [])
    assert block(Wait(Spot(9), 5.0), state=state, **machine) == [*around[0], "G4 P5000", *around[1]]
    asked = block(Ask(Spot(9), "Look", "to look"), state=state, **machine)
    assert asked == ["; gpost: ask: to look", *around[0], "M117 Look", "M0", *around[1], "; gpost: ask ends"]


@pytest.mark.parametrize(("level", "line"), [(0.0, "M42 P4 S0"), (1.0, "M42 P4 S1"), (0.25, "M42 P4 S0.25")])
def test_the_blower_s_commands_are_the_config_s(level: float, line: str) -> None:
    """A relay or a pin instead of a fan: the level goes where the config says."""
    air = {"on": "M42 P4 S<level>", "off": "M42 P4 S0", "full": 1.0, "decimals": 2}
    assert block(Air(Spot(9), level), air=air) == [line]


def test_messages_and_commands_are_single_lines() -> None:
    """A message is shown, commands are sent, and neither moves anything."""
    assert block(Say(Spot(9), "half; way")) == ["M117 half, way"]
    sent = Command(Spot(9), ("M302 P1", "M42 P4 S1"))
    assert block(sent, allow_commands=["M42 P4 S1"]) == ["M302 P1", "M42 P4 S1"]


@pytest.mark.parametrize(
    ("machine", "state", "said"),
    [
        ({"park": {"x_mm": 400, "y_mm": 20}}, STATE, "the park .* lies off the bed"),
        ({"park": {"x_mm": 140, "y_mm": 140}}, STATE, "the park .* lies over the piece"),
        ({"ceiling_mm": 7}, STATE, "line 51 .* the ceiling is 7 mm"),
        ({}, replace(STATE, known=(True, True, False)), "line 51 the machine doesn't know"),
        ({}, replace(STATE, feed_factor=0.0), "the feed factor is 0"),
        ({}, replace(STATE, flow_factor=0.0), "the flow factor is 0"),
    ],
)
def test_what_is_not_safe_is_refused(machine: dict[str, Any], state: MachineState, said: str) -> None:
    """The sentence says what is wrong and what to do."""
    with pytest.raises(PlanError, match=said):
        block(PAUSE, state=state, **machine)


def test_without_clay_running_a_pause_needs_no_flow() -> None:
    """With the flow factor at 0, or a file without E, a pause without a prime moves no clay and is done."""
    still = replace(PAUSE, prime_ml=0.0)
    assert not any(" E" in line for line in block(still, state=replace(STATE, flow_factor=0.0)))


def test_a_file_without_e_can_pause_but_not_prime() -> None:
    """Metered by path, clay can't be pushed in place."""
    by_path = Config.model_validate({"clay": {"metering": {"unit": "path"}}})
    for prime_ml in (0.0, 1.0):
        wish = replace(PAUSE, prime_ml=prime_ml)
        compiler = Compiler(Plan(make_survey(), by_path).adding("test", [wish]))
        place = Situation(STATE, 6.0, wish.spot)
        if prime_ml:
            with pytest.raises(PlanError, match="set prime_ml to 0"):
                compiler.write(wish, place)
        else:
            assert not any(" E" in line for line in compiler.write(wish, place).lines)


@pytest.mark.parametrize("key", ["beep", "pause.hold", "pause.commands"])
def test_a_configured_command_that_moves_is_refused_with_its_key(key: str) -> None:
    """A command in the config that would move the machine or change a mode is named at once."""
    commands: Any = ["G91"]
    machine = {"pause": {key.removeprefix("pause."): commands}} if "." in key else {key: commands}
    with pytest.raises(PlanError, match=f"machine.{key}: the command 'G91'"):
        Compiler(Plan(make_survey(), config(**machine)))


def test_the_feed_that_comes_back_is_the_output_s() -> None:
    """In a stretch of scaled feeds the scaled one is given back, not the source's."""
    plan = Plan(make_survey(), config()).adding("test", [PAUSE])
    script = Compiler(plan).write(PAUSE, Situation(STATE, 6.0, PAUSE.spot, end_feed_mm_min=750.0))
    assert script.lines[-2] == "G1 F750"


def test_before_the_first_layer_the_nozzle_s_own_height_counts() -> None:
    """With no clay laid yet the lift is from where the nozzle stands."""
    assert "G0 Z16 F600" in block(PAUSE, top_mm=-math.inf)


def test_the_wipe_stays_on_the_bed_and_off_the_piece() -> None:
    """It goes towards the middle of the bed along Y, or else along X, or not at all."""
    survey = make_survey(centre_mm=(20.0, 75.0), radius_mm=40.0)
    lines = block(PAUSE, survey=survey)
    assert "G0 X35 F3000" in lines
    assert "G0 Y35 F3000" not in lines
    assert not any(line == "G0 Y35 F3000" for line in block(PAUSE, pause={"wipe_mm": 0}))


@pytest.mark.parametrize(
    ("unit", "seconds", "said"),
    [("milliseconds", 2.504, "P2504"), ("seconds", 2.5, "P2.5"), ("milliseconds", 60, "P60000"), ("seconds", 60, "P60"),
     ("milliseconds", 0.0014, "P1"), ("seconds", 0.0014, "P0.001")],
)  # fmt: skip
def test_a_wait_is_a_dwell_in_the_machine_s_unit(unit: str, seconds: float, said: str) -> None:
    """P counts seconds by the standard (NIST RS274/NGC report, section 3.5.4), milliseconds by printing usage."""
    assert block(Wait(Spot(50), seconds, "to set"), dwell_p=unit) == [f"G4 {said}"]
