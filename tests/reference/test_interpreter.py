"""The reference interpreter does what the NIST RS274/NGC report (NISTIR 6556) and printing usage say."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.reference.interpreter import NIST, Dialect, Event, Machine, run


def at(x: float, y: float, z: float = 0.0, dialect: Dialect = NIST) -> Machine:
    """A machine that has gone to a place."""
    machine = Machine(dialect)
    machine.execute(f"G0 X{x} Y{y} Z{z}")
    return machine


def after(*lines: str, dialect: Dialect | None = None) -> Machine:
    """A machine that has executed lines, none of them in error."""
    machine = Machine(dialect)
    for line in lines:
        event = machine.execute(line)
        assert event.error is None, (line, event.error)
    return machine


def last(*lines: str, dialect: Dialect | None = None) -> Event:
    """The event of the last of some lines, none of them in error before it."""
    return after(*lines[:-1], dialect=dialect).execute(lines[-1])


# --- which words may stand together ---


@pytest.mark.parametrize(
    "line",
    [
        "G0 G1 X1",
        "G1 G1 X1",
        "G20 G21",
        "G90 G91",
        "G17 G18",
        "M0 M2",
        "X1 X2",
        "G1 X1 F100 F200",
        "G1 E1 E2",
        "G1 X1 G92 X0",
        "G28 G1 X0",
        "G4 P1 G92 X0",
        "M82 M83",
        "M106 S5 M107",
        "M3 M8 M48 M6 M5",
        "M3 M7 M48 M6 M110",
    ],
)
def test_words_that_exclude_each_other_are_an_error(line: str) -> None:
    """Two codes of a modal group, a repeated letter, five M codes, axes used twice (NISTIR 6556, 3.3.5, 3.4).

    Cases derived from the rules; that group 0 counts as a group is a weak reading, the printing pairs
    have no source.
    """
    machine = Machine()
    assert machine.execute(line).error is not None
    assert machine.state == Machine().state


@pytest.mark.parametrize(
    "line", ["G17 G21 G90 G1 X1 F100", "G1 X1 M106 S9 M220 M7 M8", "G4 P2 G1 X10", "G90 G21"]
)
def test_codes_of_different_groups_may_stand_together(line: str) -> None:
    """Any number of G codes, up to four M codes (NISTIR 6556, section 3.3.5)."""
    assert Machine().execute(line).error is None


@pytest.mark.parametrize("line", ["G53 G0 X1", "G55", "G93", "G10 L2 P1 X5", "G81 X1", "G38.2 Z1", "G41"])
def test_codes_beyond_the_interpreter_are_refused(line: str) -> None:
    """What would move the machine otherwise than known here is an error, not skipped (NISTIR 6556, 3.3)."""
    assert Machine().execute(line).error is not None


# --- modes and their order ---


def test_the_motion_code_stays_in_force() -> None:
    """Axis words without a code repeat the motion mode (NISTIR 6556, sections 3.3.7 and 3.5.1)."""
    assert last("G0 X1", "Y2").motion == 0
    assert last("G0 X1", "G1 F100", "Y2").motion == 1
    assert last("G0 X1", "G92 E0", "M106 S3", "Y2").end_mm == (1.0, 2.0, 0.0)


def test_axis_words_beside_another_code_are_no_motion() -> None:
    """An implicit motion mode is suspended beside a code that has its own words (NISTIR 6556, 3.4)."""
    assert last("G0 X1", "G92 X5").kind == "state"
    assert last("G0 X1", "M92 X80").end_mm == (1.0, 0.0, 0.0)


def test_modal_codes_leave_the_axis_words_to_the_motion_mode() -> None:
    """`G91 X1` moves: modal codes claim no axis words, the mode comes first (NISTIR 6556, 3.3.7, 3.8)."""
    assert last("G1 X10", "G91 X1").end_mm == (11.0, 0.0, 0.0)
    assert last("G1 X10", "X1 G90").end_mm == (1.0, 0.0, 0.0)
    assert last("G1 X10", "G20 X1 G17").end_mm == (25.4, 0.0, 0.0)
    assert after("G21 F1200").state.feed_mm_min == 1200
    assert last("G1 X10", "G91 M106 X1").end_mm == (10.0, 0.0, 0.0)


def test_no_motion_mode_after_g80() -> None:
    """G80 ends the motion mode: axis words alone are then an error (NISTIR 6556, sections 3.4 and 3.5.16)."""
    assert last("G80", "X1").error is not None
    assert last("G80 X1").error is not None
    assert last("G80", "G1 X1").error is None


def test_relative_and_absolute() -> None:
    """In G91 axis words are increments, in G90 positions (NISTIR 6556, section 3.5.17)."""
    machine = after("G1 X10 Y10", "G91", "G1 X5 Y-1", "X1", "G90", "Y3")
    assert machine.state.position_mm == (16.0, 3.0, 0.0)


def test_a_mode_on_the_line_holds_for_its_motion() -> None:
    """`G1 X1 G91` and `G91 G1 X1` are the same (NISTIR 6556, section 3.8; derived)."""
    for line in ("G91 G1 X1", "G1 X1 G91"):
        assert last("G1 X10", line).end_mm[0] == 11.0


def test_f_is_read_before_the_units_change() -> None:
    """F counts in the units in force before the line's G20 (NISTIR 6556, 3.8, steps 3 and 12; derived)."""
    event = last("G21", "G20 G1 X1 F60")
    assert (event.feed_mm_min, event.end_mm[0]) == (60.0, 25.4)


