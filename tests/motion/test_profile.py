"""Times of moves: against closed cases, a plain two-loop planner, and an integral over the path.

The constant-acceleration formulas are elementary (K. M. Lynch, F. C. Park, Modern Robotics, 2017,
ch. 9, treats trapezoid profiles; named from memory); all numbers were computed from them. The
corner rule is common practice among makers of motion controllers, without a textbook source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad

from gpost.motion.pacecolumns import corner_radius_mm
from gpost.motion.profile import TimeProfile
from tests.reference.lookahead import (
    NAN,
    STILL,
    Move,
    Vector,
    cruise_speed,
    junction_limits,
    plain_times,
    trapezoid_time,
)

Floats = NDArray[np.float64]
Columns = tuple[Floats, Floats, Floats, Floats, NDArray[np.bool_], Floats]
X: Vector = (1.0, 0.0, 0.0)
Y: Vector = (0.0, 1.0, 0.0)


def heading(turn_deg: float) -> Vector:
    """The unit direction in the XY plane, turned from X."""
    return (math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg)), 0.0)


def slope(azimuth: float, elevation: float) -> Vector:
    """The unit direction of two angles in radians."""
    level = math.cos(elevation)
    return (math.cos(azimuth) * level, math.sin(azimuth) * level, math.sin(elevation))


def opposite(way: Vector) -> Vector:
    """The direction back."""
    return (-way[0], -way[1], -way[2])


def columns(moves: Sequence[Move]) -> Columns:
    """The moves as the arrays that TimeProfile.add takes."""
    return (
        np.array([m.length for m in moves], dtype=float),
        np.array([m.feed for m in moves], dtype=float),
        np.array([m.entry for m in moves], dtype=float).reshape(-1, 3).T.copy(),
        np.array([m.exit for m in moves], dtype=float).reshape(-1, 3).T.copy(),
        np.array([m.stop_before for m in moves], dtype=bool),
        np.array([m.radius for m in moves], dtype=float),
    )


def new_profile(a: float = 500.0, d: float = 0.05) -> TimeProfile:
    """A profile with the defaults of these tests."""
    return TimeProfile(acceleration_mm_s2=a, corner_deviation_mm=d)


def times_of(
    moves: Sequence[Move], a: float = 500.0, d: float = 0.05, cuts: Sequence[int] = ()
) -> list[float]:
    """All times, with the stream cut into calls at `cuts`."""
    profile = new_profile(a, d)
    times: list[float] = []
    edges = [0, *sorted(cuts), len(moves)]
    for first, last in pairwise(edges):
        times += profile.add(*columns(moves[first:last])).tolist()
    return times + profile.finish().tolist()


# ---- random streams ----

DIRECTIONS = st.one_of(
    st.sampled_from([X, Y, (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), STILL]),
    st.integers(-720, 720).map(lambda quarters: heading(quarters / 4)),
    st.tuples(st.integers(-300, 300), st.integers(-150, 150)).map(lambda p: slope(p[0] / 100, p[1] / 100)),
)
MOVES = st.builds(
    Move,
    length=st.one_of(st.floats(0.01, 3.0), st.floats(0.01, 100.0), st.just(0.0)),
    feed=st.one_of(st.floats(1.0, 300.0), st.sampled_from([30.0, 300.0, 30.0, NAN, 0.0])),
    entry=DIRECTIONS,
    exit=DIRECTIONS,
    stop_before=st.sampled_from([False] * 7 + [True]),
    radius=st.one_of(st.just(NAN), st.floats(0.05, 200.0)),
)


@st.composite
def gentle_walls(draw: st.DrawFn) -> list[Move]:
    """Long runs of short moves with small turns, where the look-ahead reaches over many moves."""
    angle = 0.0
    moves: list[Move] = []
    for _ in range(draw(st.integers(1, 60))):
        angle += draw(st.sampled_from([0.0, 0.5, 1.0, -3.0, 20.0]))
        moves.append(
            Move(draw(st.floats(0.02, 1.0)), draw(st.floats(20.0, 150.0)), heading(angle), heading(angle))
        )
    return moves


STREAMS = st.one_of(st.lists(MOVES, min_size=1, max_size=40), gentle_walls())
ACCELERATIONS = st.floats(50.0, 5000.0)
DEVIATIONS = st.floats(0.001, 1.0)


def same(seconds: float | list[float]) -> Any:
    """Equal to 1e-9, or to a picosecond for moves of next to no time."""
    return pytest.approx(seconds, rel=1e-9, abs=1e-12)


# ---- one move, rest to rest ----


@pytest.mark.parametrize(
    ("length", "feed", "a", "seconds"),
    [
        (100, 50, 500, 2.1),
        (10, 50, 500, 0.3),
        (2.5, 50, 1000, 0.1),  # the border: it just reaches its feed
        (1, 50, 1000, 0.0632455532033676),
        (200, 30, 300, 6.766666666666667),
    ],
)
def test_a_single_move_takes_the_time_of_its_trapezoid(
    length: float, feed: float, a: float, seconds: float
) -> None:
    """From rest to rest T = L / v + v / a, or 2 sqrt(L / a) if the feed is not reached."""
    assert times_of([Move(length, feed)], a) == pytest.approx([seconds], rel=1e-12)


@pytest.mark.parametrize(
    ("length", "feed", "a", "v0", "v1", "seconds"),
    [
        (20, 40, 200, 10, 0, 0.65625),
        (20, 40, 400, 10, 20, 0.540625),
        (3, 60, 500, 20, 20, 0.0943559577),
    ],
)
def test_a_move_between_slower_ones_takes_the_time_of_its_trapezoid(
    length: float, feed: float, a: float, v0: float, v1: float, seconds: float
) -> None:
    """On a straight line the slower of two feeds holds where they meet: so the ends' speeds are known."""
    moves = [Move(50, v0), Move(length, feed), *([Move(50, v1)] if v1 else [])]
    assert times_of(moves, a)[1] == pytest.approx(seconds, rel=1e-9)


