"""Commands beside the moves that the file itself holds. What each does: common practice, no source."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gpost.api import Intention, Plan, Settings, Silence, Step, Survey
from gpost.config.model import Config
from gpost.errors import PlanError, SourceError
from gpost.pipeline import check_file, run_file
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.survey import named, places
from gpost.survey.build import survey_source
from tests.reference.interpreter import run

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
START = ("G28", "G90", "M83")
MAY_HOLD = "file_may_hold"
WARNS, LOST, UNKNOWN, PACE = "file-commands", "changed-midway", "unknown-command", "pace"
LOSING = {
    "M206 Z-20": "shifts the machine's zero",
    "M428": "shifts the machine's zero",
    "M290 Z0.5": "shifts the machine's zero",
    "M851 Z-1.2": "shifts the height that the probe finds",
    "M92 E800": "sets how far a step goes",
    "M350 S16": "sets how far a step goes",
    "M200 D1.75": "sets what one unit of E is",
    "M420 S1": "sets how the bed's shape is made up for",
    "M665 R150": "sets how the machine is built",
    "M218 T1 X5": "sets up tools",
    "M501": "takes back stored settings",
    "M502": "takes back stored settings",
    "M28 bowl.g": "writes files",
    "M29": "writes files",
    "M32 other.g": "goes on in another one",
    "M111 S8": "only pretends to do",
    "M702": "unloads by itself",
    "G29": "probes the bed",
    "G32": "probes the bed",
}
"""Commands after which nobody can tell where the nozzle is, or how much clay comes."""
SETTING = {
    "M211 S0": "limits of the machine's ways",
    "M208 X900": "limits of the machine's ways",
    "M120": "limits of the machine's ways",
    "M500": "stores settings",
    "M906 X2000": "sets up the motors",
    "M80": "switches the power on",
}
"""Commands that set the machine, and leave it where it is."""
STOPS = {"M112": "emergency stop", "M81": "power off", "M997": "software", "M999": "anew"}


def name(command: str) -> str:
    """The code alone."""
    return command.split()[0]


def midway(pot: Pot, *lines: str) -> str:
    """The pot with lines between its two layers; they begin on line 8, counted from 0."""
    text = pot().split("\n")
    return "\n".join([*text[:8], *lines, *text[8:]])


@pytest.mark.parametrize(("command", "does"), (LOSING | SETTING).items())
def test_before_the_first_bead_all_is_one_warning(check: Check, pot: Pot, command: str, does: str) -> None:
    """It names the command, what it does, its line, and the key that silences it."""
    (finding,) = check(pot(start=[*START, command])).values()
    assert (finding.name, finding.severity, finding.line, finding.count) == (WARNS, "warning", 3, 1)
    assert f"{name(command)} " in finding.text
    assert does in finding.text
    assert "(line 4)" in finding.text
    assert f"`file_may_hold: [{name(command)}]`" in finding.text


@pytest.mark.parametrize("command", LOSING | SETTING)
def test_what_the_studio_names_is_silent(check: Check, pot: Pot, command: str) -> None:
    """Before the first bead and after the last one."""
    machine = {"machine": {MAY_HOLD: [name(command).lower(), "SET_AIR"]}}
    assert check(pot(start=[*START, command], end=[command]), machine) == {}


def test_several_are_one_warning(check: Check, pot: Pot) -> None:
    """Those of the start-up and of the end, each with its first line, at the first line."""
    start = [*START, "G29", "M92 E5", "M92 X80", "M211 S0", "M500"]
    (finding,) = check(pot(start=start, end=["M851 Z0", "M665 R9", "M92 E1"])).values()
    assert (finding.name, finding.line, finding.count) == (WARNS, 3, 8)
    assert "M92 sets how far a step goes (line 5, first of 3)" in finding.text
    assert "(line 19) and M665 sets how the machine is built (line 20); see that" in finding.text
    assert finding.text.endswith("`file_may_hold: [G29, M92, M211, M500, M851, M665]`")


@pytest.mark.parametrize(("command", "does"), LOSING.items())
def test_in_the_middle_it_is_an_error(check: Check, pot: Pot, command: str, does: str) -> None:
    """Whether the studio names it or not; what stands in the start-up as well is still a warning."""
    for config in ({}, {"machine": {MAY_HOLD: [name(command)]}}):
        (finding,) = check(midway(pot, command), config).values()
        assert (finding.name, finding.severity, finding.line) == (LOST, "error", 8)
        assert does in finding.text
        assert "can't be told any more" in finding.text
    both = check(midway(pot, command).replace("M83\n", f"M83\n{command}\n"))
    assert (both[LOST].line, both[WARNS].line) == (9, 3)


@pytest.mark.parametrize("command", SETTING)
def test_in_the_middle_others_are_a_warning(check: Check, pot: Pot, command: str) -> None:
    """Places and clay can still be told."""
    (finding,) = check(midway(pot, command)).values()
    assert (finding.name, finding.severity, finding.line) == (WARNS, "warning", 8)


@pytest.mark.parametrize(("command", "does"), STOPS.items())
def test_an_end_with_moves_after_it(check: Check, pot: Pot, command: str, does: str) -> None:
    """An emergency stop, or the power switched off, is an error wherever moves come after it."""
    for text in (midway(pot, command), pot(start=[*START, command]), pot(end=[command, "G0 Z50"])):
        (finding,) = check(text).values()
        assert (finding.name, finding.severity) == (LOST, "error")
        assert text.split("\n")[finding.line or 0] == command
        assert does in finding.text
    assert check(pot(end=["G0 Z50", command])) == {}


@pytest.mark.parametrize(
    ("line", "lost"),
    [
        ("G28 Z", True),
        ("G28 Z0", True),
        ("G28", True),
        ("G28 X Z", True),
        ("G28 X Y", False),
        ("G28 X0", False),
        ("M84", True),
        ("M18", True),
        ("M84 X", True),
        ("M84 E", False),
        ("M84 S0", False),
        ("M18 S60", False),
    ],
)
def test_homing_and_motors_in_the_middle(check: Check, pot: Pot, line: str, lost: bool) -> None:
    """Z homed, or the motors of X, Y or Z let go, between two beads; before and after them it is usual."""
    found = check(midway(pot, "G0 Z9", line, "G0 X100 Y100 Z4"))
    assert (LOST in found) is lost
    if lost:
        assert (found[LOST].line, found[LOST].count) == (9, 1)
        assert ("homes Z" if "G28" in line else "lets the motors go") in found[LOST].text
    assert LOST not in check(pot(start=[*START, line], end=[line, "G0 Z60"]))


def test_x_and_y_homed_in_the_middle(check: Check, pot: Pot) -> None:
    """Where the next bead begins at the corner all that follows lies elsewhere; dragged there, nothing does."""
    (finding,) = check(midway(pot, "G28 X Y").replace("G1 X100 Y100 Z4", "G1 Z4")).values()
    assert (finding.name, finding.severity, finding.line, finding.count) == (LOST, "error", 8, 1)
    assert "G28 homes X or Y, so that the next bead begins where the machine homes" in finding.text
    (finding,) = check(midway(pot, "G28 X Y", "G0 X100 Y100")).values()
    assert (finding.name, finding.severity, finding.line, finding.count) == (LOST, "warning", 8, 1)
    assert "let it rise before that" in finding.text
    assert "can't be told" not in finding.text


def test_x_and_y_homed_where_nothing_is_laid_from(check: Check, pot: Pot) -> None:
    """At the file's end, after a prime before the piece, and above it with a way back, as to a pause."""
    lifted = midway(pot, "G0 Z20", "G28 X Y", "G0 X100 Y100")
    prime = ["G28", "G90", "M83", "G1 X5 Y5 Z2 F1200", "G1 X5 Y60 E1", "G28 X Y"]
    for text in (lifted, pot(end=["G28 X Y", "G0 Z60"]), pot(start=prime)):
        assert LOST not in check(text)


