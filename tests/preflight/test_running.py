"""What the file has switched on, and what may be its auger, where the machine waits or leaves the wall.

M3 and M4 turn the spindle until M5 (NISTIR 6556, section 3.6.2). M42 sets a pin by P and S, M126 opens a valve until
M127: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest

from gpost.api import Ask, Intention, LayClay, Pause, Plan, Settings, Spot, Step, Stroke, Survey, Wait
from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
AT = {"machine": {"park": {"x_mm": 15, "y_mm": 15}}}
BEAD = Stroke(((200.0, 200.0), (240.0, 200.0)), 6.0, 2.0, 2.0, 0.5)
WISHES: dict[str, Callable[[Spot], Intention]] = {
    "pause": lambda spot: Pause(spot, "look", "to look", "Look"),
    "bead": lambda spot: LayClay(spot, (BEAD,), 600.0),
    "wait": lambda spot: Wait(spot, 5.0, "to set"),
    "ask": lambda spot: Ask(spot, "Look", "to look"),
}


class Looks(Step[Settings]):
    """Wants one thing before the second ring's first bead, in line 11 of the file."""

    name = "looks"
    Settings = Settings

    def __init__(self, wish: str = "pause") -> None:
        super().__init__(Settings())
        self.wish = wish

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """At that line."""
        return [WISHES[self.wish](Spot(10))]


def rings(start: str, between: str = "G4 P1", wait: str = "") -> str:
    """Two rings of a square; `between` stands before the second, `wait` behind it."""
    lines = ["G28", "G90", "M83", start]
    for z_mm in (2, 4):
        lines += [between] if z_mm == 4 else []
        lines += [f"G1 X100 Y100 Z{z_mm} F1200"]
        lines += [f"G1 X{x} Y{y} E1" for x, y in ((140, 100), (140, 140), (100, 140), (100, 100))]
    return "\n".join([*lines, wait, ""])


@pytest.mark.parametrize("wish", list(WISHES))
@pytest.mark.parametrize(
    ("start", "between", "said"),
    [
        ("M3 S600", "G4 P1", "M3 S600 (line 4) has switched on what may push clay"),
        ("M3", "G4 P1", "M3 (line 4) has"),
        ("M5", "M4 S80", "M4 S80 (line 10) has"),
        ("M42 P5 S255", "M42 P4 S0", "M42 P5 S255 (line 4) has"),
        ("M42 P5 S255", "M42 P5 M1", "M42 P5 S255 (line 4) has"),
        ("M126", "M5", "M126 (line 4) has"),
    ],
)
def test_what_runs_on_is_told(check: Check, wish: str, start: str, between: str, said: str) -> None:
    """By its own line, at whatever stops or leads away, and with the place."""
    finding = check(rings(start, between), AT, [Looks(wish)])["runs-on"]
    assert (finding.severity, finding.line, finding.count) == ("warning", 10, 1)
    assert said in finding.text
    assert "looks (line 11)" in finding.text


@pytest.mark.parametrize(
    ("start", "between"),
    [
        ("M3 S600", "M5"),
        ("M5", "G4 P1"),
        ("M3 S0", "G4 P1"),
        ("M42 P5 S255", "M42 P5 S0"),
        ("M42 P5", "G4 P1"),  # says no level
        ("M42 P5 S", "G4 P1"),
        ("M126", "M127"),
        ("M104 S0", "M106 S255"),
    ],
)
def test_what_is_off_is_none(check: Check, start: str, between: str) -> None:
    """Nothing runs on there."""
    assert "runs-on" not in check(rings(start, between), AT, [Looks()])


def test_nothing_is_told_where_nothing_stops(check: Check) -> None:
    """The file says itself when it runs."""
    assert "runs-on" not in check(rings("M3 S600"))


@pytest.mark.parametrize("held", [["M3", "M5"], []])
def test_usual_commands_are_told_all_the_same(check: Check, held: list[str]) -> None:
    """`file_may_hold` says that they are meant, and nothing of the waits."""
    config: dict[str, Any] = {"machine": {**AT["machine"], "file_may_hold": held}}
    found = check(rings("M5", "M3 S600"), config, [Looks()])
    assert "runs-on" in found
    assert ("file-commands" in found) == (not held)


