"""Layers of separate strokes: all that lie on the piece, or are it, count; what lies beside it does not.

What is right is known from the lines and circles that each file is made of.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np
import pytest

from gpost.common import ways
from gpost.common.ways import Floats
from gpost.survey import compose
from gpost.survey.model import Survey
from tests.survey.conftest import SECTION_MM2, Point, write_wall

SurveyOf = Callable[..., Survey]
Stroke = tuple[tuple[float, float], tuple[float, float]]
BEAD_MM, LAYER_MM = 6.0, 2.0
"""Beads lie side by side; layers are as high."""


def along_x(
    count: int = 12, length_mm: float = 80.0, *, x: float = 100.0, pitch: float = BEAD_MM
) -> list[Stroke]:
    """Lines from left to right, one behind the other from y 100 on."""
    return [((x, 100 + pitch * at), (x + length_mm, 100 + pitch * at)) for at in range(count)]


def along_y(count: int = 12, length_mm: float = 70.0) -> list[Stroke]:
    """Lines from front to back, one beside the other from x 100 on."""
    return [((100 + BEAD_MM * at, 100.0), (100 + BEAD_MM * at, 100 + length_mm)) for at in range(count)]


def petals(count: int = 20) -> list[Stroke]:
    """Strokes of 6 mm across a ring of 40 mm, from inside outwards."""
    angles = [math.tau * at / count for at in range(count)]
    return [
        (
            (140 + 37 * math.cos(angle), 140 + 37 * math.sin(angle)),
            (140 + 43 * math.cos(angle), 140 + 43 * math.sin(angle)),
        )
        for angle in angles
    ]


def laid(strokes: Iterable[Stroke], layer: int = 1) -> list[Point]:
    """Each after a travel to its start."""
    z = layer * LAYER_MM
    return [point for (a, b) in strokes for point in ((*a, z, False), (*b, z, True))]


def circle(radius_mm: float, layer: int) -> list[Point]:
    """A ring round x 140, y 140, in strokes of 3 degrees."""
    angles = np.radians(np.arange(0, 361, 3))
    points = [(140 + radius_mm * math.cos(a), 140 + radius_mm * math.sin(a)) for a in angles]
    return [(x, y, layer * LAYER_MM, at > 0) for at, (x, y) in enumerate(points)]


def square(low: tuple[float, float], high: tuple[float, float]) -> list[Point]:
    """Once round a rectangle, on the first level."""
    corners = [low, (high[0], low[1]), high, (low[0], high[1]), low]
    return [(*corner, LAYER_MM, at > 0) for at, corner in enumerate(corners)]


WALL = [point for layer in range(1, 6) for point in circle(40, layer)]
RING_MM = 120 * 2 * 40 * math.sin(math.radians(1.5))
"""Round the polygon."""
LINE = [((20.0, 80.0), (20.0, 200.0))]
"""A line beside all of these."""


def length_mm(strokes: Iterable[Stroke]) -> float:
    """Of all of them."""
    return sum(math.dist(*stroke) for stroke in strokes)


def box_of(strokes: Sequence[Stroke]) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where they reach, x and y."""
    (x, y) = zip(*(place for stroke in strokes for place in stroke), strict=True)
    return (min(x), max(x)), (min(y), max(y))


def expect(survey: Survey, paths_mm: Sequence[float], box: tuple[tuple[float, float], ...]) -> None:
    """So many layers with these paths and what clay that takes, in this box; and nothing odd."""
    assert survey.layers["path_mm"] == pytest.approx(paths_mm, rel=1e-4)
    assert survey.layers["laid_ml"] == pytest.approx(np.array(paths_mm) * SECTION_MM2 / 1000, rel=1e-4)
    assert np.array(survey.bounds_mm[:2]) == pytest.approx(np.array(box), abs=2e-3)
    assert not survey.odd


