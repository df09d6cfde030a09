"""Layers from the parts of a wall: what begins one, what is beside it, what is odd, how many pieces there are."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gpost.survey.compose import Composed, compose
from gpost.survey.parts import BESIDE_MM, Parts
from gpost.survey.path import LEVEL, ODD, TURN

Row = tuple[int, float, tuple[float, float], tuple[float, float], tuple[float, float]]
"""Kind, path, lowest and highest x, y, z."""


def ring(
    z: float, *, x: float = 100.0, radius: float = 40.0, rise: float = 0.0, kind: int | None = None
) -> Row:
    """Once round; a turn if it rises."""
    sides = (x - radius, x + radius), (100 - radius, 100 + radius)
    found = (TURN if rise else LEVEL) if kind is None else kind
    return (found, 2 * np.pi * radius, *sides, (z, z + rise))


def stroke(z: float, *, x: float = 0.0, length: float = 100.0, y: float = 0.0, kind: int = LEVEL) -> Row:
    """A straight bead along X."""
    return (kind, length, (x, x + length), (y, y), (z, z))


def composed(rows: list[Row]) -> Composed:
    """What these parts are, with beads 5 mm wide; the nozzle travels to each."""

    def path_of(place: int) -> NDArray[np.float64]:
        """A straight line, or as much of an ellipse as fills the part's box."""
        (x_low, x_high), (y_low, y_high) = rows[place][2:4]
        if y_low == y_high or x_low == x_high:
            return np.array([[x_low, x_high], [y_low, y_high]])
        angle = np.linspace(0, 2 * np.pi, 181)
        return np.stack(
            [
                (x_low + x_high) / 2 + (x_high - x_low) / 2 * np.cos(angle),
                (y_low + y_high) / 2 + (y_high - y_low) / 2 * np.sin(angle),
            ]
        )

    kind, path, x, y, z = zip(*rows, strict=True)
    low, high = (
        np.array([[a[side], b[side], c[side]] for a, b, c in zip(x, y, z, strict=True)]) for side in (0, 1)
    )
    parts = Parts(np.array(kind, np.uint8), np.array(path), (low + high)[:, 2] / 2, low, high, low, high)
    return compose(parts, 5.0, path_of)


def layers(rows: list[Row]) -> list[int]:
    """The parts that begin layers, counted with those that are lead-in."""
    found = composed(rows)
    return (np.flatnonzero(found.begins) + found.lead_in).tolist()


WALL = [ring(2.0 * i) for i in range(1, 5)]
TURNS = [ring(2.0 * i, rise=2.0) for i in range(5)]
TURNS_FROM_2 = [ring(2.0 * i, rise=2.0) for i in range(1, 5)]


def test_each_part_a_layer() -> None:
    """Rings on one another, and turns."""
    assert layers(WALL) == [0, 1, 2, 3]
    assert layers(TURNS) == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("z", [0.5, 2.0, 9.0])
@pytest.mark.parametrize("wall", [WALL, TURNS])
def test_strokes_beside_the_piece_come_before_it(wall: list[Row], z: float) -> None:
    """A bead that primes the nozzle beside the piece is lead-in, at whatever height, and so are several."""
    assert composed([stroke(z), *wall]).lead_in == 1
    assert composed([stroke(z), stroke(z, y=4.0), *wall]).lead_in == 2
    assert composed([stroke(z), *wall]).begins.all()


def test_a_line_there_and_back_beside_the_piece_comes_before_it() -> None:
    """It has the path of a closed ring, but nothing is laid on it."""
    double = (LEVEL, 204.0, (0.0, 100.0), (0.0, 2.0), (2.0, 2.0))
    assert composed([double, *WALL]).lead_in == 1


def test_what_something_is_laid_on_belongs_to_the_piece() -> None:
    """A ring under the wall, a second part of the piece beside, an open wall: none is lead-in."""
    assert composed([ring(2, radius=60.0), *WALL[1:]]).lead_in == 0
    assert composed([ring(2, x=250), ring(2), ring(4, x=250), ring(4), ring(6, x=250), ring(6)]).lead_in == 0
    assert composed([stroke(2.0 * i, y=float(i)) for i in range(1, 9)]).lead_in == 0


def test_parts_at_one_height_are_one_layer() -> None:
    """However many there are."""
    rows = [
        row for z in (2.0, 4.0) for row in (ring(z), ring(z, radius=30.0), stroke(z, x=80, y=100, length=40))
    ]
    assert layers(rows) == [0, 3]