def test_an_inch_is_25_4_mm() -> None:
    """`G20`, `G1 X1 F60` from 0: 25.4 mm in 1 s (NISTIR 6556, sections 3.5.7 and 3.5.19; derived)."""
    event = last("G20", "G1 X1 F60")
    assert event.path_mm == pytest.approx(25.4, rel=1e-12)
    assert event.time_s == pytest.approx(1.0, rel=1e-12)


def test_motion_comes_before_the_stop_and_after_the_dwell() -> None:
    """`G1 X10 M0` moves and stops; `G4 P2 G1 X10` dwells and moves (NISTIR 6556, section 3.8; derived)."""
    stop = last("G1 X10 M0")
    assert (stop.kind, stop.end_mm[0], stop.state.paused) == ("move", 10.0, 1)
    dwell = last("G4 P2 G1 X10", dialect=NIST)
    assert (dwell.kind, dwell.end_mm[0], dwell.dwell_s) == ("move", 10.0, 2.0)


@pytest.mark.parametrize("line", ["F1500", "G1 F1500", "G0 F1500"])
def test_feed_may_be_said_alone(line: str) -> None:
    """`F1500` alone is legal (NISTIR 6556, 3.5.19); `G1 F1500` too in printing usage (an error in 3.5.2)."""
    event = Machine().execute(line)
    assert (event.kind, event.error, event.state.feed_mm_min) == ("state", None, Decimal(1500))


def test_f_beside_other_codes_is_theirs() -> None:
    """F sets the feed beside G0 to G3 or without a code only (common practice, no source)."""
    machine = after("G1 X1 F100", "G28 F600", "M204 F5")
    assert machine.state.feed_mm_min == 100


def test_factors_scale_feed_and_clay() -> None:
    """M220 and M221 are percentages (common practice, no source)."""
    event = last("M220 S50", "M221 S120", "M83", "G1 X10 E2 F600")
    assert (event.feed_mm_min, event.e_delta_mm, event.e_metered_mm) == (300.0, 2.0, 2.4)
    assert event.time_s == pytest.approx(2.0, rel=1e-12)


@pytest.mark.parametrize(
    "line", ["G1 X1 F0", "F-5", "G1 X", "T-1", "T1.5", "G4 P-1", "G1 F", "I5 J0", "G92 X"]
)
def test_numbers_out_of_range_or_missing_are_errors(line: str) -> None:
    """Negative tool or dwell (NISTIR 6556, 3.7.3 and 3.5.4), feed of zero, words without a number."""
    assert Machine().execute(line).error is not None