TILES = {
    "lines along x": [along_x()],
    "lines along y": [along_y()],
    "crossing": [along_x(), along_y()],
    "crossing twice": [along_x(), along_y(), along_x(), along_y()],
    "each on the one below": [along_x()] * 3,
    "from the middle to both sides": [[*along_x()[6:], *along_x()[5::-1]]],
    "lines of all lengths": [
        [((100, 100 + 6 * at), (100 + length, 100 + 6 * at)) for at, length in enumerate([20, 60, 5, 80, 40])]
    ] * 2,
    "smaller above": [along_x(), along_x(6, 40)],
    "lines far apart, as for a trial": [along_x(5, pitch=20)],
    "two of them": [[*along_x(), *along_x(x=200)]],
    "one behind a large one": [[*along_x(), *[((10.0, 240 + 6 * at), (30.0, 240 + 6 * at)) for at in range(3)]]],
    "many lines": [along_x(40, pitch=3), along_x(40, pitch=3)],
    "more lines than are parts of their own": [along_x(100, pitch=3)],
    "more of them above": [along_x(100, pitch=3)] * 2,
}  # fmt: skip


@pytest.mark.parametrize("levels", TILES.values(), ids=TILES)
def test_a_tile_is_all_its_strokes(wall_of: SurveyOf, levels: list[list[Stroke]]) -> None:
    """Whichever way they lie, and however many levels there are."""
    points = [point for at, strokes in enumerate(levels, start=1) for point in laid(strokes, at)]
    box = box_of([stroke for strokes in levels for stroke in strokes])
    expect(wall_of(points), [length_mm(strokes) for strokes in levels], box)


@pytest.mark.parametrize("levels", [1, 2, 3])
@pytest.mark.parametrize("place", ["before", "after"])
@pytest.mark.parametrize("lines", [1, 2])
def test_a_line_beside_a_tile_is_none_of_it(wall_of: SurveyOf, levels: int, place: str, lines: int) -> None:
    """One or two, before its first stroke or after its last, at the level of that; their clay is told apart."""
    beside = [((x, y0), (x, y1)) for ((x, y0), (_, y1)) in (LINE[0], ((26.0, 80.0), (26.0, 200.0)))][:lines]
    tile = [point for at in range(1, levels + 1) for point in laid(along_x(), at)]
    line = laid(beside, 1 if place == "before" else levels)
    survey = wall_of([*line, *tile] if place == "before" else [*tile, *line])
    expect(survey, [length_mm(along_x())] * levels, box_of(along_x()))
    clay_ml = length_mm(beside) * SECTION_MM2 / 1000
    assert survey.aside["laid_ml"].sum() == pytest.approx(clay_ml, rel=1e-4)
    assert survey.lead_in_ml == pytest.approx(clay_ml if place == "before" else 0, rel=1e-4)


@pytest.mark.parametrize("levels", [1, 2])
def test_a_line_over_a_finished_tile_s_side_is_none_of_it(wall_of: SurveyOf, levels: int) -> None:
    """Laid at a height of its own."""
    tile = [point for at in range(1, levels + 1) for point in laid(along_x(), at)]
    survey = wall_of([*tile, *laid(LINE, levels + 4)])
    expect(survey, [length_mm(along_x())] * levels, box_of(along_x()))


@pytest.mark.parametrize("levels", [1, 2])
@pytest.mark.parametrize("before", [True, False])
@pytest.mark.parametrize("loops", [1, 2])
def test_a_skirt_round_a_tile_is_none_of_it(wall_of: SurveyOf, levels: int, before: bool, loops: int) -> None:
    """On its first level: of one loop or two that touch, 20 mm off, also if it takes more than the tile."""
    small = along_x(4, 20.0)
    skirt = [
        point
        for out in (20.0, 26.0)[:loops]
        for point in square((100 - out, 100 - out), (120 + out, 118 + out))
    ]
    above = [point for at in range(2, levels + 1) for point in laid(small, at)]
    survey = wall_of([*skirt, *laid(small), *above] if before else [*laid(small), *skirt, *above])
    expect(survey, [80.0] * levels, box_of(small))
    assert {part.x_mm[0] for part in survey.beside} == {80.0, 74.0} if loops == 2 else {80.0}


