"""Arcs of the reference interpreter, by section 3.5.3 of the NIST RS274/NGC report (NISTIR 6556)."""

from __future__ import annotations

import math

import pytest

from tests.reference.interpreter import NIST, Dialect, Event, Machine


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


def arc_of(event: Event) -> tuple[float, float, float, float]:
    """Centre X and Y, radius, sweep in degrees."""
    assert event.error is None
    assert event.arc is not None
    x, y, _ = event.arc.centre_mm
    return (x, y, event.arc.radius_mm, math.degrees(event.arc.sweep_rad))


def test_arc_with_offsets() -> None:
    """From (7,7) `G17 G2 x10 y16 i3 j4 z9` turns about (10,11), radius 5 (NISTIR 6556, 3.5.3.2, published).

    Sweep and lengths are computed from the case.
    """
    flat = at(7, 7, 9).execute("G17 G2 x10 y16 i3 j4 z9")
    assert arc_of(flat) == pytest.approx((10, 11, 5, -143.1301023542), rel=1e-11)
    assert flat.path_mm == pytest.approx(12.4904577240, rel=1e-11)
    helix = at(7, 7, 0).execute("G17 G2 x10 y16 i3 j4 z9")
    assert helix.path_mm == pytest.approx(15.3951789257, rel=1e-11)
    assert helix.end_mm == (10.0, 16.0, 9.0)
    other_way = at(7, 7, 9).execute("G17 G3 x10 y16 i3 j4 z9")
    assert arc_of(other_way)[3] == pytest.approx(216.8698976458, rel=1e-11)
    assert other_way.path_mm == pytest.approx(18.9254688119, rel=1e-11)


def test_feed_of_a_helix_counts_along_the_helix() -> None:
    """The helix above at F600 takes 1.5395178926 s (NISTIR 6556, section 3.5.19; computed)."""
    event = at(7, 7, 0).execute("G2 X10 Y16 I3 J4 Z9 F600")
    assert event.time_s == pytest.approx(1.5395178926, rel=1e-10)


@pytest.mark.parametrize(
    ("line", "x", "y", "sweep", "length"),
    [
        ("G17 G2 x10 y15 r20 z5", 19.8550690649, -2.4033793766, -53.5764263577, 19.3585540228),
        ("G17 G3 x10 y15 r20 z5", -9.8550690649, 17.4033793766, 53.5764263577, 19.3585540228),
        ("G17 G2 x10 y15 r-20", -9.8550690649, 17.4033793766, -306.4235736423, 106.9620053157),
        ("G2 X10 Y10 R10", 10, 0, -90, 15.7079632679),
        ("G3 X10 Y10 R10", 0, 10, 90, 15.7079632679),
        ("G3 X10 Y10 R-10", 10, 0, 270, 47.1238898038),
    ],
)
def test_arc_with_radius(line: str, x: float, y: float, sweep: float, length: float) -> None:
    """R above 0 turns by less than half a turn, below 0 by more (NISTIR 6556, 3.5.3.1).

    The first command is the report's, its start (0,0,0) assumed; all numbers are computed.
    """
    event = at(0, 0).execute(line)
    assert arc_of(event)[:2] == pytest.approx((x, y), rel=1e-10, abs=1e-12)
    assert arc_of(event)[3] == pytest.approx(sweep, rel=1e-10)
    assert event.path_mm == pytest.approx(length, rel=1e-11)


@pytest.mark.parametrize(("chord", "off"), [("20", 0.0), ("19.999", 0.0999987), ("19.99", 0.3161882)])
def test_the_radius_format_is_touchy_near_half_a_turn(chord: str, off: float) -> None:
    """Radius 10: how far the centre leaves the chord (NISTIR 6556, 3.5.3.1 warns of it; computed)."""
    x, y, _, _ = arc_of(at(0, 0).execute(f"G2 X{chord} Y0 R10"))
    assert math.dist((x, y), (float(chord) / 2, 0)) == pytest.approx(off, abs=5e-8)