def test_the_end_of_the_program() -> None:
    """Lines after M2 are not executed (NISTIR 6556, section 3.6.1)."""
    events = run(b"G1 X1\nM2\nG1 X9\n")
    assert [event.kind for event in events] == ["move", "state", "empty"]
    assert events[-1].end_mm[0] == 1.0


# --- offsets, homing ---


def test_g92_adds_up() -> None:
    """At x=4 `G92 x7` makes the offset -3, then `G92 x9` makes it -5 (NISTIR 6556, 3.5.18, published)."""
    machine = at(4, 0)
    machine.execute("G92 x7")
    assert (float(machine.state.offset["X"]), machine.state.position_mm[0]) == (-3.0, 4.0)
    machine.execute("G92 x9")
    assert (float(machine.state.offset["X"]), machine.state.position_mm[0]) == (-5.0, 4.0)
    assert machine.execute("G1 X10").end_mm[0] == 5.0


def test_g92_is_the_same_in_relative_mode() -> None:
    """G91 has no effect on G92 (NISTIR 6556, section 3.5.18)."""
    assert last("G1 X4", "G91", "G92 X7", "G1 X1").end_mm[0] == 5.0


def test_g92_offsets_are_cleared_saved_and_brought_back() -> None:
    """G92.1 and G92.2 clear the offsets, G92.3 restores what G92.2 kept (NISTIR 6556, section 3.5.18)."""
    cleared = after("G1 X4", "G92 X7", "G92.1")
    assert [float(v["X"]) for v in (cleared.state.offset, cleared.state.register)] == [0.0, 4.0]
    kept = after("G1 X4", "G92 X7", "G92.2", "G92.3")
    assert [float(v["X"]) for v in (kept.state.offset, kept.state.register)] == [-3.0, 7.0]
    gone = after("G1 X4", "G92 X7", "G92.1", "G92.3")
    assert gone.state.offset["X"] == 0


def test_g92_on_e_and_bare() -> None:
    """`G92 E0` restarts E without clay; a bare G92 sets all axes to zero (common practice, no source)."""
    event = last("G1 X1 E5", "G92 E0", "G1 X2 E1")
    assert event.e_delta_mm == 1.0
    machine = after("G1 X4 Y5 Z6 E7", "G92")
    assert set(machine.state.register.values()) == {0}
    assert machine.state.position_mm == (4.0, 5.0, 6.0)


@pytest.mark.parametrize("line", ["G28 X", "G28 X0", "G28x"])
def test_homing_one_axis(line: str) -> None:
    """G28 takes the named axes home and drops their offsets (section 3.5.8; flags are common practice)."""
    machine = after("G1 X4 Y5", "G92 X1 Y1", line, dialect=Dialect(home_mm=(2.0, 3.0, 0.0)))
    assert machine.state.position_mm == (2.0, 5.0, 0.0)
    assert machine.state.offset == {"X": 0, "Y": 4, "Z": 0}
    assert machine.state.known == {"X": True, "Y": True, "Z": False}


def test_homing_all_axes() -> None:
    """G28 alone takes all axes home (NISTIR 6556, section 3.5.8)."""
    machine = after("G91", "G1 X4 Y5", "G28")
    assert machine.state.position_mm == (0.0, 0.0, 0.0)
    assert all(machine.state.known.values())


def test_a_place_is_known_once_it_was_commanded() -> None:
    """Relative moves and G92 leave a place a guess; an absolute move makes it known (common practice)."""
    guess = after("G91", "G1 X4", "G92 X0")
    assert guess.state.known == {"X": False, "Y": False, "Z": False}
    assert after("G1 X4").state.known == {"X": True, "Y": False, "Z": False}


# --- clay, fan, motors ---


