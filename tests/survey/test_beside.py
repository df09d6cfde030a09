"""Skirts, rings and lines at the height of the first layer are no piece; what touches the piece is part of it.

What is right is known from the circles and lines that each file is made of.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable

import numpy as np
import pytest

from gpost.survey.model import Survey
from tests.survey.conftest import CONFIG, SECTION_MM2, Point

SurveyOf = Callable[..., Survey]
WALL_MM, BEAD_MM, LAYER_MM = 40.0, 6.0, 2.0
"""Radius of the wall round x 140, y 140, width of its beads, height of a layer."""
Way = list[tuple[float, float]]


def circle(radius_mm: float, part: float = 1.0, x_mm: float = 140.0) -> Way:
    """As much of a circle, in strokes of 3 degrees."""
    angles = np.radians(np.arange(0, 360 * part + 1e-9, 3))
    return [(x_mm + radius_mm * math.cos(a), 140 + radius_mm * math.sin(a)) for a in angles]


def square(half_mm: float) -> Way:
    """Round a square."""
    signs = [(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]
    return [(140 + i * half_mm, 140 + j * half_mm) for i, j in signs]


def spiral(out_mm: float) -> Way:
    """From the middle outwards in beads that touch."""
    angles = np.radians(np.arange(0, 360 * out_mm / BEAD_MM, 6))
    return [
        (140 + BEAD_MM * a / math.tau * math.cos(a), 140 + BEAD_MM * a / math.tau * math.sin(a))
        for a in angles
    ]


def laid(way: Way, z_mm: float) -> Iterable[Point]:
    """Travel to its start, and lay it."""
    yield (*way[0], z_mm, False)
    yield from ((x, y, z_mm, True) for x, y in way[1:])


def rings(count: int, first: int = 1) -> list[Point]:
    """Level rings of the wall."""
    return [point for layer in range(first, count + 1) for point in laid(circle(WALL_MM), layer * LAYER_MM)]


def helix() -> list[Point]:
    """Five turns that begin at the height of the first layer."""
    ways = circle(WALL_MM)[:-1] * 5
    points = [(x, y, LAYER_MM * (1 + at / 120), at > 0) for at, (x, y) in enumerate(ways)]
    return [(*points[0][:3], False), *points[1:]]


def length_mm(way: Way) -> float:
    """Of its strokes."""
    return sum(math.dist(a, b) for a, b in itertools.pairwise(way))


def of_one(ways: Iterable[Way]) -> list[Point]:
    """All laid at the height of the first layer."""
    return [point for way in ways for point in laid(way, LAYER_MM)]


BESIDE: dict[str, list[Way]] = {
    "a skirt": [circle(60)],
    "one of two loops": [circle(66), circle(60)],
    "one of two loops, from inside": [circle(60), circle(66)],
    "one of four corners": [square(65)],
    "one that doesn't close": [circle(60, 0.9)],
    "half a ring": [circle(60, 0.5)],
    "a line and a skirt": [[(20.0, 80.0), (20.0, 200.0)], circle(60)],
    "a line within the skirt": [circle(70), [(92.0, 180.0), (92.0, 100.0)]],
    "an angle round a corner": [[(85.0, 200.0), (85.0, 85.0), (200.0, 85.0)]],
    "a ring beside": [circle(10, x_mm=220)],
}
PARTS: dict[str, list[Way]] = {
    "a brim of one ring": [circle(WALL_MM + BEAD_MM)],
    "a brim from outside": [
        circle(WALL_MM + 3 * BEAD_MM),
        circle(WALL_MM + 2 * BEAD_MM),
        circle(WALL_MM + BEAD_MM),
    ],
    "a flange of a spiral": [spiral(70)],
    "a ring within": [circle(15)],
    "a tongue on one side": [[(184.0, 140.0), (220.0, 140.0)]],
    "a square that touches by its sides": [square(WALL_MM + BEAD_MM)],
}


@pytest.mark.parametrize("wall", [rings(5), helix()], ids=["rings", "helix"])
@pytest.mark.parametrize("ways", BESIDE.values(), ids=BESIDE)
def test_what_stands_off_the_piece_is_lead_in(wall_of: SurveyOf, ways: list[Way], wall: list[Point]) -> None:
    """It widens no box and is no layer's clay; what it meters comes before layer 1."""
    survey, alone = wall_of([*of_one(ways), *wall]), wall_of(wall)
    assert np.array(survey.bounds_mm) == pytest.approx(np.array(alone.bounds_mm))
    assert survey.layers["laid_ml"] == pytest.approx(alone.layers["laid_ml"], rel=1e-6)
    assert survey.layers["path_mm"] == pytest.approx(alone.layers["path_mm"])
    assert survey.lead_in_ml == pytest.approx(sum(map(length_mm, ways)) * SECTION_MM2 / 1000)
    assert survey.clay_ml == pytest.approx(survey.lead_in_ml + alone.clay_ml)
    assert not survey.odd