class Nothing(Step[Settings]):
    """Wants nothing."""

    name = "nothing"
    Settings = Settings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Nothing."""
        return []


def test_a_homing_in_the_middle_is_not_called_two_pieces(check: Check, pot: Pot, tmp_path: Path) -> None:
    """Where the file goes on at the bottom, the true reason is said, with the line."""
    square = "".join(f"G1 X{x} Y{y} E1\n" for x, y in ((140, 100), (140, 140), (100, 140), (100, 100)))
    text = f"{pot()}G28 Z\nG0 X100 Y100 Z2\n{square}"
    path = tmp_path / "pot.gcode"
    path.write_text(text)
    config = Config.model_validate({"clay": {"metering": {"unit": "ml", "ml_per_unit": 1}}})
    assert survey_source(Source(path), config).pieces == 2
    found = check_file(path, config, ())
    assert [finding.name for finding in found if finding.severity == "error"] == [LOST]
    assert not any("pieces" in finding.text for finding in found)
    with pytest.raises(PlanError, match=r"^Z is homed on line 14, in the middle of the print"):
        run_file(path, tmp_path / "out.gcode", config, [Nothing(Settings())])


@pytest.mark.parametrize("command", ["M206 X5", "G29", "LIFT_ALL", "G28 Z", "M84"])
def test_between_the_prime_and_the_piece(check: Check, pot: Pot, command: str) -> None:
    """A start-up goes on after the file's own prime, until the first bead of the piece is laid."""
    start = [*START, "G0 X5 Y5 Z1 F1200", "G1 Y60 E1", command]
    text = pot(start=start)
    assert LOST not in check(text)
    assert UNKNOWN not in check(text)
    lines = text.split("\n")
    later = "\n".join([*lines[:5], *lines[6:8], command, *lines[8:]])
    found = check(later)
    assert (found.get(LOST) or found[UNKNOWN]).line == 7