@pytest.mark.parametrize(
    ("lines", "sets_e", "delta"),
    [
        (("G1 E5", "G1 E6"), True, 1),
        (("M83", "G1 E5", "G1 E6"), True, 6),
        (("G91", "G1 E5", "G1 E6"), True, 6),
        (("G91", "G1 E5", "G1 E6"), False, 1),
        (("G91", "M82", "G1 E5", "G1 E6"), True, 1),
        (("M83", "G90", "G1 E5", "G1 E6"), True, 1),
        (("M83", "G90", "G1 E5", "G1 E6"), False, 6),
        (("G91 M82", "G1 E5", "G1 E6"), True, 1),
        (("M83 G90", "G1 E5", "G1 E6"), True, 6),
        (("G20", "G1 E1", "G1 E2"), True, 25.4),
    ],
)
def test_e_is_absolute_or_relative(lines: tuple[str, ...], sets_e: bool, delta: float) -> None:
    """M82 and M83 set E, G90 and G91 do too in most dialects (common practice, no source)."""
    assert last(*lines, dialect=Dialect(axis_mode_sets_e=sets_e)).e_delta_mm == delta


@pytest.mark.parametrize(
    ("line", "dwell_p", "seconds"),
    [
        ("G4 P500", "seconds", 500.0),
        ("G4 P500", "milliseconds", 0.5),
        ("G4 S2.5", "milliseconds", 2.5),
        ("G4 S2 P9", "seconds", 2.0),
        ("G4", "seconds", 0.0),
    ],
)
def test_dwell(line: str, dwell_p: str, seconds: float) -> None:
    """P is seconds in NISTIR 6556, 3.5.4, milliseconds in printing usage; S is common practice."""
    dialect = Dialect(dwell_p="seconds" if dwell_p == "seconds" else "milliseconds")
    event = Machine(dialect).execute(line)
    assert (event.kind, event.dwell_s) == ("dwell", seconds)


def test_fan_motors_tool_and_relief() -> None:
    """M106/M107, M84, T, M101/M103, G10/G11 as printing machines have them (common practice, no source)."""
    assert after("M106 S90").state.fan == 90
    assert after("M106").state.fan == 255
    assert after("M106 S90", "M107").state.fan == 0
    assert after("M84 S0").state.hold_for_ever
    assert after("M84 S0").state.motors_on
    assert not after("M84 S0", "M84 S60").state.hold_for_ever
    assert not after("M18").state.motors_on
    assert after("M84", "G1 X1").state.motors_on
    assert after("T2").state.tool == 2
    assert after("T2", "M104 T1 S20").state.tool == 2
    assert after("M101").state.laying
    assert not after("M101", "M103").state.laying
    assert after("G10", "G10", "G11").state.relief == 1
    assert after("G11").state.relief == 0


@pytest.mark.parametrize(
    ("lines", "on", "speed"),
    [
        (["M3 S600"], True, 600),
        (["M4 S600", "M5"], False, 600),
        (["S5", "M3"], True, 5),
        (["M3 S600", "G1 X5 S70"], True, 70),
        (["M3"], True, None),
        (["M3 S600", "M106 S9", "G4 S3"], True, 600),
    ],
)
def test_spindle(lines: list[str], on: bool, speed: float | None) -> None:
    """M3 to M5 (NISTIR 6556, section 3.6.2); S stays, and counts without them (3.7.2), unless it is another's."""
    state = after(*lines).state
    assert (state.spindle_on, state.speed) == (on, speed)


@pytest.mark.parametrize("line", ["M104 S200", "G29", "M999", "M42 P1 S5", "BLOW_AIR LEVEL=1"])
def test_unknown_commands_change_nothing(line: str) -> None:
    """A code that is not known is passed on, as its own kind (common practice, no source)."""
    machine = Machine()
    event = machine.execute(line)
    assert (event.kind, event.error) == ("other", None)
    assert machine.state == Machine().state


def test_differences_names_what_differs() -> None:
    """Two states differ where they are said to, within the tolerance, and never by history."""
    here = after("G1 X1 F100", "M117 hello", "M0").state
    assert here.differences(after("G1 X1 F100").state) == []
    assert here.differences(after("G1 X1.001 F100").state, tolerance_mm=0.01) == []
    found = here.differences(after("G91", "G0 X1.001 F100").state)
    assert [text.split(":")[0] for text in found] == ["register", "known", "relative", "e_relative", "motion"]
