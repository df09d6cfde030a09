"""Inserted lines are written for the modal state that holds, and add up to nothing when they end."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.motion.state import MachineState
from gpost.write.script import Script, exact, number, plain

HOMED = MachineState(register=(50.0, 60.0, 5.0, 12.5), known=(True, True, True), feed_mm_min=1500.0, motion=1)
ML_PER_MM = 0.002
BACK = {
    "travel_feed_mm_min": 3000.0,
    "lift_feed_mm_min": 600.0,
    "way_feed_mm_min": 1500.0,
    "flow_ml_min": 20.0,
}


def script(state: MachineState = HOMED) -> Script:
    """A script where one mm of E is 0.002 ml."""
    return Script(state, ml_per_mm=ML_PER_MM)


def words(lines: list[str], letter: str) -> list[Decimal]:
    """All numbers of a letter on the lines."""
    found = [word for line in lines for word in line.split() if word.startswith(letter)]
    return [Decimal(word[1:]) for word in found]


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (1.5, 3, "1.5"),
        (-0.0004, 3, "0"),
        (2.0, 3, "2"),
        (1e-7, 3, "0"),
        (1234567.25, 1, "1234567.2"),
        (100.0, 0, "100"),
    ],
)
def test_numbers_are_plain_decimals(value: float, decimals: int, text: str) -> None:
    """No exponent, no zeros at the end, no minus zero."""
    assert number(value, decimals) == text


@given(st.decimals(-1000, 1000, places=12))
def test_exact_numbers_come_back_as_they_were(value: Decimal) -> None:
    """Twelve decimals of a place on the bed survive being read as a float and written again."""
    assert Decimal(exact(float(value))) == pytest.approx(value, abs=Decimal("5e-13"))
    assert "e" not in exact(float(value))


@given(st.integers(-(10**10), 10**10).map(lambda n: Decimal(n) / 10**5))
def test_exact_numbers_have_no_noise(value: Decimal) -> None:
    """What has five decimals is written with five, however the float is off, inches included."""
    assert Decimal(exact(float(value))) == value
    assert Decimal(exact(float(value) * 25.4 / 25.4)) == value


def test_absolute_moves_name_the_place_and_come_back() -> None:
    """In absolute mode the register is said; the way back says where the block began."""
    block = script()
    block.fly(z=15.0, feed_mm_min=600)
    block.fly(x=10.0, y=11.0, feed_mm_min=3000)
    block.go_back(safe_z_mm=15.0, **BACK)
    assert block.lines == [
        "G0 Z15 F600",
        "G0 X10 Y11 F3000",
        "G0 X50 Y60",
        "G0 Z5 F600",
    ]


def test_offsets_are_those_of_the_program() -> None:
    """Positions are machine positions: a G92 offset is taken off what is said."""
    block = script(replace(HOMED, offset=(5.0, 0.0, -1.0, 0.0)))
    block.fly(x=10.0, z=20.0, feed_mm_min=600)
    assert block.lines == ["G0 X5 Z21 F600"]


@given(
    st.tuples(*[st.floats(-200, 200)] * 3),
    st.lists(st.tuples(*[st.one_of(st.none(), st.floats(-200, 300))] * 3), max_size=6),
    st.sampled_from([1.0, 25.4]),
)
def test_relative_moves_add_up_to_nothing(
    start: tuple[float, float, float], goals: list[tuple[float | None, ...]], scale: float
) -> None:
    """However often the nozzle is sent about, the words of each axis sum to exactly 0 once it is back."""
    block = script(replace(HOMED, register=(*start, 0.0), relative=True, scale=scale))
    for x, y, z in goals:
        block.fly(x=x, y=y, z=z, feed_mm_min=600)
    block.go_back(safe_z_mm=400, **BACK)
    assert [sum(words(block.lines, axis)) for axis in "XYZ"] == [0, 0, 0]


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=50), st.booleans(), st.sampled_from([1.0, 25.4]))
def test_rounding_of_clay_is_carried(amounts: list[float], relative: bool, scale: float) -> None:
    """The sum of all E words is what was asked for, to half a last place, however many there are."""
    block = script(replace(HOMED, e_relative=relative, scale=scale, register=(0, 0, 0, 12.5 * scale)))
    for clay_ml in amounts:
        block.push(clay_ml, 20)
    said = words(block.lines, "E")
    pushed = sum(said) if relative else (said[-1] - Decimal("12.5") if said else Decimal(0))
    half_place = 0.5e-5 if scale == 1 else 0.5e-6
    assert float(pushed) == pytest.approx(sum(amounts) / ML_PER_MM / scale, abs=half_place * 1.001 + 1e-9)


def test_the_register_of_e_is_set_back() -> None:
    """After clay was pushed a G92 gives the register back, absolute or relative; else none is needed."""
    for relative in (False, True):
        block = script(replace(HOMED, e_relative=relative))
        block.push(1.0, 20)
        block.restore()
        assert "G92 E12.5" in block.lines
    block = script()
    block.relieve(0.3, 20)
    block.ready(20)
    block.restore()
    assert not any(line.startswith("G92") for line in block.lines)


def test_pressure_is_relieved_once_and_given_back_once() -> None:
    """A second relief does nothing; readiness without relief does nothing."""
    block = script()
    block.ready(20)
    block.relieve(0.3, 20)
    block.relieve(0.3, 20)
    block.ready(20)
    block.ready(20)
    assert words(block.lines, "E") == [Decimal("-137.5"), Decimal("12.5")]


def test_a_feed_is_said_once_and_given_back() -> None:
    """The same F is not said twice in a row; at the end the program's own is in force."""
    block = script()
    block.fly(x=10.0, feed_mm_min=3000)
    block.fly(x=20.0, feed_mm_min=3000)
    block.restore()
    assert block.lines == ["G0 X10 F3000", "G0 X20", "G1 F1500"]