def test_a_homing_before_the_piece_is_no_reason(check: Check, pot: Pot, tmp_path: Path) -> None:
    """After a prime Z may be homed once more; two pieces that follow are two pieces."""
    square = "".join(f"G1 X{x} Y{y} E1\n" for x, y in ((240, 200), (240, 240), (200, 240), (200, 200)))
    start = ["G28", "G90", "M83", "G1 X5 Y5 Z1 F1200", "G1 X5 Y60 E1", "G28 Z"]
    path = tmp_path / "pot.gcode"
    path.write_text(f"{pot(start=start)}G0 Z20\nG0 X200 Y200\nG0 Z2\n{square}")
    survey = survey_source(Source(path), Config())
    assert (survey.pieces, survey.homings, survey.homed_midway) == (2, (5,), None)
    assert any("prints 2 pieces" in text for text in survey.warnings)


PACES = ("M201 X500", "M202 X500", "M203 Z5", "M204 P400", "M205 X8")


@pytest.mark.parametrize("command", PACES)
def test_how_fast_it_gets_under_way_is_a_note(check: Check, pot: Pot, command: str) -> None:
    """Wherever it stands: places and clay stay."""
    for text in (midway(pot, command), pot(start=[*START, command]), pot(end=[command])):
        (finding,) = check(text).values()
        assert (finding.name, finding.severity) == (PACE, "note")
        assert text.split("\n")[finding.line or 0] == command


def test_all_of_them_are_one_note(check: Check, pot: Pot) -> None:
    """With the first line of each."""
    (finding,) = check(midway(pot, *PACES, "M204 P100")).values()
    assert (finding.line, finding.count) == (8, 6)
    assert "M204 (line 12, first of 2)" in finding.text


@pytest.mark.parametrize("where", ["middle", "end"])
def test_an_unknown_name_after_the_first_bead(check: Check, pot: Pot, where: str) -> None:
    """It is an error that says how to name it, unless the studio does; after the last bead it is a warning."""
    lines = ["LIFT_ALL Z=9", "turn_table", "Lift_All"]
    text = midway(pot, *lines) if where == "middle" else pot(end=lines)
    (finding,) = check(text).values()
    severity = "error" if where == "middle" else "warning"
    assert (finding.name, finding.severity, finding.count) == (UNKNOWN, severity, 3)
    assert finding.line == (8 if where == "middle" else 13)
    assert "`file_may_hold: [LIFT_ALL, TURN_TABLE]`" in finding.text
    half = check(text, {"machine": {MAY_HOLD: ["TURN_TABLE"]}})
    assert half[UNKNOWN].count == 2
    assert check(text, {"machine": {MAY_HOLD: ["lift_all", "TURN_TABLE"]}}) == {}


def test_very_many_names(check: Check, pot: Pot) -> None:
    """The first forty stand in the sentence, and how many there are more."""
    (finding,) = check(pot(end=[f"AB_{number}" for number in range(50)])).values()
    assert finding.count == 50
    assert "AB_39 (line 53) and 10 more; " in finding.text
    assert finding.text.endswith("AB_38, AB_39]`")