def test_the_file_s_own_waits_are_told(check: Check) -> None:
    """Without any step: the file lets it run on."""
    finding = check(rings("M3 S600", wait="M0"))["runs-on"]
    assert "the file's own M0 (line 16)" in finding.text
    assert finding.line == 15


def test_the_blower_s_own_pin_is_none(check: Check) -> None:
    """`machine: air` says what that is; another pin beside it is told."""
    air = {"on": "M42 P4 S<level>", "off": "M42 P4 S0"}
    config: dict[str, Any] = {"machine": {**AT["machine"], "air": air}}
    assert "runs-on" not in check(rings("M42 P4 S255"), config, [Looks()])
    assert "M42 P5 S9 (line 10)" in check(rings("M42 P4 S255", "M42 P5 S9"), config, [Looks()])["runs-on"].text


def test_the_key_that_is_to_be_written_is_told(check: Check) -> None:
    """As the studio would say it; with it nothing runs on, and without need nothing is said."""
    finding = check(rings("M3 S600"), AT, [Looks()])["runs-on"]
    assert '`auger: {on: "M3 S<level>", off: "M5"}`' in finding.text
    assert "`pushes_no_clay: [M3]`" in finding.text
    finding = check(rings("M42 P5 S9"), AT, [Looks()])["runs-on"]
    assert '`auger: {on: "M42 P5 S<level>", off: "M42 P5 S0"}`' in finding.text


def test_each_pin_is_one_thing(check: Check) -> None:
    """A light on one pin, the auger on another: who follows what is said of the light is still told of the auger."""
    pot = rings("M42 P6 S255", "M42 P5 S9")
    config: dict[str, Any] = {"machine": {**AT["machine"], "pushes_no_clay": ["M42 P6"]}}
    assert "`pushes_no_clay: [M42 P5]`" in check(pot, config, [Looks()])["runs-on"].text
    config["machine"]["pushes_no_clay"] = ["M42 P5"]
    finding = check(pot, config, [Looks()])["runs-on"]
    assert finding.text.startswith("M42 P6 S255 (line 4)")
    assert "`pushes_no_clay: [M42 P6]`" in finding.text
    config["machine"]["pushes_no_clay"] = ["M42 P6", "M42 P5"]
    assert "runs-on" not in check(pot, config, [Looks()])


@pytest.mark.parametrize(
    ("start", "key", "value"),
    [
        ("M3 S600", "auger", {"on": "M3 S<level>", "off": "M5"}),
        ("M3 S600", "pushes_no_clay", ["M5"]),
        ("M4 S600", "pushes_no_clay", ["M3"]),
        ("M42 P5 S9", "pushes_no_clay", ["M42"]),
        ("M42 P5 S9", "pushes_no_clay", ["m042 P05"]),
        # what the auger is is known, so that this is none
        ("M42 P5 S9", "auger", {"on": "M3 S<level>", "off": "M5"}),
    ],
)
def test_what_the_studio_says_is_known(check: Check, start: str, key: str, value: object) -> None:
    """What the auger is, or what is none; the auger's own commands set the machine no more."""
    config: dict[str, Any] = {"machine": {**AT["machine"], key: value}}
    found = check(rings(start, wait="M5"), config, [Looks()])
    assert "runs-on" not in found
    assert ("file-commands" in found) == (start.startswith("M42") or key != "auger")


AUGER: dict[str, Any] = {"machine": {**AT["machine"], "auger": {"on": "M3 S<level>", "off": "M5"}}}


@pytest.mark.parametrize(
    ("wait", "said"),
    [
        ("M0\nM5", "the file leaves the auger on where it waits itself, by M0 (line 16)"),
        ("M5", None),
        ("M5\nM0", None),
        ("G4 P1", "the file never switches the auger off after this line"),
    ],
)
def test_an_auger_that_the_file_leaves_on_is_told(check: Check, wait: str, said: str | None) -> None:
    """At its own waits, where nothing is inserted, and at its end."""
    found = check(rings("M3 S600", wait=wait), AUGER, [Looks()])
    assert ("runs-on" in found) == (said is not None)
    if said is not None:
        assert found["runs-on"].text.startswith(said)
        assert "M5" in found["runs-on"].text