def test_feeds_and_clay_allow_for_the_factors_in_force() -> None:
    """Under M220 S50 and M221 S200 twice the F and half the E are said: the machine does what is meant."""
    block = script(replace(HOMED, feed_factor=0.5, flow_factor=2.0, e_relative=True))
    block.fly(x=10.0, feed_mm_min=3000)
    block.lay(20.0, 60.0, 0.4, 600)
    assert block.lines == ["G0 X10 F6000", "G1 X20 E100 F1200"]


def test_clay_runs_at_the_flow_asked_for_whatever_the_factors() -> None:
    """20 ml/min at 0.002 ml a mm are F10000; under M221 S200 half of it, under M220 S50 twice that again."""
    for feed_factor, flow_factor, text in ((1.0, 1.0, "F10000"), (1.0, 2.0, "F5000"), (0.5, 2.0, "F10000")):
        block = script(replace(HOMED, feed_factor=feed_factor, flow_factor=flow_factor))
        block.push(1.0, 20)
        assert block.lines[0].split()[-1] == text


def test_words_have_no_more_decimals_than_a_machine_can_tell() -> None:
    """A place to a thousandth of a mm, clay to a hundred-thousandth of a mm of E; in inches one more."""
    for scale, place, clay in ((1.0, 3, 5), (25.4, 4, 6)):
        state = replace(HOMED, scale=scale, relative=True, e_relative=True)
        block = script(state)
        block.lay(1 / 3, 2 / 3, 1 / 7, 900)
        lengths = {
            word[0]: len(word.partition(".")[2]) for word in block.lines[0].split() if word[0] in "XYE"
        }
        assert max(lengths["X"], lengths["Y"]) <= place
        assert lengths["E"] == clay


@pytest.mark.parametrize(
    ("feed", "text"), [(0.07, "F0.07"), (7.0736, "F7.0736"), (8315.04, "F8315"), (1e-9, "F0.0001")]
)
def test_slow_feeds_keep_their_decimals(feed: float, text: str) -> None:
    """A slow plunger's feed is not rounded to nothing."""
    block = script()
    block.fly(x=10.0, feed_mm_min=feed)
    assert block.lines[0].split()[-1] == text


def test_inches_are_said_in_inches() -> None:
    """After G20 places, clay and feeds are said in inches, with a decimal more."""
    block = script(replace(HOMED, scale=25.4, register=(50.8, 0.0, 25.4, 0.0)))
    block.fly(x=63.5, feed_mm_min=2540)
    block.push(0.0508, 0.02)
    block.restore()
    assert block.lines == ["G0 X2.5 F100", "G1 E1 F0.3937", "G92 E0", "G1 F59.055118110236"]


@pytest.mark.parametrize(
    ("motion", "code", "owes"), [(0, "G0", False), (1, "G1", False), (2, "G1", True), (3, "G1", True)]
)
def test_the_motion_mode_is_given_back_but_for_an_arcs(motion: int, code: str, owes: bool) -> None:
    """G0 and G1 can be said without moving; an arc's code is owed to the next move."""
    block = script(replace(HOMED, motion=motion))
    block.lay(60.0, 60.0, 0.1, 900)
    block.restore()
    assert block.lines[-1] == f"{code} F1500"
    assert block.owes_motion is owes


