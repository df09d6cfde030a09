"""Where the file itself waits."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import pytest
from gpost_plugins.fan import AirBand, Fan, FanSettings

from gpost.api import Intention, Pause, Plan, Settings, Silence, Spot, Step, Survey
from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]


class Quiet(Step[Settings]):
    """Silences the first of the file's own pauses."""

    name = "quiet"
    Settings = Settings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One line."""
        return [Silence(np.array([plan.own_pauses[0].line]), "no waiting")]


def test_no_pause_no_word(check: Check, pot: Pot) -> None:
    """A message that names M0, a comment and a dwell are no pauses."""
    assert check(pot(end=["M117 M0", "; M0", "G4 P100", "M400"])) == {}


@pytest.mark.parametrize(
    ("end", "said"),
    [
        (["M0"], "by M0: line 14"),
        (["M1 Look", "M0"], "by M1, M0: lines 14 and 15"),
        (["M600", "M226 P2", "M25"], "by M600, M226, M25: lines 14, 15 and 16"),
        (["M0"] * 5, "by M0: lines 14, 15, 16, 17 and 18"),
        (["M0"] * 6, "by M0: lines 14, 15, 16, 17 and 2 more"),
    ],
)
def test_where_it_waits(check: Check, pot: Pot, end: list[str], said: str) -> None:
    """All are one note, at the first line, with the commands and the first lines."""
    (finding,) = check(pot(end=end)).values()
    assert (finding.name, finding.severity, finding.line) == ("own-pause", "note", 13)
    assert finding.count == len(end)
    assert finding.text == f"the file itself makes the machine wait for you, {said}"
    assert finding.sentence == finding.text


@pytest.mark.parametrize(
    ("end", "said"),
    [
        (["M0 S10"], "for 10 s and go on by itself, by M0: line 14; a machine"),
        (["M0 P500", "M1 S600"], "for up to 10 min and go on by itself, by M0, M1: lines 14 and 15; a machine"),
    ],
)
def test_where_it_goes_on_by_itself(check: Check, pot: Pot, end: list[str], said: str) -> None:
    """Nobody is waited for: how long at the most, and by which lines."""
    (finding,) = check(pot(end=end)).values()
    assert (finding.name, finding.severity, finding.line) == ("own-pause", "note", 13)
    assert f"the file itself makes the machine stand still {said}" in finding.text


def test_a_blower_may_blow_through_a_short_one(check: Check) -> None:
    """It is no wait for somebody."""
    assert "blown-wait" not in check(blown(2, "M0 S10"))


def test_what_a_step_silences_is_no_pause(check: Check, pot: Pot) -> None:
    """One of two is left, and then none."""
    assert check(pot(end=["M0", "M600"]), steps=[Quiet(Settings())])["own-pause"].line == 14
    assert check(pot(end=["M0"]), steps=[Quiet(Settings())]) == {}


BLOWING = ("G28", "G90", "M83", "M106 S204")


def blown(ring: int, wait: str, *before: str) -> str:
    """A wait after one of three rings of a square, 40 mm wide, after what is written before it."""
    lines = list(BLOWING)
    for z_mm in (2, 4, 6):
        lines.append(f"G1 X100 Y100 Z{z_mm} F1200")
        lines += [f"G1 X{x} Y{y} E1" for x, y in ((140, 100), (140, 140), (100, 140), (100, 100))]
        if z_mm == 2 * ring:
            lines += [*before, wait]
    return "\n".join([*lines, ""])


def test_a_blower_that_the_file_leaves_on_is_told(check: Check) -> None:
    """Where it waits on the rim without M107; the line, and what to do."""
    finding = check(blown(2, "M600"))["blown-wait"]
    assert (finding.severity, finding.line, finding.count) == ("warning", 14, 1)
    assert "leaves the blower on while it waits for you over the piece, by M600: line 15" in finding.text
    assert "M107" in finding.text
    assert "fan" in finding.text


@pytest.mark.parametrize(
    "text",
    [
        blown(2, "M0", "M107"),
        blown(2, "M0", "M106 S0"),
        # beside the piece
        blown(2, "M0", "G1 X20 Y20"),
        blown(2, "M0", "G91", "G1 Y-60", "G90"),
        # before the first clay, and after the last
        "M106 S9\nM0\n" + blown(0, ""),
        blown(3, "M0"),
        # no blower at all
        blown(2, "M0").replace("M106 S204", "M83"),
    ],
)
def test_a_blower_that_is_off_or_elsewhere_is_none_to_warn_of(check: Check, text: str) -> None:
    """Nothing blows at the rim there."""
    assert "blown-wait" not in check(text)


def test_a_wait_behind_a_move_on_its_own_line_is_where_that_ends(check: Check) -> None:
    """The stop comes after the move (NIST RS274/NGC report, section 3.8)."""
    assert "blown-wait" not in check(blown(2, "M0 G1 X20 Y20"))
    assert "blown-wait" in check(blown(2, "M0 G1 X120 Y120", "G1 X20 Y20"))


@pytest.mark.parametrize("rests", [True, False])
def test_who_lets_the_fan_step_set_the_blower_has_said_what_is_to_be(check: Check, rests: bool) -> None:
    """It is off at the file's own waits, or was asked to blow on."""
    settings = FanSettings(bands=(AirBand(from_layer=1, level_percent=80),), off_in_pause=rests)
    assert "blown-wait" not in check(blown(2, "M600"), steps=[Fan(settings)])


ON_A_PIN = {"air": {"on": "M42 P4 S<level>", "off": "M42 P4 S0", "full": 1}}