@pytest.mark.parametrize("wall", [rings(5), helix()], ids=["rings", "helix"])
@pytest.mark.parametrize("ways", PARTS.values(), ids=PARTS)
def test_what_touches_the_piece_is_part_of_it(wall_of: SurveyOf, ways: list[Way], wall: list[Point]) -> None:
    """It widens the box, and its clay is layer 1's."""
    survey = wall_of([*of_one(ways), *wall])
    assert (survey.lead_in_ml, survey.beside) == (0.0, ())
    reach = max(x - 140 for way in [*ways, circle(WALL_MM)] for x, _ in way)
    assert survey.bounds_mm[0][1] - 140 == pytest.approx(reach, abs=1e-3)


def test_a_flange_of_thousands_of_strokes_is_part_of_it(wall_of: SurveyOf) -> None:
    """Each stroke touches the next alone, so that the last is the piece's by all the others."""
    strokes = [[(184.0 + 2 * at, 140.0), (185.0 + 2 * at, 140.0)] for at in range(3000)]
    survey = wall_of([*of_one(strokes), *rings(3)])
    assert (survey.lead_in_ml, survey.beside) == (0.0, ())


def test_a_foot_ring_under_a_disc_is_part_of_it(wall_of: SurveyOf) -> None:
    """A narrower ring stands under what is wider, and a wider one alone bears what comes on it."""
    narrow = [*laid(circle(25), 2.0), *laid(spiral(WALL_MM), 4.0), *rings(6, first=3)]
    assert wall_of(narrow).lead_in_ml == 0
    wide = [*laid(circle(60), 2.0), *laid(circle(45), 4.0), *laid(circle(WALL_MM), 6.0)]
    assert wall_of(wide).lead_in_ml == 0


@pytest.mark.parametrize(
    "ways", [[circle(60)], [[(85.0, 200.0), (85.0, 85.0), (200.0, 85.0)]]], ids=["ring", "line"]
)
def test_what_is_laid_off_the_piece_after_its_first_ring_is_none_of_it(
    wall_of: SurveyOf, ways: list[Way]
) -> None:
    """It lies among layer 1's lines, and is told by them; the layer's box and bead are the wall's."""
    first = list(laid(circle(WALL_MM), LAYER_MM))
    survey, alone = wall_of([*first, *of_one(ways), *rings(5, first=2)]), wall_of(rings(5))
    assert np.array(survey.bounds_mm) == pytest.approx(np.array(alone.bounds_mm))
    assert survey.layers["laid_ml"] == pytest.approx(alone.layers["laid_ml"], rel=1e-6)
    assert survey.clay_ml == pytest.approx(alone.clay_ml + length_mm(ways[0]) * SECTION_MM2 / 1000)
    (part,) = survey.beside
    points = survey.laid_points(part.first_line, part.end_line)
    np.testing.assert_allclose(points.T, ways[0], atol=1e-3)


def test_what_reaches_the_next_layer_too_is_part_of_the_piece(wall_of: SurveyOf) -> None:
    """A second column beside a cup stands in each layer; so does a tile of one layer alone."""
    both = [p for z in (2.0, 4.0, 6.0) for x in (140.0, 230.0) for p in laid(circle(20, x_mm=x), z)]
    assert wall_of(both).lead_in_ml == 0
    assert wall_of(of_one([circle(60), circle(WALL_MM)])).lead_in_ml == 0


def test_a_wall_within_a_wall_stands_on_both_rings(wall_of: SurveyOf) -> None:
    """The inner one is begun first on a base of two rings: the outer ring is no skirt of it."""
    base = of_one([circle(60), circle(WALL_MM)])
    turns = []
    for turn in range(4):
        for radius_mm in (WALL_MM, 60.0):
            way = circle(radius_mm)
            z_mm = LAYER_MM * (1 + turn)
            turns.append((*way[0], z_mm, False))
            turns += [(x, y, z_mm + LAYER_MM * at / 120, True) for at, (x, y) in enumerate(way) if at]
    assert wall_of([*base, *turns]).beside == ()


def test_the_width_that_touches_is_the_config_s(survey_of: SurveyOf) -> None:
    """8 mm from a wall a bead of 6 mm stands apart, and one of 7 mm, which spreads in soft clay, may touch."""
    rows = ["G90", "M83", "G28", "G0 F3000"]
    for x, y, z, lays in [*of_one([circle(WALL_MM + 8)]), *rings(4)]:
        rows.append(f"{'G1' if lays else 'G0'} X{x:.3f} Y{y:.3f} Z{z:.3f}{' E20 F1800' if lays else ''}")
    for width_mm, parts in ((6.0, 1), (7.0, 0)):
        clay = CONFIG.clay.model_copy(update={"bead_width_mm": width_mm})
        survey = survey_of("\n".join([*rows, ""]), config=CONFIG.model_copy(update={"clay": clay}))
        assert len(survey.beside) == parts