@pytest.mark.parametrize(
    "line",
    [
        "G2 X27 Y7 R9.9",  # half the chord is 10: too small to reach (message list of the report)
        "G2 Z5 R10",  # both plane axes missing, 3.5.3.1
        "G2 X7 Y7 R10",  # ends where it starts, 3.5.3.1
        "G2 X10 Y16",  # neither R nor centre, 3.5.3.2
        "G2 X10 Y16 R5 I3 J4",  # both formats
        "G2 X10 Y16 I3 J4 K1",  # K is no word of the XY plane
        "G2 X7 Y7 I0 J0",  # no radius
        "G2 E5",  # E alone can't turn
    ],
)
def test_arcs_that_can_not_be_are_errors(line: str) -> None:
    """The errors of NISTIR 6556, sections 3.5.3, 3.5.3.1 and 3.5.3.2."""
    assert at(7, 7).execute(line).error is not None


def test_the_two_radii_of_an_arc_agree() -> None:
    """A mismatch of 0.0015 mm is accepted, of 0.003 mm an error (NISTIR 6556, 3.5.3.2: 0.002 mm; derived)."""
    assert at(0, 0).execute("G2 X20.0015 Y0 I10 J0").error is None
    assert at(0, 0).execute("G2 X20.003 Y0 I10 J0").error is not None
    assert at(0, 0, dialect=Dialect(arc_tolerance_mm=0.02)).execute("G2 X20.003 Y0 I10 J0").error is None


def test_centre_offsets_are_increments_in_g91_too() -> None:
    """In G91 at (5,5) `G2 X10 Y0 I5 J0` is half a turn about (10,5) (NISTIR 6556, 3.5.17; derived)."""
    machine = at(5, 5)
    machine.execute("G91")
    event = machine.execute("G2 X10 Y0 I5 J0")
    assert arc_of(event) == pytest.approx((10, 5, 5, -180), rel=1e-12)
    assert event.end_mm == (15.0, 5.0, 0.0)
    assert event.path_mm == pytest.approx(15.7079632679, rel=1e-11)


@pytest.mark.parametrize("line", ["G2 X7 Y7 I10 J0", "G2 I10 J0", "G2 I10", "G3 J10"])
def test_an_arc_that_ends_where_it_starts_is_a_full_circle(line: str) -> None:
    """Allowed in the centre format (NISTIR 6556, 3.5.3.2); without X and Y it is printing usage."""
    event = at(7, 7).execute(line)
    assert event.path_mm == pytest.approx(20 * math.pi, rel=1e-12)
    assert event.end_mm == (7.0, 7.0, 0.0)


@pytest.mark.parametrize(
    ("plane", "line", "end"),
    [
        ("G17", "G3 X0 Y10 I-10 J0", (0, 10, 0)),
        ("G19", "G3 Y0 Z10 J-10 K0", (0, 0, 10)),
        ("G18", "G3 Z0 X10 K-10 I0", (10, 0, 0)),
    ],
)
def test_counter_clockwise_is_seen_from_the_positive_end_of_the_normal(
    plane: str, line: str, end: tuple[float, float, float]
) -> None:
    """G3 turns X to Y, Y to Z and Z to X by a quarter (NISTIR 6556, sections 3.5.3 and 3.5.6; derived)."""
    start = {"G17": "G0 X10", "G19": "G0 Y10", "G18": "G0 Z10"}[plane]
    event = last(start, plane, line)
    assert event.end_mm == end
    assert arc_of(event)[2:] == pytest.approx((10, 90), rel=1e-12)


def test_arcs_count_in_inches_too() -> None:
    """Centre words and radii are lengths (NISTIR 6556, section 3.5.7; derived)."""
    event = last("G20", "G2 X2 Y0 I1 J0")
    assert event.path_mm == pytest.approx(25.4 * math.pi, rel=1e-12)