def test_a_frame_that_the_strokes_touch_is_part_of_the_tile(wall_of: SurveyOf) -> None:
    """So is a ring beside it, which is a piece of its own."""
    frame, ring = square((96, 94), (184, 172)), square((200, 100), (230, 130))
    survey = wall_of([*frame, *laid(along_x()), *ring])
    expect(survey, [960 + 2 * (88 + 78) + 120], ((96, 230), (94, 172)))


def test_lines_within_a_ring_are_part_of_it_and_one_beside_is_not(wall_of: SurveyOf) -> None:
    """On an only level, though they touch nothing; so it is where three rings are each apart."""
    bars = [((120.0, 120.0 + 10 * at), (160.0, 120.0 + 10 * at)) for at in range(4)]
    survey = wall_of([*circle(40, 1), *laid([*bars, *LINE])])
    expect(survey, [RING_MM + 160], ((100, 180), (100, 180)))
    rings = [*circle(40, 1), *square((10, 10), (40, 40)), *square((210, 10), (240, 40))]
    expect(wall_of([*rings, *laid(LINE)]), [RING_MM + 240], ((10, 240), (10, 180)))


@pytest.mark.parametrize(
    ("top", "box"),
    [
        ([((110.0, y), (170.0, y)) for y in np.arange(108.0, 175.0, 6).tolist()], ((100, 180), (100, 180))),
        (petals(), ((97, 183), (97, 183))),
    ],
    ids=["a lid", "petals"],
)
def test_strokes_on_a_ring_wall_are_its_last_layer(
    wall_of: SurveyOf, top: list[Stroke], box: tuple[tuple[float, float], ...]
) -> None:
    """Also where they reach out over it; and a line beside them at the end is none."""
    paths = [RING_MM] * 5 + [length_mm(top)]
    expect(wall_of([*WALL, *laid(top, 6)]), paths, box)
    expect(wall_of([*WALL, *laid([*top, *LINE], 6)]), paths, box)


def test_a_shelf_on_a_wall_is_what_hangs_together(wall_of: SurveyOf) -> None:
    """Strokes beside one another, of which the first alone lies over the wall."""
    shelf = [((180.0 + BEAD_MM * at, 120.0), (180.0 + BEAD_MM * at, 160.0)) for at in range(5)]
    survey = wall_of([*WALL, *circle(40, 6), *laid(shelf, 6)])
    expect(survey, [RING_MM] * 5 + [RING_MM + 200], ((100, 204), (100, 180)))


def test_a_line_before_the_last_ring_is_no_part_of_it(wall_of: SurveyOf) -> None:
    """Laid at the height of the layer that it comes before; that such a layer begins beside the piece is odd."""
    survey = wall_of([*WALL, *laid(LINE, 6), *circle(40, 6)])
    assert survey.layers["path_mm"] == pytest.approx([RING_MM] * 6, rel=1e-4)
    assert np.array(survey.bounds_mm[:2]) == pytest.approx(np.array([[100, 180], [100, 180]]), abs=2e-3)


@pytest.mark.parametrize("levels", [1, 2])
def test_a_line_before_a_tile_of_many_strokes_is_none_of_it(wall_of: SurveyOf, levels: int) -> None:
    """Of more strokes than are told apart at a height."""
    many = along_x(100, pitch=3)
    survey = wall_of([*laid(LINE), *(point for at in range(1, levels + 1) for point in laid(many, at))])
    expect(survey, [length_mm(many)] * levels, box_of(many))


