"""Layers come from motion alone: level rings and strokes by height, walls that rise or wave by turns."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.config.model import Clay, Config, CubicMillimetres, Filament, Home, Machine
from gpost.demo.gcode import SliceStyle
from gpost.demo.shape import Piece as Form
from gpost.errors import ConfigError
from gpost.survey.model import Survey
from tests.reference.programs import Piece, piece_programs
from tests.sliced import slice_piece

Point = tuple[float, float, float, bool]
WallOf = Callable[..., Survey]
CENTRE = 100.0


def ring(
    z: float, *, radius: float = 40.0, sides: int = 60, x: float = CENTRE, y: float = CENTRE
) -> list[Point]:
    """Travel to a level ring and lay it."""
    angles = [2 * math.pi * i / sides for i in range(sides + 1)]
    return [(x + radius * math.cos(a), y + radius * math.sin(a), z, i > 0) for i, a in enumerate(angles)]


def helix(
    start_z: float,
    pitches: list[float],
    *,
    radius: float = 40.0,
    sides: int = 60,
    x: float = CENTRE,
    wave: Callable[[float], float] = lambda _angle: 0.0,
) -> Iterator[Point]:
    """Travel to a wall that rises by these amounts in its turns, waved along each turn, and lay it."""
    angles = [2 * math.pi * i / sides for i in range(sides)]
    yield (x + radius, CENTRE, start_z + wave(0.0), False)
    z = start_z
    for pitch in pitches:
        for i, a in enumerate([*angles[1:], 2 * math.pi], 1):
            height = z + pitch * i / sides
            yield (x + radius * math.cos(a), CENTRE + radius * math.sin(a), height + wave(a), True)
        z += pitch


def stroke(z: float, *, back: bool, segments: int = 20) -> list[Point]:
    """Travel to one end of a straight wall and lay it to the other."""
    places = [50 + 100 * i / segments for i in range(segments + 1)]
    return [(x, 50.0, z, i > 0) for i, x in enumerate(reversed(places) if back else places)]


def kinds(survey: Survey) -> list[int]:
    """0 for each level layer, 1 for each turn."""
    return survey.layers["kind"].tolist()  # type: ignore[no-any-return]


def test_level_rings(wall_of: WallOf) -> None:
    """Each height is a layer, and a layer begins after the last clay of the one before."""
    survey = wall_of([*ring(2), (0, 0, 9, False), *ring(4), *ring(6)])
    assert survey.layers["height_mm"].tolist() == [2, 4, 6]
    assert kinds(survey) == [0, 0, 0]
    # the header has 5 lines; a ring is 61 lines, its first the travel to it
    assert survey.layers["first_line"].tolist() == [6, 66, 128]
    assert survey.layers["path_mm"] == pytest.approx([60 * 80 * math.sin(math.pi / 60)] * 3, rel=1e-4)


def test_several_parts_on_one_height(wall_of: WallOf) -> None:
    """Rings at one height are one layer, wherever they are."""
    survey = wall_of(
        [p for z in (2, 4, 6) for p in [*ring(z), *ring(z, x=200, radius=20), *ring(z, radius=30)]]
    )
    assert survey.layers["height_mm"].tolist() == [2, 4, 6]
    assert survey.pieces == 1


@pytest.mark.parametrize("segments", [1, 20])
def test_an_open_wall_laid_to_and_fro(wall_of: WallOf, segments: int) -> None:
    """Strokes that don't close are layers by their height."""
    survey = wall_of([p for i in range(12) for p in stroke(2 * i + 2, back=i % 2 == 1, segments=segments)])
    assert survey.layers["height_mm"].tolist() == [2 * i + 2 for i in range(12)]
    assert kinds(survey) == [0] * 12


def test_an_open_wall_with_laid_steps(wall_of: WallOf) -> None:
    """The short step up at the end of a stroke, laid too, doesn't matter."""
    points = [(50.0, 50.0, 2.0, False)]
    for i in range(12):
        end = 150.0 if i % 2 == 0 else 50.0
        points += [(end, 50.0, 2.0 * i + 2, True), (end, 50.0, 2.0 * i + 4, True)]
    assert wall_of(points).layers["height_mm"].tolist() == [2 * i + 2 for i in range(12)]