def test_names_that_are_the_config_s_own(check: Check, pot: Pot) -> None:
    """What it pauses, holds, beeps and blows by is known; before the first bead a name is only odd."""
    manner = {"commands": ["WAIT_HERE NOW=1"], "hold": ["HOLD_STILL"]}
    machine = {"pause": manner, "beep": ["PING"], "air": {"on": "BLOW L=<level>", "off": "BLOW_OFF"}}
    machine["allow_commands"] = ["WAIT_HERE", "HOLD_STILL", "PING", "BLOW", "BLOW_OFF"]
    text = midway(pot, "WAIT_HERE", "HOLD_STILL", "PING", "BLOW L=3", "BLOW_OFF")
    assert set(check(text, {"machine": machine})) == {"own-pause"}
    assert check(pot(start=[*START, "LIFT_ALL"])) == {}


class Quiet(Step[Settings]):
    """Silences one line."""

    name = "quiet"
    Settings = Settings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """The ninth."""
        return [Silence(np.array([8]), "not here")]


@pytest.mark.parametrize("command", ["M206 X5", "M211 S0", "M112", "M18", "M204 P5", "LIFT_ALL"])
def test_what_a_step_silences_is_not_there(check: Check, pot: Pot, command: str) -> None:
    """Nobody carries a comment out."""
    steps = [Quiet(Settings())]
    assert check(midway(pot, command)) != {}
    assert check(midway(pot, command), steps=steps) == {}


def test_a_pattern_for_layers_does_not_put_off_the_first_bead(check: Check, pot: Pot) -> None:
    """A recipe whose pattern finds its first layer late can't make an error a warning."""
    text = midway(pot, "M206 X5", "; ring")
    assert check(text, {"layers": {"comment_pattern": "^; ring"}})[LOST].line == 8


@pytest.mark.parametrize("chunk_bytes", [1, 57, 1 << 18])
def test_cuts_can_t_be_seen(pot: Pot, tmp_path: Path, chunk_bytes: int) -> None:
    """However the file is cut into blocks, the survey knows the same of it."""
    path = tmp_path / "pot.gcode"
    path.write_text(midway(pot, "G28 Z", "LIFT_ALL", "M84", "G0 X100 Y100 Z4") + "LIFT_ALL\nG0 Z60\nM84\n")
    survey = survey_source(Source(path, chunk_bytes=chunk_bytes), Config())
    assert (survey.laid_from, survey.laid_until, survey.moves_until) == (4, 17, 19)
    assert (survey.homings, survey.let_go, survey.homed_midway) == ((8,), (10, 19), 8)
    assert ([one.line for one in survey.unknown], survey.named) == ([9, 17], {"LIFT_ALL": 2})


def test_more_names_than_are_kept(check: Check, pot: Pot, monkeypatch: pytest.MonkeyPatch) -> None:
    """Those that are not remembered are an error of their own, and so many different ones are no G-code."""
    monkeypatch.setattr(named, "KEPT", 3)
    monkeypatch.setattr(places, "KEPT", 3)
    found = check(pot(start=[*START, *["LIFT_ALL"] * 3]) + "LIFT_ALL\n")
    assert (found[UNKNOWN].severity, found[UNKNOWN].line) == ("warning", 16)
    assert check(midway(pot, *["G28 Z", "G0 X100 Y100 Z4"] * 5))[LOST].count == 3
    with pytest.raises(SourceError, match="line 17: the file holds more than 3 different commands by name"):
        check(pot(end=["AB", "AC", "AD", "AE"]))


# -- what can't be told any more, by the reference interpreter ---------------------------------------

OBEYED = {
    "M206 X5 Y-3": ["G92 X95 Y103"],
    "M851 Z-1": ["G92 Z3"],
    "M92 E1600": ["M221 S50"],
    "M200 D2": ["M221 S314"],
    "G28 Z": ["G28 Z"],
    "M28 other.g": ["M2"],
    "M112": ["M2"],
}
"""Commands, and the lines of the standard that do to a machine what it does that obeys them."""


@pytest.mark.parametrize("command", OBEYED)
def test_the_error_stands_where_the_machine_and_its_account_part(
    check: Check, pot: Pot, command: str
) -> None:
    """Up to that line a machine that obeys and one that doesn't do the same, and after it another thing."""
    line = check(midway(pot, command))[LOST].line
    assert line is not None

    def done(*instead: str) -> list[tuple[Any, ...]]:
        events = run(midway(pot, *instead).encode())
        return [(e.kind, e.start_mm, e.end_mm, e.e_metered_mm) for e in events]

    obeys, account = done(*OBEYED[command]), done("; nothing")
    assert obeys[:line] == account[:line]
    others = (row for row in range(line + 1, len(account)) if obeys[row] != account[row])
    assert next(others) in (line + 1, line + 2)  # the first move, or the first that lays clay