@pytest.mark.parametrize(
    ("start", "before", "told"),
    [
        ("M42 P4 S1", [], True),
        ("M42 S1 P4", ["M42 P5 S0"], True),
        ("M42 P4 S1", ["M42 P4 S0"], False),
        ("M42 P5 S1", [], False),
        ("M106 S0", ["M42 P4 S0.5"], True),
    ],
)
def test_a_blower_on_a_pin_is_told_with_its_own_commands(
    check: Check, start: str, before: list[str], told: bool
) -> None:
    """As one that M106 switches; and it is no longer told as a pin that nobody knows."""
    found = check(blown(2, "M0", *before).replace("M106 S204", start), {"machine": ON_A_PIN})
    assert ("blown-wait" in found) == told
    if told:
        level = "0.5" if "S0.5" in " ".join(before) else "1"
        text = f"write M42 P4 S0 before the wait and M42 P4 S{level} again after it"
        assert text in found["blown-wait"].text
    of_other_pins = any("P5" in line for line in [start, *before])
    assert any("switches a pin" in each.text for each in found.values()) == of_other_pins
    bands = FanSettings(bands=(AirBand(from_layer=1, level_percent=0),))
    assert "blown-wait" not in check(
        blown(2, "M0").replace("M106 S204", start), {"machine": ON_A_PIN}, [Fan(bands)]
    )


FAN_1 = {"air": {"on": "M106 P1 S<level>", "off": "M107 P1"}}


@pytest.mark.parametrize(
    ("machine", "start", "before", "advice"),
    [
        (FAN_1, "M106 P1 S200", "M106 P0 S0", "write M107 P1 before the wait and M106 P1 S200 again after it"),
        (FAN_1, "M106 P1 S200", "M107", "write M107 P1 before the wait and M106 P1 S200 again after it"),
        (FAN_1, "M106 P1 S200", "M107 P1", None),
        (FAN_1, "M106 P1 S200", "M106 P1 S0", None),
        (
            FAN_1,
            "M106 P1 S200",
            "M106 S9",
            "write M107 and M107 P1 before the wait and M106 S9 and M106 P1 S200 again after it",
        ),
        ({}, "M106 P0 S200", "M106 P1 S0", "write M107 before the wait and M106 S200 again after it"),
        ({}, "M106 S200", "M107 P1", "write M107 before the wait and M106 S200 again after it"),
        ({}, "M106 P2 S200", "M107", "write M106 P2 S0 before the wait and M106 P2 S200 again after it"),
        ({}, "M106 P2 S200", "M106 P2 S0", None),
        # the pin is the studio's, and M106 blows all the same
        (ON_A_PIN, "M106 S200", "M42 P4 S0", "write M107 before the wait and M106 S200 again after it"),
    ],
)
def test_each_blower_is_told_with_the_commands_that_stop_it(
    check: Check, machine: dict[str, object], start: str, before: str, advice: str | None
) -> None:
    """What switches one says nothing of another: P stands for which (common practice, no source)."""
    found = check(blown(2, "M0", before).replace("M106 S204", start), {"machine": machine})
    assert ("blown-wait" in found) == (advice is not None)
    assert advice is None or advice in found["blown-wait"].text


def test_of_several_waits_the_first_is_advised_for(check: Check) -> None:
    """The level may be another at each."""
    text = blown(2, "M0").replace("M0\n", "M0\nM106 S50\nG4 P1\nM600\n")
    assert "write M107 before line 15 and M106 S204 again after it" in check(text)["blown-wait"].text


@pytest.mark.parametrize(
    ("on", "off", "blows", "advice"),
    [
        ("M8", "M9", "M8", "write M9 before the wait and M8 again after it"),
        ("AIR V=<level>", "AIR V=0", "air v=0.5", "write AIR V=0 before the wait and AIR V=0.5 again after it"),
    ],
)
def test_air_by_coolant_codes_or_by_name_is_told_and_taken_out(
    check: Check, on: str, off: str, blows: str, advice: str
) -> None:
    """As any other; with the step fan nothing of the file's own is left."""
    machine = {"air": {"on": on, "off": off, "full": 1, "decimals": 2}, "allow_commands": ["M8", "M9", "AIR"]}
    text = blown(2, "M0").replace("M106 S204", blows)
    found = check(text, {"machine": machine})
    assert set(found) == {"own-pause", "blown-wait"}
    assert advice in found["blown-wait"].text
    bands = FanSettings(bands=(AirBand(from_layer=1, level_percent=0),))
    assert set(check(text, {"machine": machine}, [Fan(bands)])) == {"own-pause"}


class Looks(Step[Settings]):
    """Pauses on a line of its own, to look."""

    name = "looks"
    Settings = Settings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Before the second ring's first bead."""
        return [Pause(Spot(10), "look", "to look", "Look")]


AT = {"machine": {"park": {"x_mm": 15, "y_mm": 15}}}


@pytest.mark.parametrize(
    ("start", "fan", "told"),
    [
        ("M106 S204", None, True),
        ("M106 P2 S204", None, True),
        ("M107", None, False),
        ("M106 S204", FanSettings(), False),
        # asked to blow on
        ("M106 S204", FanSettings(off_in_pause=False), False),
    ],
)
def test_a_blower_that_stays_on_at_a_step_s_pause_is_told(
    check: Check, start: str, fan: FanSettings | None, told: bool
) -> None:
    """Where no step says whether it rests; the pause's step, and what to do."""
    text = blown(0, "").replace("M106 S204", start)
    found = check(text, AT, [Looks(Settings()), *([] if fan is None else [Fan(fan)])])
    assert ("blown-wait" in found) == told
    if told:
        finding = found["blown-wait"]
        assert (finding.severity, finding.line, finding.count) == ("warning", 10, 1)
        assert "stays on while the machine waits for you at the pauses of looks" in finding.text
        assert "let the step fan set the blower" in finding.text