def test_a_block_that_does_not_move_owes_nothing() -> None:
    """A message in an arc's mode, before the first F, changes neither."""
    block = script(replace(HOMED, motion=3, feed_mm_min=math.nan))
    block.message("M117", "hello")
    block.restore()
    assert block.lines == ["M117 hello"]
    assert not block.owes_motion
    assert not block.owes_feed


def test_a_feed_that_the_program_has_not_said_is_owed() -> None:
    """Before the first F none can be given back: only the mode is."""
    block = script(replace(HOMED, feed_mm_min=math.nan))
    block.fly(x=10.0, feed_mm_min=3000)
    block.restore()
    assert block.lines == ["G0 X10 F3000", "G1"]
    assert block.owes_feed


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("Load blue", "Load blue"),
        ("Grün, café", "Grun, cafe"),
        ("a\nG28\rM84", "a G28 M84"),
        ("a; G28 *33 (x) %", "a, G28 33 x"),
        ("F\u00fcll ein; don't rush (now)", "Full ein, dont rush now"),
        ("the slab\u2019s edge, 50% *gut*", "the slabs edge, 50 gut"),
        ("\N{FULLWIDTH SEMICOLON}G28\u2028M84", ",G28 M84"),
        ("泥 2", "_ 2"),
        ("stop! ~ ? #1 [2] {3} $x", "stop 1 2 3 x"),
        ("  many   blanks ", "many blanks"),
        ("\u202eabc\u202c", "abc"),
        ("", ""),
    ],
)
def test_plain_text_keeps_letters_digits_and_few_marks(text: str, kept: str) -> None:
    """All that a controller could act on becomes a blank or a comma; accents go; other letters become '_'."""
    assert plain(text, 60) == kept


@given(st.text(), st.integers(0, 100))
def test_plain_text_is_one_short_ascii_line(text: str, longest: int) -> None:
    """Whatever goes in, one line of ASCII comes out, no longer than asked for; doing it twice is once."""
    once = plain(text, longest)
    assert once.isascii()
    assert once.isprintable()
    assert len(once) <= longest
    assert plain(once, longest) == once


def test_a_machine_without_a_display_is_told_nothing() -> None:
    """Without a display command there is no message line."""
    block = script()
    block.message(None, "hello")
    assert block.lines == []


@pytest.mark.parametrize("length", [199, 200, 201, 500])
def test_a_remark_is_cut_at_two_hundred_characters(length: int) -> None:
    """A line of a program has 256 at the most (NIST RS274/NGC report, section 3.3)."""
    block = script()
    block.remark("a" * length)
    assert block.lines[0].count("a") == min(length, 200)
    assert len(block.lines[0]) < 256


def test_in_inches_a_way_is_known_to_its_end() -> None:
    """What is asked for is machine mm; where the nozzle is already, nothing is said."""
    block = script(replace(HOMED, scale=25.4, relative=True))
    block.fly(x=75.4, feed_mm_min=2540)
    block.fly(x=75.4, y=60.0, feed_mm_min=2540)
    block.fly(x=126.2, feed_mm_min=2540)
    block.fly(x=50.0, feed_mm_min=2540)
    assert words(block.lines, "X") == [1, 2, -3]
    assert words(block.lines, "Y") == []


@pytest.mark.parametrize("scale", [1.0, 25.4])
@pytest.mark.parametrize("relative", [False, True])
def test_where_the_nozzle_is_is_told_in_machine_mm(scale: float, relative: bool) -> None:
    """Whatever the unit and the mode of the words, and whatever offset holds."""
    block = script(replace(HOMED, scale=scale, relative=relative, offset=(5.0, 0.0, -1.0, 0.0)))
    assert (*block.position_mm, block.height_mm) == (55, 60, 4)
    block.fly(x=80.4, y=111.0, z=30.0, feed_mm_min=2540)
    half_mm = 0.5e-3 if scale == 1 else 0.5e-4 * 25.4
    assert (*block.position_mm, block.height_mm) == pytest.approx((80.4, 111.0, 30.0), abs=half_mm)
    block.fly(y=10.0, feed_mm_min=2540)
    assert block.position_mm == pytest.approx((80.4, 10.0), abs=half_mm)
