"""The way of the nozzle: its layers, and its clay against closed forms of the solids it makes.

Pappus' second theorem (the volume of a solid of revolution is its section times the way of the
section's centroid) and frusta are textbook mathematics; the numbers were computed from the formulas.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gpost.demo.gcode import SliceStyle
from gpost.demo.shape import Piece
from gpost.errors import ConfigError
from tests.sliced import slice_piece


def test_layers_of_a_flat_wall_are_level() -> None:
    """A flat wall has one level a layer, each a layer's height above the last."""
    truth = slice_piece(Piece(height_mm=16)).truth
    np.testing.assert_allclose(truth.height_mm, 2.0 * np.arange(1, 9), atol=1e-12)
    np.testing.assert_allclose(truth.low_mm, truth.height_mm, atol=1e-12)
    assert truth.kind.tolist() == [0] * 8


@pytest.mark.parametrize(("level_first", "kinds"), [(True, [0, 1, 1, 1]), (False, [1, 1, 1])])
def test_a_rising_wall_needs_no_base(level_first: bool, kinds: list[int]) -> None:
    """Without a base the wall begins one layer above the bed, on a level ring or at once."""
    piece = Piece(height_mm=8, base_layers=0)
    truth = slice_piece(piece, SliceStyle(wall="rise", level_first=level_first)).truth
    assert truth.kind.tolist() == kinds
    assert truth.bounds_mm[2] == (2.0, 8.0)
    assert truth.first_line.tolist() == truth.seam_line.tolist()


def test_a_waved_wall_grows_its_wave() -> None:
    """Waved rings are told from level ones, and their clay lies below as well as above their level."""
    piece = Piece(height_mm=16, wave_mm=1.0, wave_count=4, segments=48)
    truth = slice_piece(piece).truth
    assert truth.kind.tolist() == [0, 0, 1, 1, 1, 1, 1, 1]
    np.testing.assert_allclose((truth.height_mm + truth.low_mm) / 2, 2.0 * np.arange(1, 9), atol=1e-9)
    np.testing.assert_allclose(truth.height_mm[-1] - truth.low_mm[-1], 2.0, atol=1e-9)


def test_comments_are_there_only_when_wanted() -> None:
    """Every layer is announced in plain words if comments are wanted; otherwise there is none."""
    talking = slice_piece(Piece(height_mm=16), SliceStyle(comments=True)).text
    assert talking.count(b"; next ring\n") == 8
    assert talking.startswith(b"; piece, 8 layers of 2 mm\n")
    assert b";" not in slice_piece(Piece(height_mm=16)).text


def test_decimals_that_lose_a_layer_are_refused() -> None:
    """A piece so small that its moves round to nothing is refused rather than written empty."""
    tiny = Piece(height_mm=0.2, layer_mm=0.1, bead_width_mm=0.1, radius_mm=0.1, base_layers=0)
    with pytest.raises(ConfigError, match="decimals are too few"):
        slice_piece(tiny, SliceStyle(decimals=0))


EXACT = SliceStyle(decimals=8)


def laid_mm3(piece: Piece) -> float:
    """Clay of a piece without base, written with enough decimals and segments to hold closed forms."""
    return float(slice_piece(replace(piece, base_layers=0, segments=1500), EXACT).truth.laid_mm3.sum())


def test_a_cylinder_of_beads_follows_pappus() -> None:
    """75 bead rings of 3500.2345629808 mm^3 (6 x 2 at radius 50) are the stadium's share of the wall.

    The full wall is pi (53^2 - 47^2) 150 = 282743.3388230814 mm^3 (Pappus' second theorem); a stadium
    fills 92.8466 % of its rectangle.
    """
    volume = laid_mm3(Piece(height_mm=150, radius_mm=50))
    assert volume == pytest.approx(75 * 3500.2345629808, rel=2e-6)
    assert volume == pytest.approx(0.9284660544667983 * 282743.3388230814, rel=2e-6)


def test_a_cone_of_beads_is_the_stadiums_share_of_two_frusta() -> None:
    """A wall 5 thick from radius 40 to 60 over 200 mm is 314159.2653589794 mm^3; beads fill their share."""
    piece = Piece(height_mm=200, radius_mm=50, profile="cone", bead_width_mm=5)
    share = piece.section_mm2 / (5 * 2)
    assert laid_mm3(piece) == pytest.approx(share * 314159.2653589794, rel=2e-6)


def test_a_sloping_wall_is_thinner_across_itself() -> None:
    """Laid 5 thick across its slope (slant 200.9975124224), the same cone is 315726.1542080455 mm^3."""
    slant = 200.9975124224 / 200
    piece = Piece(height_mm=200, radius_mm=50, profile="cone", bead_width_mm=5 * slant)
    share = piece.section_mm2 / (piece.bead_width_mm * 2)
    assert laid_mm3(piece) == pytest.approx(share * 315726.1542080455, rel=2e-6)


def test_a_round_bead_is_a_torus() -> None:
    """One ring of a bead as high as it is wide, 6 mm, at radius 30 is a torus of 5329.5863765883 mm^3."""
    piece = Piece(height_mm=6, radius_mm=30, layer_mm=6, bead_width_mm=6, base_layers=0)
    assert laid_mm3(piece) == pytest.approx(5329.5863765883, rel=4e-6)


def test_a_spiral_base_ends_in_a_circle() -> None:
    """A spiral to radius 50 with pitch 5 (1572.9185151198 mm) and a circle there fill the wall at 55."""
    piece = Piece(height_mm=4, radius_mm=55, bead_width_mm=5, base_layers=1, segments=1500)
    truth = slice_piece(piece, replace(EXACT, base="spiral")).truth
    expected = 1572.9185151198 + 2 * np.pi * 50 + 2 * np.pi * 55
    assert truth.path_mm[0] == pytest.approx(expected, rel=2e-6)


def test_a_bellied_vase_has_the_clay_of_its_rings() -> None:
    """r = 40 + 15 sin(pi z/160) in 80 rings of a bead 6 x 2: 24906.5014219853 mm, 277498.0932698 mm^3."""
    piece = Piece(height_mm=160, radius_mm=40, profile="wave", base_layers=0, segments=1500)
    truth = slice_piece(piece, EXACT).truth
    assert truth.path_mm.sum() == pytest.approx(24906.5014219853, rel=2e-6)
    assert truth.laid_mm3.sum() == pytest.approx(277498.0932698, rel=2e-6)