def test_a_short_stroke_is_no_layer() -> None:
    """It belongs to the layer before; at the start to the one after, if it lies there; at the end it may lie apart."""
    short = stroke(3.0, x=120.0, y=100.0, length=20.0)
    assert layers([WALL[0], short, *WALL[1:]]) == [0, 2, 3, 4]
    assert layers([stroke(2.1, x=120.0, y=100.0, length=20.0), *WALL[1:]]) == [0, 2, 3]
    found = composed([*WALL, stroke(8.5, length=20.0)])
    assert (found.begins.tolist(), found.boxed.tolist()) == ([True] * 4 + [False], [True] * 4 + [False])
    assert composed([*WALL, stroke(8.5, x=90.0, y=100.0, length=20.0)]).boxed.all()


def test_the_last_part_of_a_turn_is_no_layer() -> None:
    """If it is less than half as long as the turn before."""

    def part(share: float) -> Row:
        kind, path, x, y, (low, _) = ring(10.0, rise=2.0)
        return (kind, path * share, x, y, (low, low + 2 * share))

    assert layers([*TURNS, part(0.4)]) == [0, 1, 2, 3, 4]
    assert layers([*TURNS, part(0.6)]) == [0, 1, 2, 3, 4, 5]
    assert layers([*TURNS, part(0.4), ring(12)]) == [0, 1, 2, 3, 4, 6]


def test_walls_inside_one_another_are_one_piece() -> None:
    """An outer turn, down again, an inner turn: one layer holds both."""
    rows = [row for i in range(6) for row in (ring(2.0 * i, rise=2.0), ring(2.0 * i, rise=2.0, radius=30.0))]
    found = composed(rows)
    assert found.begins.tolist() == [True, False] * 6
    assert (found.pieces, found.odd.any()) == (1, False)


def test_strands_that_climb_together_are_one_piece() -> None:
    """Two strands, each climbing two beads a turn: every turn is a layer."""
    found = composed([ring(2.0 * i, rise=4.0) for i in range(8)])
    assert (found.begins.all(), found.pieces) == (True, 1)


@pytest.mark.parametrize("rise", [0.0, 2.0])
@pytest.mark.parametrize("count", [2, 8])
def test_pieces_one_after_the_other(rise: float, count: int) -> None:
    """Another begins where the nozzle goes to the bottom again, on the same place too."""
    one, other = ([ring(2.0 * i, x=x, rise=rise) for i in range(1, count + 1)] for x in (100, 250))
    assert composed(one).pieces == 1
    assert composed(one + other).pieces == 2
    assert composed(one + other + one).pieces == 3


def test_a_piece_beside_that_starts_higher() -> None:
    """A start well beside the piece, below its last layer, is another piece, even if it is not at the bottom."""
    assert composed([*WALL, ring(3, x=250)]).pieces == 2


def test_a_wave_is_no_new_piece() -> None:
    """A turn that starts far below the crest of the one before is the same piece."""
    assert composed([ring(2.0 * i, rise=20.0) for i in range(8)]).pieces == 1


def test_turns_that_do_not_fit_are_odd() -> None:
    """A turn that goes round its place half as often as its fellows, or twice, is none; the last may be a part."""
    kind, path, *box = ring(4.0, rise=2.0)
    wrong = (kind, path * 2, *box)
    assert composed([*TURNS[:2], wrong, *TURNS[3:]]).odd.tolist() == [False, False, True, False, False]
    assert not composed([*TURNS, (kind, path * 0.6, *ring(10.0, rise=1.2)[2:])]).odd.any()


def test_strokes_off_the_wall_are_odd() -> None:
    """A stroke whose middle does not lie over what is below is no layer on it."""
    sides = [stroke(10.0, x=50.0, y=60.0), stroke(12.0, x=50.0, y=140.0)]
    assert composed([*WALL, *sides, ring(14)]).odd.tolist() == [False] * 5 + [True, False]


def test_strokes_off_the_wall_at_the_end_are_no_layers() -> None:
    """However long they are, they come after the piece."""
    found = composed([*WALL, stroke(8.5), stroke(8.5, y=4.0)])
    assert (found.begins.tolist(), found.boxed.tolist()) == ([True] * 4 + [False] * 2,) * 2
    assert not found.odd.any()


TOUCHES = ring(2, radius=45.9)
"""Not a quarter more than a bead's width round the wall, and so its brim."""