@pytest.mark.parametrize("first", [0.0, 0.5, 2.0])
def test_the_first_layer_may_lie_at_zero(wall_of: WallOf, first: float) -> None:
    """Zero is a height like any other, for level layers and for rising ones."""
    level = wall_of([p for i in range(5) for p in ring(first + 2 * i)])
    assert level.layers["height_mm"].tolist() == [first + 2 * i for i in range(5)]
    rising = wall_of(helix(first, [2.0] * 5))
    assert rising.layers["low_mm"] == pytest.approx([first + 2 * i for i in range(5)])


@pytest.mark.parametrize("points", [ring(2), stroke(2, back=False), list(helix(2, [2.0]))])
def test_a_file_of_one_layer(wall_of: WallOf, points: list[Point]) -> None:
    """A single ring, stroke or turn is one layer."""
    assert len(wall_of(points).layers) == 1


def test_a_part_of_a_turn_is_one_layer(wall_of: WallOf) -> None:
    """A rising wall that stops before its first turn is done is one layer; nothing is wrong with it."""
    survey = wall_of(list(helix(2, [2.0]))[:40])
    assert len(survey.layers) == 1
    assert survey.warnings == ()


def test_a_last_part_of_a_turn_belongs_to_the_turn_before(wall_of: WallOf) -> None:
    """Less than half a turn at the end of a wall is no layer of its own."""
    assert len(wall_of(list(helix(2, [2.0] * 5))[:-45]).layers) == 4
    assert len(wall_of(list(helix(2, [2.0] * 5))[:-20]).layers) == 5


@pytest.mark.parametrize("decimals", [1, 2, 3, 6])
def test_a_rise_that_changes(wall_of: WallOf, decimals: int) -> None:
    """Whatever each turn rises by, it is one layer from seam to seam."""
    pitches = [0.5 + 0.15 * i for i in range(20)]
    survey = wall_of(helix(1.0, pitches), decimals=decimals)
    tops = 1.0 + np.cumsum(pitches)
    one_segment_and_rounding = np.array(pitches) / 60 + 10.0**-decimals
    assert (np.abs(survey.layers["height_mm"] - tops) <= one_segment_and_rounding).all()
    assert kinds(survey) == [1] * 20


@pytest.mark.parametrize("amplitude", [0.5, 2.0, 5.0])
@pytest.mark.parametrize("travel", [False, True])
def test_a_wall_that_waves(wall_of: WallOf, amplitude: float, travel: bool) -> None:
    """A wall may wave in Z by more than its layers are high, with or without a travel at the seam."""

    def wave(angle: float) -> float:
        return amplitude * math.sin(5 * angle)

    if travel:
        points = [p for i in range(10) for p in helix(amplitude + 1 + 2 * i, [0.0], wave=wave)]
    else:
        points = list(helix(amplitude + 1, [2.0] * 10, wave=wave))
    survey = wall_of(points)
    assert kinds(survey) == [1] * 10
    assert survey.pieces == 1
    assert np.diff(survey.layers["height_mm"]) == pytest.approx([2.0] * 9, abs=0.05)


def test_a_tilted_wall(wall_of: WallOf) -> None:
    """Turns that rise and fall by 40 mm are turns all the same."""
    survey = wall_of(helix(22, [2.0] * 10, wave=lambda angle: 20 * math.cos(angle)))
    assert kinds(survey) == [1] * 10


@pytest.mark.parametrize("advance_mm", [2.0, 5.0, 8.0])
def test_a_wall_of_small_loops(wall_of: WallOf, advance_mm: float) -> None:
    """A wall laid in loops of 10 mm goes round once a layer, though the nozzle goes round for each."""
    loops = int(2 * math.pi * 50 / advance_mm)

    def place(step: int) -> Point:
        around, loop = (
            2 * math.pi * step / (16 * loops),
            2 * math.pi * step / 16 + 2 * math.pi * step / (16 * loops),
        )
        x = CENTRE + 50 * math.cos(around) + 5 * math.cos(loop)
        y = CENTRE + 50 * math.sin(around) + 5 * math.sin(loop)
        return (x, y, 2 + around / math.pi, step > 0)

    survey = wall_of([place(step) for step in range(16 * loops * 6)])
    assert kinds(survey) == [1] * 6
    assert survey.layers["height_mm"] == pytest.approx([4, 6, 8, 10, 12, 14], abs=0.1)


