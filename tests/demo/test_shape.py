"""The form of a demo piece, against closed forms of plane and solid geometry.

Lengths of helices, spirals and polygons, the stadium and Pappus' second theorem are textbook
mathematics; the numbers were computed from the formulas.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from gpost.demo.shape import (
    PROFILES,
    Floats,
    Piece,
    axis,
    circle,
    hollow_radius,
    inner_radius,
    outline,
    radius,
    ring_radii,
    spiral,
    turn,
    wave_at,
)
from gpost.errors import ConfigError


def length(points: Floats) -> float:
    """Length of a polyline, shape (n, 3)."""
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def rising(piece: Piece, start_mm: float, turns: int) -> Floats:
    """A wall that rises by one layer each turn, shape (n, 3)."""
    heights = start_mm + piece.layer_mm * np.arange(turns + 1)
    parts = [turn(piece, a, b)[1:] for a, b in pairwise(heights)]
    return np.concatenate([turn(piece, heights[0], heights[1])[:1], *parts])


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "area_mm2"),
    [(6, 2, 11.1415926536), (4, 1.5, 5.5171458676), (3, 3, 7.0685834706), (2.4, 1.2, 2.5709733553)],
)
def test_the_bead_is_a_stadium(width_mm: float, height_mm: float, area_mm2: float) -> None:
    """The bead's section is a rectangle with two half circles at its sides."""
    piece = Piece(bead_width_mm=width_mm, layer_mm=height_mm, height_mm=height_mm, base_layers=0)
    assert piece.section_mm2 == pytest.approx(area_mm2, rel=1e-9)


@pytest.mark.parametrize(
    ("radius_mm", "pitch_mm", "turns", "expected_mm"),
    [(50, 2, 1, 314.1656314922), (50, 2, 50, 15708.2815746101), (30, 1.5, 100, 18850.1527431269)],
)
def test_a_rising_wall_is_a_helix(radius_mm: float, pitch_mm: float, turns: int, expected_mm: float) -> None:
    """A rising wall of even radius has the length of a helix, sqrt((2 pi r)^2 + pitch^2) a turn."""
    piece = Piece(height_mm=200, radius_mm=radius_mm, layer_mm=pitch_mm, segments=2000)
    assert length(rising(piece, pitch_mm, turns)) == pytest.approx(expected_mm, rel=1e-6)


def test_a_rising_turn_of_few_segments_has_exactly_their_chords() -> None:
    """n segments of a helix are n straight lines over the chord 2 r sin(pi/n) that rise by pitch/n."""
    piece = Piece(radius_mm=50, layer_mm=2, segments=12)
    expected = 12 * math.hypot(2 * 50 * math.sin(math.pi / 12), 2 / 12)
    assert length(turn(piece, 4, 6)) == pytest.approx(expected, rel=1e-12)


def test_a_rising_wall_may_widen() -> None:
    """A conical helix from radius 40 to 60 over 100 turns of 2 mm is 31416.5782996981 mm long."""
    piece = Piece(height_mm=202, radius_mm=1, profile=lambda u: 40 + (u * 202 - 1) / 10, segments=2000)
    wall = rising(piece, 2, 100)
    assert wall[[0, -1], 2].tolist() == pytest.approx([2, 202])
    assert length(wall) == pytest.approx(31416.5782996981, rel=1e-6)


@pytest.mark.parametrize(("segments", "expected_mm"), [(360, 314.1552779415), (72, 314.0595890304)])
def test_a_ring_is_a_regular_polygon(segments: int, expected_mm: float) -> None:
    """A round ring of n segments is a regular n-gon, and ends where it began."""
    ring = circle(np.array([150.0, 150.0]), 50, 2, segments)
    assert length(ring) == pytest.approx(expected_mm, rel=1e-11)
    np.testing.assert_allclose(ring[0], ring[-1], atol=1e-12)
    np.testing.assert_allclose(length(turn(Piece(segments=segments), 2, 2)), expected_mm, rtol=1e-11)


def test_a_spiral_is_archimedean() -> None:
    """A spiral from the centre to radius 50 with pitch 5 is 1572.9185151198 mm long."""
    points = spiral(np.array([0.0, 0.0]), 50, 10, 2, 3600)
    assert length(points) == pytest.approx(1572.9185151198, rel=1e-6)
    assert np.hypot(*points[3600, :2]) == pytest.approx(5)


def test_base_rings_cover_the_disc_inside_the_wall() -> None:
    """Ring lengths times ring spacing are the area of the disc that ends where the wall's bead begins."""
    piece = Piece(radius_mm=50, bead_width_mm=6)
    radii = ring_radii(piece, 0)
    spacing = np.diff(radii)[0]
    assert inner_radius(piece, 0) == pytest.approx(47)
    assert radii[0] == pytest.approx(spacing / 2)
    assert np.sum(2 * np.pi * radii) * spacing == pytest.approx(np.pi * 47**2, rel=1e-12)


def test_base_rings_lie_near_one_bead_apart() -> None:
    """The rings' spacing differs from the bead's width by less than half a bead over all of them."""
    for radius_mm in np.linspace(10, 90, 33):
        piece = Piece(radius_mm=float(radius_mm))
        reach = inner_radius(piece, 0)
        assert abs(len(ring_radii(piece, 0)) * piece.bead_width_mm - reach) <= piece.bead_width_mm / 2 + 1e-9


def test_a_disc_narrower_than_half_a_bead_has_no_rings() -> None:
    """Where the wall leaves no room inside, the base has no rings."""
    assert len(ring_radii(Piece(radius_mm=5, bead_width_mm=6), 0)) == 0