@pytest.mark.parametrize("turns", [TURNS_FROM_2, WALL], ids=["turns", "rings"])
def test_a_ring_around_a_wall_is_lead_in(turns: list[Row]) -> None:
    """So are several, each in the other; of what is laid between its rings and under the wall nothing is."""
    assert composed([ring(2, radius=60.0), *turns]).lead_in == 1
    assert composed([ring(2, radius=60.0), ring(2, radius=55.0), *turns]).lead_in == 2
    assert composed([ring(2, radius=60.0), ring(2, radius=20.0), *turns]).lead_in == 1
    assert composed([ring(2), *turns]).lead_in == 0


def test_a_brim_that_touches_a_wall_that_rises_is_part_of_its_first_turn() -> None:
    """So is it on level layers; a base under the wall is a layer."""
    assert layers([TOUCHES, *TURNS_FROM_2]) == [0, 2, 3, 4]
    assert layers([ring(2, radius=51.0), TOUCHES, *TURNS_FROM_2]) == [0, 3, 4, 5]
    assert layers([TOUCHES, *WALL]) == [0, 2, 3, 4]
    assert layers([ring(2), *TURNS_FROM_2]) == [0, 1, 2, 3, 4]
    kind, path, *box = ring(2, radius=45.0)
    assert layers([(kind, 8 * path, *box), *TURNS_FROM_2]) == [0, 1, 2, 3, 4]
    assert composed([*WALL, ring(10, kind=ODD)]).odd.tolist() == [False] * 4 + [True]


@pytest.mark.parametrize("share", [0.3, 3.5])
def test_an_inner_turn_of_a_low_wall_that_does_not_fit_is_odd(share: float) -> None:
    """Where there are too few turns to look at those around, all of them say what is usual."""
    turns = TURNS[:4]
    kind, path, *box = turns[1]
    turns[1] = (kind, path * share, *box)
    assert composed(turns).odd.tolist() == [False, True, False, False]


@pytest.mark.parametrize("place", [0, 1])
def test_the_first_and_the_last_turn_may_be_part_of_one(place: int) -> None:
    """Two turns say nothing of one another."""
    turns = TURNS[:2]
    kind, path, *box = turns[place]
    turns[place] = (kind, path * 0.7, *box)
    assert not composed(turns).odd.any()


def test_all_long_strokes_beside_a_piece_that_is_done_are_no_layers() -> None:
    """However many, each in a place of its own."""
    beside = [stroke(9.0, length=400.0, x=-900.0), stroke(11.0, length=400.0, x=900.0)]
    assert layers([*WALL, *beside]) == [0, 1, 2, 3]
    assert not composed([*WALL, *beside]).boxed[4:].any()


@pytest.mark.parametrize(("down_mm", "pieces"), [(0.1, 1), (0.2, 1), (0.3, 2)])
def test_how_far_down_another_piece_begins(down_mm: float, pieces: int) -> None:
    """By more than a layer's thinnest, 0.2 mm; less is the wave of a wall, or rounding."""
    assert composed([*WALL, ring(8.0 - down_mm, x=250)]).pieces == pieces


@pytest.mark.parametrize(("off_mm", "found"), [(BESIDE_MM - 0.01, 5), (BESIDE_MM, 5), (BESIDE_MM + 0.01, 4)])
def test_how_far_beside_the_wall_a_stroke_is_no_layer(off_mm: float, found: int) -> None:
    """By where its middle is: the wall reaches from 60 to 140 mm."""
    middle = stroke(10.0, length=400.0, x=140.0 + off_mm - 200.0, y=100.0)
    assert len(layers([*WALL, middle])) == found


def test_a_ring_lower_down_inside_a_wall_is_no_new_piece() -> None:
    """The nozzle goes down, but neither to the bottom nor beside what is laid."""
    assert composed([*WALL, ring(5.0, radius=30.0)]).pieces == 1
    assert composed([*WALL, ring(2.0, radius=30.0)]).pieces == 2


def floor(count: int, radius: float = 34.0) -> list[Row]:
    """So many filled layers, 2 mm each, with a path that covers them; beads are 5 mm wide."""
    filled = [ring(2.0 * i, radius=radius) for i in range(1, count + 1)]
    return [(kind, np.pi * radius**2 / 5, *box) for kind, _, *box in filled]