def test_a_bowl_in_one_spiral(wall_of: WallOf) -> None:
    """A spiral that opens out from the middle while it rises is one layer a turn."""
    steps = 60 * 20
    radius = [2.5 * i / 60 + 0.5 for i in range(steps)]
    points = [
        (
            CENTRE + r * math.cos(2 * math.pi * i / 60),
            CENTRE + r * math.sin(2 * math.pi * i / 60),
            1 + i / 75,
            i > 0,
        )
        for i, r in enumerate(radius)
    ]
    assert abs(len(wall_of(points).layers) - 20) <= 1


def test_a_rising_wall_that_does_not_go_round(wall_of: WallOf) -> None:
    """It has no turns: it is one layer, and that is said."""
    points = [(50.0, 50.0, 2.0, False)]
    for i in range(600):
        along = i % 40 if i % 40 <= 20 else 40 - i % 40
        points.append((50.0 + 5 * along, 50.0, 2 + 0.1 * i, True))
    survey = wall_of(points)
    assert len(survey.layers) == 1
    assert [(odd.first_layer, odd.last_layer, odd.end_line) for odd in survey.odd] == [(1, 1, survey.lines)]


def test_a_rising_wall_on_level_layers_starts_at_its_seam(wall_of: WallOf) -> None:
    """After level layers turns count from where the rise begins; a level rim on top is a layer again."""
    points = [*ring(2), *ring(4), *list(helix(4, [2.0] * 5))[1:], *ring(14)[1:]]
    survey = wall_of(points)
    assert kinds(survey) == [0, 0, 1, 1, 1, 1, 1, 0]
    assert survey.layers["first_line"][2:].tolist() == [127 + 60 * i for i in range(6)]


@given(piece_programs())
def test_every_pot_has_its_layers(survey_of: Callable[..., Survey], piece: Piece) -> None:
    """In every dialect the layers' heights, clay and paths are those that the pot was written with."""
    x, y, z = piece.dialect.home_mm
    machine = Machine(axis_mode_sets_e=piece.dialect.axis_mode_sets_e, home=Home(x_mm=x, y_mm=y, z_mm=z))
    survey = survey_of(
        piece.program, config=Config(machine=machine, clay=Clay(metering=CubicMillimetres(unit="mm3")))
    )
    layers = survey.layers
    assert layers["height_mm"] == pytest.approx(piece.layer_heights_mm, abs=1e-9)
    assert layers["laid_ml"] * 1000 == pytest.approx(piece.layer_e_mm, rel=1e-9, abs=1e-9)
    assert layers["path_mm"] == pytest.approx(piece.layer_path_mm, rel=1e-9)
    assert survey.clay_ml * 1000 == pytest.approx(piece.net_e_mm, rel=1e-9, abs=1e-6)
    assert survey.lead_in_ml * 1000 == pytest.approx(piece.prime_e_mm, abs=2e-3)
    assert survey.pieces == 1
    starts = layers["first_line"].tolist()
    assert all(start <= first for start, first in zip(starts, piece.layer_lines, strict=True))
    assert all(start > first for start, first in zip(starts[1:], piece.layer_lines[:-1], strict=True))


def forms() -> st.SearchStrategy[Form]:
    """Small pots of every form."""
    return st.builds(
        Form,
        height_mm=st.sampled_from([4.0, 10.0, 24.0]),
        radius_mm=st.sampled_from([30.0, 60.0]),
        profile=st.sampled_from(["cylinder", "cone", "bowl", "bottle", "wave"]),
        lobes=st.sampled_from([0, *range(3, 13)]),
        twist_deg_per_mm=st.sampled_from([0.0, 1.0, -2.0]),
        lean_mm=st.sampled_from([0.0, 0.0, 10.0]),
        layer_mm=st.sampled_from([1.0, 2.0]),
        bead_width_mm=st.just(5.0),
        base_layers=st.sampled_from([0, 1, 2]),
        wave_mm=st.sampled_from([0.0, 0.0, 1.5]),
        wave_count=st.just(3),
        segments=st.sampled_from([36, 60, 120]),
    )