def test_a_solid_ball_follows_pappus() -> None:
    """Rings and walls that fill a ball's slices make its volume: a half disc turned about its side.

    Half disc of R 50, centroid 4R/(3 pi): 523598.7755982989 mm^3 (Pappus' second theorem). Slices of
    height h taken at their middle give pi 2R h^2 / 12 more.
    """
    h, ball_mm = 0.5, 50.0

    def wall(share: Floats) -> Floats:
        return np.sqrt(ball_mm**2 - (share * 100 - ball_mm) ** 2) - h / 2

    piece = Piece(height_mm=100, radius_mm=1, profile=wall, layer_mm=h, bead_width_mm=h, base_layers=200)
    volume = 0.0
    for level in range(piece.layers):
        radii, middle = ring_radii(piece, level), np.array([(level + 0.5) * h])
        volume += 2 * np.pi * float(radii.sum()) * 2 * float(radii[0]) * h
        volume += 2 * np.pi * float(radius(piece, middle)[0]) * h * h
    assert volume == pytest.approx(523598.7755982989 + np.pi * 100 * h * h / 12, rel=1e-9)


@pytest.mark.parametrize("lobes", [3, 5, 12])
def test_a_lobed_ring_has_the_length_of_its_curve(lobes: int) -> None:
    """A turn with lobes is as long as the curve r(1 + d cos(n a)), integrated by scipy."""
    piece = Piece(radius_mm=50, lobes=lobes, lobe_depth=0.15, segments=7200)

    def speed(angle: float) -> float:
        reach = 50 * (1 + 0.15 * math.cos(lobes * angle))
        return math.hypot(reach, 50 * 0.15 * lobes * math.sin(lobes * angle))

    expected = lobes * quad(speed, 0, 2 * math.pi / lobes)[0]
    assert length(turn(piece, 20, 20)) == pytest.approx(expected, rel=1e-5)


def test_a_twist_turns_the_outline_about_the_axis() -> None:
    """With a twist of 2 degrees a mm the outline 10 mm higher is the same, turned by 20 degrees."""
    piece = Piece(lobes=3, twist_deg_per_mm=2)
    angle = np.linspace(0, 2 * np.pi, 50)
    low = outline(piece, np.full(50, 10.0), angle) - 150
    high = outline(piece, np.full(50, 20.0), angle + np.radians(20)) - 150
    c, s = np.cos(np.radians(20)), np.sin(np.radians(20))
    np.testing.assert_allclose(high, low @ np.array([[c, s], [-s, c]]), atol=1e-10)


def test_lobes_grow_out_of_the_foot() -> None:
    """The outline is round on the bed, and has its full lobes at the top of the foot and above."""
    piece = Piece(lobes=4, lobe_depth=0.2, foot_mm=30)
    hollow = hollow_radius(piece, np.array([0.0, 15.0, 30.0, 90.0]))
    np.testing.assert_allclose(hollow, [50, 45, 40, 40])
    reach = np.hypot(*(outline(piece, np.full(360, 60.0), np.radians(np.arange(360.0))) - 150).T)
    assert (reach.min(), reach.max()) == pytest.approx((40, 60))


def test_the_axis_leans_evenly() -> None:
    """The axis has moved along X by half of the lean at half the height, and never along Y."""
    piece = Piece(height_mm=100, lean_mm=12, centre_x_mm=140, centre_y_mm=130)
    np.testing.assert_allclose(
        axis(piece, np.array([0.0, 50.0, 100.0])), [[140, 130], [146, 130], [152, 130]]
    )


def test_a_waved_turn_waves_about_its_level() -> None:
    """A turn well above the base swings wave_count times by wave_mm, and starts at its own level."""
    piece = Piece(wave_mm=3, wave_count=5, segments=401)
    z = turn(piece, 60, 60)[:, 2]
    assert (z.min(), z.max(), z[0]) == pytest.approx((57, 63, 60), abs=1e-3)
    assert np.count_nonzero(np.diff(np.sign(z[1:-1] - 60))) == 2 * 5 - 1


def test_no_waved_turn_cuts_the_one_below() -> None:
    """Wherever it waves, every turn lies at least half a layer above the turn below."""
    piece = Piece(wave_mm=6, wave_count=4)
    levels = piece.layer_mm * np.arange(2.0, piece.layers)
    heights = np.array([turn(piece, z, z)[:, 2] for z in levels])
    assert np.diff(heights, axis=0).min() > piece.layer_mm / 2
    assert wave_at(piece, levels[:1]).item() == 0
    assert wave_at(piece, levels[-1:]).item() == 6


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_profiles_are_smooth_enough_to_stand(name: str) -> None:
    """No named profile steps in or out by more than half a bead from one layer to the next."""
    piece = Piece(profile=name)
    step = np.diff(radius(piece, np.arange(0, 101, 2.0)))
    assert np.abs(step).max() < piece.bead_width_mm / 2


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": "two\nlines"}, "one line"),
        ({"profile": "teapot"}, "no profile 'teapot'"),
        ({"lobes": 2}, "3 to 12 lobes"),
        ({"lobes": 13}, "3 to 12 lobes"),
        ({"layer_mm": 7.0}, "as wide as it is high"),
        ({"segments": 2}, "3 segments"),
        ({"height_mm": 0.5}, "one layer"),
        ({"base_layers": 51}, "no more base"),
        ({"radius_mm": 3.0}, "narrower than its own bead"),
    ],
)
def test_a_piece_that_cannot_be_laid_is_refused(changes: dict[str, object], words: str) -> None:
    """A form that its bead can't lay is refused, with the reason."""
    with pytest.raises(ConfigError, match=words):
        Piece(**changes)  # type: ignore[arg-type]