def wall(begin: float, *, radius: float = 40.0, count: int = 6, rise: float = 0.0) -> list[Row]:
    """Rings 2 mm each, or turns that rise by that, from a height on."""
    return [ring(begin + 2.0 * i, radius=radius, rise=rise) for i in range(count)]


def two_beads(begin: float, count: int) -> list[Row]:
    """Rings as those of `wall`, each with another one close round it."""
    return [ring(begin + 2.0 * i, radius=radius) for i in range(count) for radius in (40.0, 45.0)]


def bowl(begin: float, *, wave: float = 0.0, out: float = 2.0) -> list[Row]:
    """Rings 2 mm each, with a travel to each, that go out by so much, and wave up by so much."""
    return [ring(begin + 2.0 * i, radius=40.0 + out * i, rise=wave, kind=LEVEL) for i in range(6)]


@pytest.mark.parametrize("out", [-2.0, -1.0, 0.0, 1.0, 2.0])
def test_each_turn_of_a_bowl_that_waves_is_a_layer(out: float) -> None:
    """Each comes down below the one before, but not below its lowest, and lies beside it where the bowl leans."""
    assert layers(bowl(2.0, wave=5.0, out=out)) == [0, 1, 2, 3, 4, 5]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ([*floor(2), *wall(2.0)], [0, 3, 4, 5, 6, 7]),  # the wall's rings at 2 and 4 lie beside the floor
        ([*floor(3), *wall(2.0)], [0, 4, 5, 6, 7, 8]),
        ([*floor(3), *wall(4.0)], [0, 1, 4, 5, 6, 7, 8]),
        ([*floor(1), *wall(1.0, rise=2.0)], [0, 2, 3, 4, 5, 6]),  # the first turn rises past the floor
        ([*wall(2.0, count=2), *floor(2), *wall(6.0)], [0, 3, 4, 5, 6, 7, 8, 9]),
        ([*floor(2), *two_beads(2.0, 5)], [0, 4, 6, 8, 10]),
        ([*two_beads(2.0, 2), *floor(2), *two_beads(6.0, 2)], [0, 5, 6, 8]),
        ([*floor(3), *bowl(2.0)], [0, 4, 5, 6, 7, 8]),
        ([*wall(1.0, rise=2.0, count=2), *floor(2), *wall(5.0, rise=2.0, count=3)], [0, 3, 4, 5, 6]),
    ],
    ids=[
        "two",
        "three",
        "three, the wall from its second",
        "turns that rise",
        "the wall's foot first",
        "a wall of two beads",
        "the foot of such a wall first",
        "a wall that leans out",
        "a foot that climbs first",
    ],
)
def test_a_floor_and_the_wall_round_it_are_one_piece(rows: list[Row], expected: list[int]) -> None:
    """As many layers as levels: the first and the lowest ring of the other are one, then each ring is one."""
    found = composed(rows)
    assert np.flatnonzero(found.begins).tolist() == expected
    assert (found.pieces, found.lead_in, found.odd.any()) == (1, 0, False)
    first = np.flatnonzero(found.begins)
    lowest_mm = np.minimum.reduceat([row[4][0] for row in rows], first)
    assert (np.diff(lowest_mm) > 0).all()


@pytest.mark.parametrize(
    "rows",
    [
        [*floor(2, radius=33.0), *wall(2.0)],
        [*floor(2, radius=38.0), *wall(2.0)],
        [*floor(2, radius=41.0), *wall(2.0)],
        [*floor(7), *wall(2.0, count=9)],
        [*floor(2), *[ring(2.0 * i, x=160.0) for i in range(1, 7)]],
    ],
    ids=["apart from it", "over its half", "over it", "a floor too high to get beside", "half beside it"],
)
def test_what_begins_lower_elsewhere_is_another_piece(rows: list[Row]) -> None:
    """A bead and a quarter (6.25 mm) lies between them at most, half a bead at least; a floor rises by two bead widths."""
    assert composed(rows).pieces == 2


@pytest.mark.parametrize("gap", [5.0, 12.0], ids=["beads that touch", "apart"])
@pytest.mark.parametrize("inner_first", [False, True])
@pytest.mark.parametrize("count", [2, 3, 8])
def test_two_rings_that_break_joint_are_one_layer(count: int, inner_first: bool, gap: float) -> None:
    """Like bricks the second lies half a layer lower each time: what is laid lower begins no layer."""
    radii = (45.0 - gap, 45.0) if inner_first else (45.0, 45.0 - gap)
    rows = [
        ring(2.0 * level - lower, radius=radius)
        for level in range(1, count + 1)
        for radius, lower in zip(radii, (0.0, 1.0), strict=True)
    ]
    found = composed(rows)
    assert np.flatnonzero(found.begins).tolist() == list(range(0, 2 * count, 2))
    assert (found.pieces, found.lead_in, found.odd.any()) == (1, 0, False)