# ---- corners and arcs ----

CORNERS = [
    (0.05, 1000, 90, 0.1207106781, 10.9868411347),
    (0.05, 500, 120, 0.05, 5.0),
    (0.1, 300, 60, 0.6464101615, 13.9256256037),
    (0.02, 500, 45, 0.2427414237, 11.0168376518),
    (0.05, 500, 10, 13.0895619074, 80.8998204801),
    (0.05, 500, 180, 0.0, 0.0),
]


@pytest.mark.parametrize(("d", "a", "turn", "radius", "speed"), CORNERS)
def test_a_corner_is_as_round_as_its_deviation_allows(
    d: float, a: float, turn: float, radius: float, speed: float
) -> None:
    """R = d s / (1 - s) with s the cosine of half the turn, and v = sqrt(a R)."""
    found = corner_radius_mm(np.array([math.cos(math.radians(turn))]), d)[0]
    assert found == pytest.approx(radius, rel=1e-9, abs=1e-12)
    assert math.sqrt(a * found) == pytest.approx(speed, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(("d", "a", "turn", "radius", "speed"), CORNERS)
def test_both_moves_at_a_corner_keep_its_speed(
    d: float, a: float, turn: float, radius: float, speed: float
) -> None:
    """The move into a corner ends at the corner's speed, and the move out of it starts there."""
    leg = trapezoid_time(80, 200, a, 0, speed)
    moves = [Move(80, 200), Move(80, 200, heading(turn), heading(turn))]
    assert times_of(moves, a, d) == pytest.approx([leg, leg], rel=1e-9)


def test_straight_on_is_no_corner() -> None:
    """A straight line cut into pieces takes the time of the whole."""
    pieces = [Move(1.25, 50, heading(37), heading(37))] * 80
    assert sum(times_of(pieces)) == pytest.approx(2.1, rel=1e-12)


def test_a_direction_that_is_a_rounding_too_long_is_still_straight_on() -> None:
    """Unit vectors whose product comes out a little above 1 don't make a corner."""
    long = (1.0 + 4e-16, 0.0, 0.0)
    assert times_of([Move(50, 50, long, long)] * 2) == pytest.approx([1.05, 1.05], rel=1e-12)


def test_a_direction_that_is_a_rounding_too_long_can_still_reverse() -> None:
    """Unit vectors whose product comes out a little below -1 make a full stop."""
    long, back = (1.0 + 4e-16, 0.0, 0.0), (-1.0 - 4e-16, 0.0, 0.0)
    assert times_of([Move(50, 50, long, long), Move(50, 50, back, back)]) == pytest.approx([1.1, 1.1])


def test_an_arc_limits_its_own_speed_and_that_at_both_its_ends() -> None:
    """In an arc of radius R the speed stays at sqrt(a R), 70.7106781187 mm/s for 10 mm at 500 mm/s^2."""
    arc = Move(math.pi * 10, 200, X, (-1.0, 0.0, 0.0), radius=10.0)
    back = Move(80, 200, (-1.0, 0.0, 0.0), (-1.0, 0.0, 0.0))
    leg = trapezoid_time(80, 200, 500, 0, 70.7106781187)
    assert times_of([Move(80, 200), arc, back]) == pytest.approx(
        [leg, math.pi * 10 / 70.7106781187, leg], rel=1e-9
    )


# ---- where the machine stands still ----


def test_a_stop_is_a_rest_between_two_moves() -> None:
    """Before a move marked so, the machine stands still although the line goes straight on."""
    assert times_of([Move(10), Move(10, stop_before=True)]) == pytest.approx([0.3, 0.3], rel=1e-12)


def test_a_move_of_the_extruder_alone_starts_and_ends_at_rest() -> None:
    """A move without a direction has full stops on both sides, and its own time."""
    moves = [Move(10), Move(10, entry=STILL, exit=STILL), Move(10)]
    assert times_of(moves) == pytest.approx([0.3, 0.3, 0.3], rel=1e-12)


@pytest.mark.parametrize("feed", [NAN, 0.0, -5.0])
def test_a_move_without_a_feed_takes_no_time_and_is_a_stop(feed: float) -> None:
    """Nobody knows how long a move lasts before F was said: it counts as a stand-still."""
    assert times_of([Move(10), Move(7, feed), Move(10)]) == [
        pytest.approx(0.3, rel=1e-12),
        0.0,
        pytest.approx(0.3, rel=1e-12),
    ]


@pytest.mark.parametrize("nowhere", [Move(0, 5, STILL, STILL), Move(0, NAN, Y, Y, radius=1.0)])
def test_a_move_to_where_the_machine_stands_is_none(nowhere: Move) -> None:
    """A point given twice on a straight line leaves the time of the line alone, also across calls."""
    moves = [Move(50), nowhere, nowhere, Move(50)]
    for cuts in ([], [1], [2], [1, 2, 3]):
        assert times_of(moves, cuts=cuts) == pytest.approx([1.05, 0.0, 0.0, 1.05], rel=1e-12)


def test_a_stop_before_a_move_to_nowhere_is_a_stop() -> None:
    """A dwell between two moves counts, though the line after it moves nothing."""
    nowhere = Move(0, entry=STILL, exit=STILL, stop_before=True)
    assert times_of([Move(10), nowhere, Move(10)]) == pytest.approx([0.3, 0.0, 0.3], rel=1e-12)


# ---- any stream ----


@settings(deadline=None)
@given(moves=STREAMS, a=ACCELERATIONS, d=DEVIATIONS)
def test_every_move_takes_the_time_of_the_plain_planner(moves: list[Move], a: float, d: float) -> None:
    """The running minima give what two loops over the junctions give."""
    assert times_of(moves, a, d) == same(plain_times(moves, a, d))


@settings(deadline=None)
@given(moves=STREAMS, a=ACCELERATIONS, d=DEVIATIONS, data=st.data())
def test_the_cuts_of_the_stream_make_no_difference(
    moves: list[Move], a: float, d: float, data: st.DataObject
) -> None:
    """However the moves are dealt out to calls, also to empty ones, each takes the same time."""
    cuts = data.draw(st.lists(st.integers(0, len(moves)), max_size=8))
    assert times_of(moves, a, d, cuts) == same(times_of(moves, a, d))


@settings(deadline=None)
@given(moves=STREAMS, a=ACCELERATIONS, d=DEVIATIONS)
def test_one_move_at_a_time_makes_no_difference(moves: list[Move], a: float, d: float) -> None:
    """A stream dealt out move by move takes the same times."""
    cuts = range(1, len(moves))
    assert times_of(moves, a, d, cuts) == same(times_of(moves, a, d))


@settings(deadline=None)
@given(moves=STREAMS, a=ACCELERATIONS, d=DEVIATIONS)
def test_a_path_takes_as_long_backwards(moves: list[Move], a: float, d: float) -> None:
    """Braking is speeding up run backwards: the reversed path takes the same total time."""
    stops = [m.stop_before for m in moves[1:]] + [False]
    back = [
        Move(m.length, m.feed, opposite(m.exit), opposite(m.entry), stop, m.radius)
        for m, stop in zip(moves, stops, strict=True)
    ][::-1]
    assert sum(times_of(back, a, d)) == same(sum(times_of(moves, a, d)))


@settings(deadline=None)
@given(moves=STREAMS, a=ACCELERATIONS, d=DEVIATIONS, harder=st.floats(1.0, 4.0))
def test_a_stronger_machine_is_never_slower(moves: list[Move], a: float, d: float, harder: float) -> None:
    """More acceleration lifts every limit, so the whole takes no longer; and no move beats its feed."""
    times = times_of(moves, a * harder, d)
    assert sum(times) <= sum(times_of(moves, a, d)) * (1 + 1e-9)
    least = [m.length / m.feed if m.feed > 0 else 0.0 for m in moves]
    assert all(t >= bound * (1 - 1e-9) for t, bound in zip(times, least, strict=True))


def test_the_time_is_the_integral_of_path_over_the_highest_speed_allowed() -> None:
    """At each point v^2 is the least of the cruise and of every junction's limit plus 2 a x distance."""
    a, d = 500.0, 0.05
    arc = Move(4.0, 90, heading(20), heading(70), radius=4.6)
    moves = [Move(3.0, 40), Move(0.4, 80, heading(20), heading(20)), arc, Move(6.0, 25, X, X), Move(2.0, 60)]
    limits = junction_limits(moves, a, d)
    ends = np.cumsum([0.0, *(m.length for m in moves)])

    def slowness(x: float, cruise: float) -> float:
        reach = min(v**2 + 2 * a * abs(x - s) for v, s in zip(limits, ends, strict=True))
        return 1 / math.sqrt(min(cruise**2, reach))

    integrals = [
        quad(slowness, ends[i], ends[i + 1], args=(cruise_speed(m, a),), limit=400, epsabs=1e-9)[0]
        for i, m in enumerate(moves)
    ]
    assert times_of(moves, a, d) == pytest.approx(integrals, rel=1e-6)


# ---- the stream ----


def test_a_stop_lets_go_of_all_moves_before_it() -> None:
    """As soon as a stop is known, only the moves after it are held back."""
    profile = new_profile()
    assert len(profile.add(*columns([Move(0.1)] * 9 + [Move(0.1, stop_before=True)]))) == 9
    assert len(profile.finish()) == 1


def test_no_more_is_held_back_than_the_machine_needs_to_stop() -> None:
    """At 50 mm/s and 500 mm/s^2 it stops within 2.5 mm: 26 moves of 0.1 mm, the last being open."""
    profile = new_profile()
    assert len(profile.add(*columns([Move(0.1)] * 500))) == pytest.approx(500 - 25, abs=1)


def test_a_fast_move_far_back_holds_nothing_back() -> None:
    """What counts is what can still happen, not the highest feed among the moves held."""
    profile = new_profile()
    moves = [Move(1, 1000, stop_before=True), Move(1, 10), Move(1, 10), Move(1, 10)]
    assert len(profile.add(*columns(moves))) == 3


def test_no_moves_are_no_times() -> None:
    """A call without moves, and the end of an empty stream, return nothing."""
    profile = new_profile()
    assert profile.add(*columns([])).shape == (0,)
    assert profile.finish().shape == (0,)


def test_after_the_end_the_machine_stands_at_rest() -> None:
    """A profile that has been finished starts the next stream as a new one would."""
    profile = new_profile()
    for _ in range(2):
        profile.add(*columns([Move(10)]))
        assert profile.finish() == pytest.approx([0.3], rel=1e-12)


def test_a_long_stream_loses_no_precision() -> None:
    """A straight line of 400 metres, in chunks of 2000 moves, takes L / v + v / a to twelve digits."""
    chunk, profile = columns([Move(1.0)] * 2000), new_profile()
    total = math.fsum(t for _ in range(200) for t in profile.add(*chunk)) + math.fsum(profile.finish())
    assert total == pytest.approx(400_000 / 50 + 50 / 500, rel=1e-12)


def test_a_steady_run_takes_its_length_over_its_feed() -> None:
    """Between speeding up and braking, short moves far into the stream are exact to the last digits."""
    times = times_of([Move(0.01, 30)] * 8000)
    assert times[200:-200] == pytest.approx([0.01 / 30] * 7600, rel=2e-14)


def test_what_is_given_stays_as_it_is() -> None:
    """The arrays belong to the caller and are not changed."""
    moves = [Move(10), Move(5, NAN), Move(3, 200, Y, X, radius=4.0), Move(8, stop_before=True)]
    given_columns, profile = columns(moves), new_profile()
    profile.add(*given_columns)
    profile.finish()
    for now, before in zip(given_columns, columns(moves), strict=True):
        np.testing.assert_array_equal(now, before)


def test_a_feed_beyond_all_bounds_is_held_by_the_acceleration() -> None:
    """Whatever feed a file asks for, a move takes at least 2 sqrt(L / a)."""
    assert times_of([Move(20, 1e200)]) == pytest.approx([0.4], rel=1e-12)


@pytest.mark.parametrize(("a", "d"), [(0.0, 0.05), (-1.0, 0.05), (NAN, 0.05), (500.0, 0.0), (500.0, NAN)])
def test_a_machine_must_be_able_to_move(a: float, d: float) -> None:
    """Without acceleration, or without any rounding of corners, no time can be told."""
    with pytest.raises(ValueError, match="must be above 0"):
        new_profile(a, d)
