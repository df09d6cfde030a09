"""Turns of a wall that climbs: numbered alike however the moves are cut, whatever the section's form."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.survey.climb import Climb
from gpost.survey.path import LEVEL, ODD, TURN, Laying, Path, Starts

Floats = NDArray[np.float64]
Outline = Callable[[Floats], Floats]
"""Angle to distance from the centre."""


def path_round(
    turns: float, *, sides: int = 60, outline: Outline = np.ones_like, lean: float = 0.0
) -> Floats:
    """Points (2, n + 1) of a wall of 40 mm round (100, 100) whose middle moves by `lean` mm a turn."""
    angle = 2 * np.pi * np.arange(round(turns * sides) + 1) / sides
    reach = 40 * outline(angle)
    x = 100 + reach * np.cos(angle) + lean * angle / (2 * np.pi)
    return np.stack([x, 100 + reach * np.sin(angle)])


Part = tuple[int, int]
"""(number of the part that a move belongs to, its kind)."""


def moves_of(path: Floats, rise_mm: float = 2.0, turn_mm: float = 251.0) -> Path:
    """Joined moves along the path (2, n + 1), rising evenly by so much for so much path."""
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(path, axis=1))))
    points = np.concatenate([path, (along * rise_mm / turn_mm)[None]])
    moves = Laying(points[:, :-1], points[:, 1:], np.hypot(*np.diff(path, axis=1)))
    return Path.of(moves, points[:, 0])


def parts_of(moves: Path, cuts: list[int]) -> list[Part]:
    """The part of each move, given in parts cut there."""
    climb = Climb()
    found = []
    for first, last in zip([0, *cuts], [*cuts, len(moves)], strict=True):
        if last > first:
            found += climb.add(moves.cut(first, last))
    all_starts = Starts.join([*found, *climb.finish()])
    number = np.cumsum(all_starts.starts) - 1
    return list(zip(number.tolist(), all_starts.kind.tolist(), strict=True))


def numbered(path: Floats, cuts: list[int]) -> tuple[list[int], set[int]]:
    """The turn of each move of a path that rises evenly, and the kinds there are."""
    parts = parts_of(moves_of(path), cuts)
    return [number for number, _ in parts], {kind for _, kind in parts}


def expected(moves: int, sides: int) -> list[int]:
    """Turn by turn."""
    return [move // sides for move in range(moves)]


@pytest.mark.parametrize("sides", [3, 4, 5, 60, 361])
@pytest.mark.parametrize("turns", [1, 2, 5, 30])
def test_a_polygon(sides: int, turns: int) -> None:
    """Every so many sides a turn is done."""
    path = path_round(turns, sides=sides)
    assert numbered(path, [])[0] == expected(turns * sides, sides)


def test_either_way_round() -> None:
    """A wall laid clockwise has the same turns."""
    path = path_round(12)[:, ::-1]
    assert numbered(path, [])[0] == expected(720, 60)


@pytest.mark.parametrize("lobes", range(3, 13))
@pytest.mark.parametrize("twist", [0.0, 0.3, -0.2])
def test_twisted_lobes(lobes: int, twist: float) -> None:
    """Lobes that wander round with the height don't disturb the count, by more than a segment at the seam."""
    path = path_round(
        20, sides=90, outline=lambda angle: 1 + 0.2 * np.cos(lobes * (angle + twist * angle / 6))
    )
    found = np.array(numbered(path, [])[0])
    assert len(found) == 1800
    assert np.abs(np.flatnonzero(np.diff(found)) + 1 - 90 * np.arange(1, 20)).max() <= 2


@pytest.mark.parametrize("lean", [0.5, 2.0, -3.0])
def test_a_leaning_wall(lean: float) -> None:
    """The centre goes along with a wall that leans by much more than its own width in all."""
    path = path_round(60, lean=lean)
    found = np.array(numbered(path, [])[0])
    assert found[-1] == 59
    assert np.abs(np.flatnonzero(np.diff(found)) + 1 - 60 * np.arange(1, 60)).max() <= 2


def test_rounded_points() -> None:
    """Points rounded to a tenth of a millimetre make the same turns."""
    assert numbered(path_round(20).round(1), [])[0] == expected(1200, 60)


def test_less_than_a_turn() -> None:
    """A section without one full turn is one part."""
    assert numbered(path_round(0.7), []) == ([0] * 42, {TURN})