def test_cups_that_break_joint_side_by_side_are_one_layer() -> None:
    """So it is where the second stands beside the first."""
    assert layers([ring(2.0 * i - x / 100, x=x) for i in range(1, 6) for x in (0.0, 100.0)]) == [
        0,
        2,
        4,
        6,
        8,
    ]


def test_a_ring_that_is_once_laid_lower_is_another_piece() -> None:
    """Once is no pattern."""
    assert composed([*WALL, ring(7.5, x=300.0), *[ring(2.0 * i, x=300.0) for i in range(5, 7)]]).pieces == 2


COURSES = 9
"""Of walls of two beads, each 2 mm high."""


def double(level: int, inner_mm: float, *, x: float = 100.0, gap: float = 5.0) -> list[Row]:
    """The rings of one course: the outer one up to its level, the inner one so much higher."""
    return [ring(2.0 * level, x=x), ring(2.0 * level + inner_mm, x=x, radius=40.0 - gap)]


def disc(z: float, *, x: float = 100.0) -> list[Row]:
    """Rings from the wall's outer one to its middle, a bead apart."""
    return [ring(z, x=x, radius=radius) for radius in (40.0, 35.0, 30.0, 25.0, 20.0)]


@pytest.mark.parametrize("base", [True, False], ids=["on a base", "from the bed"])
@pytest.mark.parametrize("inner_mm", [1.0, 0.7, 1.3, -1.0])
@pytest.mark.parametrize("gap", [4.0, 5.0, 6.0])
def test_a_wall_of_two_beads_has_as_many_layers_as_courses(gap: float, inner_mm: float, base: bool) -> None:
    """Whether the second ring lies a part of a course higher than the first or lower: both beads are 2 mm high."""
    courses = [double(level, inner_mm, gap=gap) for level in range(1, COURSES + 1)]
    if base:
        courses[0] = [*disc(2.0), *([ring(3.0, radius=40.0 - gap)] if inner_mm > 0 else [])]
    found = composed([row for course in courses for row in course])
    begin = np.cumsum([0, *map(len, courses[:-1])])
    assert np.flatnonzero(found.begins).tolist() == begin.tolist()
    assert (found.pieces, found.odd.any()) == (1, False)


@pytest.mark.parametrize("inner_mm", [1.0, -1.0])
@pytest.mark.parametrize("at", [(0.0, 120.0), (0.0, 120.0, 240.0), (0.0, 120.0, 240.0, 360.0)])
def test_cups_with_walls_of_two_beads_have_as_many_layers_as_courses(
    at: tuple[float, ...], inner_mm: float
) -> None:
    """A course of one cup, then of the next: on their bases, which are laid first, all of them begin one layer."""
    base = [row for x in at for row in disc(2.0, x=x)]
    walls = [row for level in range(2, COURSES + 1) for x in at for row in double(level, inner_mm, x=x)]
    found = composed([*base, *walls])
    begin = [0, *range(len(base), len(base) + len(walls), 2 * len(at))]
    assert np.flatnonzero(found.begins).tolist() == begin
    assert (found.pieces, found.odd.any()) == (1, False)


@pytest.mark.parametrize(
    "rows",
    [
        # a relief that goes in and out by half a bead each layer: every ring lies on the one before
        [ring(2.0 * level, radius=40.0 - 2.5 * (level % 2)) for level in range(1, 10)],
        # a dish: every ring a bead further out, which no ring before it lies under
        [ring(1.0 * level, radius=20.0 + 5 * level) for level in range(1, 10)],
        # a dome that closes
        [ring(1.0 * level, radius=60.0 - 5 * level) for level in range(1, 10)],
        # rings on rings of another width by turns, two levels of each
        [ring(2.0 * level, radius=40.0 - 6 * (level // 2 % 2)) for level in range(1, 10)],
    ],
    ids=["relief", "dish", "dome", "pairs"],
)
def test_rings_that_do_not_break_joint_are_a_layer_each(rows: list[Row]) -> None:
    """A ring beside the one before and higher is of its layer only where its bead begins beside it, again and again."""
    assert layers(rows) == list(range(9))