def styles() -> st.SearchStrategy[SliceStyle]:
    """Every dialect of the slicer, with at least two decimals."""
    flags = ("relative_axes", "relative_e", "inches", "trim_zeros", "z_hop", "retract", "heaters")
    more = ("g92_every_layer", "comments", "numbered", "modal_g", "lowercase", "prime_in_place")
    chosen = {name: st.booleans() for name in flags + more}
    return st.builds(
        SliceStyle,
        wall=st.sampled_from(["flat", "rise"]),
        base=st.sampled_from(["rings", "spiral"]),
        e_unit=st.sampled_from(["filament", "mm3"]),
        newline=st.sampled_from(["\n", "\r\n"]),
        decimals=st.sampled_from([3, 4, 6]),
        **chosen,
    )


@given(forms(), styles())
def test_any_piece_in_any_style(survey_of: Callable[..., Survey], form: Form, style: SliceStyle) -> None:
    """Layers, heights, paths, clay and seams are those of the form, within two segments on rising walls."""
    try:
        sliced = slice_piece(form, style)
    except ConfigError:
        assume(False)
    unit = (
        Filament(unit="filament", diameter_mm=1.75)
        if style.e_unit == "filament"
        else CubicMillimetres(unit="mm3")
    )
    config = Config(clay=Clay(metering=unit, bead_width_mm=form.bead_width_mm))
    truth, layers = sliced.truth, survey_of(sliced.text, config=config).layers
    assert len(layers) == len(truth.first_line)
    assert layers["kind"].tolist() == truth.kind.tolist()
    turning = (truth.kind == 1) | np.append(truth.kind[1:] == 1, False)
    share = np.where(turning, 2 / form.segments, 1e-5)
    rise = 2 * form.layer_mm + 3 * form.wave_mm * form.wave_count
    np.testing.assert_allclose(layers["height_mm"], truth.height_mm, atol=float(share.max()) * rise + 1e-6)
    assert (np.abs(layers["path_mm"] - truth.path_mm) <= 2 * share * truth.path_mm + 1e-3).all()
    assert (np.abs(layers["laid_ml"] - truth.laid_ml) <= 2 * share * truth.laid_ml + 5e-3).all()


@pytest.mark.parametrize("lobes", range(3, 13))
@pytest.mark.parametrize("decimals", [2, 3])
def test_twisted_lobes_start_at_the_seam(survey_of: Callable[..., Survey], lobes: int, decimals: int) -> None:
    """On a twisted wall of 3 to 12 lobes each turn starts within two segments of the seam."""
    form = Form(
        height_mm=50,
        radius_mm=40,
        lobes=lobes,
        lobe_depth=0.15,
        twist_deg_per_mm=2,
        base_layers=1,
        segments=90,
    )
    style = SliceStyle(wall="rise", decimals=decimals)
    truth = slice_piece(form, style).truth
    config = Config(clay=Clay(metering=Filament(unit="filament", diameter_mm=1.75)))
    survey = survey_of(slice_piece(form, style).text, config=config)
    turning = truth.kind == 1
    assert np.abs(survey.layers["first_line"] - truth.seam_line)[turning].max() <= 2
    relative = survey_of(slice_piece(form, replace(style, relative_axes=True)).text, config=config)
    assert len(relative.layers) == len(survey.layers)


@pytest.mark.parametrize(
    ("degrees", "diagonals", "whole"), [(270, 1.792, False), (283, 1.844, False), (310, 1.958, True)]
)
def test_most_of_a_turn_is_no_turn(wall_of: WallOf, degrees: float, diagonals: float, whole: bool) -> None:
    """Rising arcs, each begun by a travel: odd but at the ends, unless they are as long as a closed line could be.

    An arc round 0 degrees that leaves less than half a turn open is as wide as 1 + cos(half its gap) radii and 2
    radii deep (exact geometry); a closed line has 2 diagonals of its box or more.
    """
    opening = math.radians(360 - degrees) / 2
    box = math.hypot(1 + math.cos(opening), 2)
    assert math.radians(degrees) / box == pytest.approx(diagonals, abs=0.001)
    angles = [opening + math.radians(degrees) * i / 60 for i in range(61)]
    wall = [
        (CENTRE + 40 * math.cos(a), CENTRE + 40 * math.sin(a), 2 + 2 * turn + i / 30, i > 0)
        for turn in range(6)
        for i, a in enumerate(angles)
    ]
    assert wall_of(wall).layers["odd"].tolist() == [False, *[not whole] * 4, False]