def to_and_fro(strokes: int, degrees: float, *, segments: int = 40, stray_mm: float = 0.0) -> Floats:
    """An open ring of 50 mm laid there and back; it wanders by `stray_mm` a stroke."""
    step = np.arange(strokes * segments + 1)
    along = np.where(step // segments % 2 == 0, step % segments, segments - step % segments) / segments
    angle = math.radians(degrees) * along
    x = 100 + 50 * np.cos(angle) + stray_mm * step / segments
    return np.stack([x, 100 + 50 * np.sin(angle)])


@pytest.mark.parametrize("strokes", [10, 25, 500])
@pytest.mark.parametrize("degrees", [60, 180, 270, 340])
def test_to_and_fro(strokes: int, degrees: float) -> None:
    """An open ring laid to and fro turns by more than a full turn in all, and still never goes round."""
    found, kinds = numbered(to_and_fro(strokes, degrees), [])
    assert (set(found), kinds) == ({0}, {ODD})


@pytest.mark.parametrize("degrees", [120, 300])
def test_turns_that_end(degrees: float) -> None:
    """Where a wall ceases to go round it is cut by the rise of its last turn, and that is known."""
    path = np.concatenate(
        [path_round(20)[:, :-1], to_and_fro(40, degrees) - np.array([[10.0], [0.0]])], axis=1
    )
    moves = moves_of(path)
    parts = parts_of(moves, [])
    kinds = np.array([kind for _, kind in parts])
    assert (kinds[: 60 * 20] == TURN).all()
    assert (kinds[60 * 20 + 60 :] == ODD).all()
    number = np.array([number for number, _ in parts])
    tops = moves.end[2, np.append(np.flatnonzero(np.diff(number)), -1)]
    assert np.diff(tops)[20:-1] == pytest.approx(2.0, abs=0.25)


def test_turns_that_begin_again() -> None:
    """A window: below and above the stretch that is laid to and fro the wall goes round."""
    open_part = to_and_fro(20, 300) - np.array([[10.0], [0.0]])
    path = np.concatenate([path_round(10)[:, :-1], open_part, path_round(10)], axis=1)
    kinds = [kind for _, kind in parts_of(moves_of(path), [])]
    assert set(kinds[:600]) == {TURN}
    assert set(kinds[-300:]) == {TURN}
    assert ODD in kinds[600:-600]


def crescent(turns: float, *, thick: float = 0.3, twist_deg: float = 0.0, lean: float = 0.0) -> Floats:
    """A section between an outer arc of 240 degrees and an inner one, whose centroid lies in the hollow."""
    half = np.radians(np.linspace(-120, 120, 49))
    outer = 50 * np.stack([np.cos(half), np.sin(half)])
    inner = 50 * (1 - thick) * np.stack([np.cos(half[::-1]), np.sin(half[::-1])])
    loop = np.concatenate([outer, inner], axis=1)
    count = round(turns * loop.shape[1])
    step = np.arange(count + 1)
    points = loop[:, step % loop.shape[1]]
    turn = step / loop.shape[1]
    angle = np.radians(twist_deg) * turn
    x = points[0] * np.cos(angle) - points[1] * np.sin(angle) + lean * turn
    return np.stack([x, points[0] * np.sin(angle) + points[1] * np.cos(angle)])


@pytest.mark.parametrize("thick", [0.1, 0.3, 0.6])
@pytest.mark.parametrize(("twist_deg", "lean"), [(0.0, 0.0), (3.0, 0.0), (0.0, 1.0), (-2.0, 0.5)])
def test_a_section_whose_centroid_lies_outside(thick: float, twist_deg: float, lean: float) -> None:
    """A crescent goes round once a turn too, wherever its centroid is, and though it may twist and lean."""
    found, kinds = numbered(crescent(30, thick=thick, twist_deg=twist_deg, lean=lean), [])
    assert kinds == {TURN}
    assert found[-1] == 29
    assert np.diff(np.flatnonzero(np.diff(found))) == pytest.approx(98, abs=6)


@pytest.mark.parametrize("lean", [1.0, 2.0, 2.5])
def test_a_slim_column_that_walks_out_of_its_first_turn(lean: float) -> None:
    """After five turns no part of the section lies over the first."""
    angle = 2 * np.pi * np.arange(40 * 24 + 1) / 24
    path = np.stack([100 + 5 * np.cos(angle) + lean * angle / (2 * np.pi), 100 + 5 * np.sin(angle)])
    found, kinds = numbered(path, [])
    assert kinds == {TURN}
    seams = np.flatnonzero(np.diff(found))[:39] + 1
    assert np.abs(seams - 24 * np.arange(1, 40)).max() <= 2


def strokes_of(walls: list[Floats], heights: list[tuple[float, float]]) -> Path:
    """Strokes that the nozzle travels to, each along a path, from one height to another."""
    moves = []
    for wall, (low, high) in zip(walls, heights, strict=True):
        z = np.linspace(low, high, wall.shape[1])
        points = np.concatenate([wall, z[None]])
        moves.append(Laying(points[:, :-1], points[:, 1:], np.hypot(*np.diff(wall, axis=1))))
    return Path.of(Laying.join(moves), np.full(3, np.nan))


@pytest.mark.parametrize("missing", [0.0, 0.05, -0.03, -0.1])
@pytest.mark.parametrize("places", ["one", "two", "any"])
def test_rings_with_a_travel_at_the_seam(places: str, missing: float) -> None:
    """Each ring that the nozzle travels to is a turn, wherever it starts, and what is laid twice belongs to it."""
    draw = np.random.default_rng(7)
    walls, heights = [], []
    for ring in range(20):
        seam = {"one": 0.0, "two": np.pi * (ring % 2), "any": draw.uniform(0, 2 * np.pi)}[places]
        angle = seam + 2 * np.pi * (1 - missing) * np.arange(61) / 60
        walls.append(100 + 40 * np.stack([np.cos(angle), np.sin(angle)]))
        heights.append((2.0 * ring, 2.0 * ring + 2))
    assert parts_of(strokes_of(walls, heights), []) == [(ring, TURN) for ring in range(20) for _ in range(60)]


def test_dashes_are_no_turns() -> None:
    """A wall in dashes with gaps has one turn a round, not one a dash."""
    angle = 2 * np.pi * np.arange(12 * 20 + 1) / 12
    dashes = [angle[i] + np.linspace(0, 2 * np.pi / 14, 6) for i in range(12 * 20)]
    walls = [100 + 40 * np.stack([np.cos(dash), np.sin(dash)]) for dash in dashes]
    parts = parts_of(strokes_of(walls, [(i / 6, i / 6 + 0.15) for i in range(12 * 20)]), [])
    assert parts[-1] == (19, TURN)
    assert np.diff(np.flatnonzero(np.diff([number for number, _ in parts]))) == pytest.approx(60, abs=5)


def test_level_strokes_that_never_go_round() -> None:
    """Strokes to and fro, each one step higher, are level layers."""
    walls = [np.array([[0.0, 100.0], [0.0, 0.0]])[:, :: 1 if i % 2 else -1] for i in range(40)]
    parts = parts_of(strokes_of(walls, [(2.0 * i, 2.0 * i) for i in range(40)]), [])
    assert parts == [(i, LEVEL) for i in range(40)]


@pytest.mark.parametrize("sides", [3, 4, 6, 8])
def test_level_strokes_that_go_round(sides: int) -> None:
    """Strokes that go on from one another, each one step higher, are turns once they go round."""
    corner = 2 * np.pi * np.arange(sides * 12 + 1) / sides
    places = 100 + 40 * np.stack([np.cos(corner), np.sin(corner)])
    walls = [places[:, i : i + 2] for i in range(sides * 12)]
    parts = parts_of(strokes_of(walls, [(2.0 * i / sides,) * 2 for i in range(sides * 12)]), [])
    assert parts == [(i // sides, TURN) for i in range(sides * 12)]


def test_another_wall_begins_its_own_turns() -> None:
    """Where the nozzle goes down below the last turn, turns are counted anew from there."""
    walls = [path_round(5.5), path_round(5) + 200.0]
    parts = parts_of(strokes_of(walls, [(0.0, 11.0), (0.0, 10.0)]), [])
    starts = np.flatnonzero(np.diff([number for number, _ in parts], prepend=-1))
    assert starts.tolist() == [0, 60, 120, 180, 240, 300, 330, 390, 450, 510, 570]


def test_nothing() -> None:
    """Without moves there are no turns."""
    assert Climb().finish() == []


@given(
    st.sampled_from(["round", "crescent", "to and fro", "both"]),
    st.sampled_from([0.4, 1.0, 2.5, 9.0, 20.0]),
    st.sampled_from([3, 7, 40]),
    st.sampled_from([0.0, 1.0]),
    st.lists(st.integers(0, 2500), max_size=12),
)
def test_cuts_make_no_difference(form: str, turns: float, sides: int, lean: float, cuts: list[int]) -> None:
    """How the moves are cut into calls changes no answer."""
    going_round = path_round(turns, sides=sides, lean=lean, outline=lambda angle: 1 + 0.1 * np.cos(4 * angle))
    path = {
        "round": going_round,
        "crescent": crescent(turns, lean=lean, twist_deg=2.0),
        "to and fro": to_and_fro(max(round(turns), 1), 300, stray_mm=lean),
        "both": np.concatenate([going_round, to_and_fro(30, 300)], axis=1),
    }[form]
    moves = moves_of(path)
    whole = parts_of(moves, [])
    assert parts_of(moves, sorted(min(cut, len(moves)) for cut in cuts)) == whole
    assert len(whole) == len(moves)