@pytest.mark.parametrize("chunk_bytes", [64, 300, 1000])
@pytest.mark.parametrize("count", [12, 70])
def test_cuts_make_no_difference(survey_of: SurveyOf, chunk_bytes: int, count: int) -> None:
    """Where the file is cut into blocks can't be seen."""
    tile = along_x(count, pitch=3)
    program = write_wall([*laid(LINE), *laid(tile), *laid(along_y(), 2), *laid(LINE, 2)])
    whole, cut = survey_of(program), survey_of(program, chunk_bytes=chunk_bytes)
    for name in whole.layers.dtype.names or ():
        assert cut.layers[name] == pytest.approx(whole.layers[name], rel=1e-9), name
    assert (whole.bounds_mm, whole.beside) == (cut.bounds_mm, cut.beside)


def points_filled_in(wall_of: SurveyOf, monkeypatch: pytest.MonkeyPatch, rounds: int) -> int:
    """How many points are filled in to hold beads against one another, for a tile gone over so often."""
    found = list[int]()
    real = ways.once

    def counted(points: Floats) -> Floats:
        found.append(points.shape[1])
        return real(points)

    with monkeypatch.context() as patch:
        patch.setattr(ways, "once", counted)
        assert len(wall_of([point for _ in range(rounds) for point in laid(along_x(50))]).layers) == 1
    return sum(found)


def test_of_a_level_of_many_strokes_each_is_held_against_what_is_near(
    wall_of: SurveyOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What lies behind the first 64 strokes is one part: it is not filled in as a whole for each of them.

    50 lines of 80 mm, each with the way to the next, are 16,500 points half a mm apart in a round. Near to
    each line lie its own copies, the two beside it, and the ways between them: far fewer than 64 times all.
    """
    assert points_filled_in(wall_of, monkeypatch, 20) < 10 * 20 * 16_500


@pytest.mark.parametrize("strokes", [1, 3, 12, 70])
@pytest.mark.parametrize("heights", [4, 9])
def test_strokes_on_many_heights_before_a_pot_are_a_piece(
    wall_of: SurveyOf, strokes: int, heights: int
) -> None:
    """A block of strokes stands in the way of what flies over the pot: two pieces, and none is left out."""
    block = along_x(strokes, 30, x=10, pitch=3)
    survey = wall_of([point for layer in range(1, heights + 1) for point in laid(block, layer)] + WALL)
    assert (survey.pieces, len(survey.layers), survey.lead_in_ml) == (2, heights + 5, 0)
    assert [round(low) for low, _ in survey.bounds_mm] == [10, 100, 2]
    assert any("prints 2 pieces" in text for text in survey.warnings)


@pytest.mark.parametrize("heights", [1, 2, 3])
def test_lines_on_a_few_heights_before_a_pot_are_none(wall_of: SurveyOf, heights: int) -> None:
    """They prime the nozzle, and lie no higher than the nozzle is lifted over the pot's foot."""
    lines = along_x(3, 30, x=10)
    survey = wall_of([point for layer in range(1, heights + 1) for point in laid(lines, layer)] + WALL)
    assert (survey.pieces, len(survey.layers)) == (1, 5)
    assert survey.lead_in_ml == pytest.approx(heights * 90 * SECTION_MM2 / 1000)
    assert survey.bounds_mm[0] == pytest.approx((100, 180), abs=0.1)


def test_so_many_parts_before_a_ring_are_held_against_what_follows(
    wall_of: SurveyOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And no more: of 1280 that stand apart from the one ring, each would be held against all."""
    asked = list[int]()
    real = compose._stands_apart
    monkeypatch.setattr(compose, "_stands_apart", lambda *args: asked.append(args[1]) or real(*args))
    block = [point for layer in range(1, 21) for point in laid(along_x(80, 20, x=10, pitch=2), layer)]
    wall_of([*block, *circle(20, 21)])
    assert len(asked) <= compose.MOST_HEIGHTS * 64 + 1
