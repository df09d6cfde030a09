"""The class's pieces: they fit the bed, and come out of the cartridges they are meant for."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.demo.gcode import class_pieces
from gpost.demo.shape import outline
from tests.sliced import Truth, slice_piece

BED_MM = 280.0
SMALL_CARTRIDGE_ML = 500.0
CARTRIDGE_ML = 1000.0
NAMES = sorted(class_pieces())


@pytest.fixture(scope="module")
def truths() -> dict[str, Truth]:
    """The truth about every piece of the class."""
    return {name: slice_piece(*sliced).truth for name, sliced in class_pieces().items()}


@pytest.mark.parametrize("name", NAMES)
def test_pieces_fit_the_bed(name: str, truths: dict[str, Truth]) -> None:
    """Every bead lies on a bed of 280 x 280 mm with room for a line beside it, under 300 mm."""
    (x_low, x_high), (y_low, y_high), (z_low, z_high) = truths[name].bounds_mm
    half = class_pieces()[name][0].bead_width_mm / 2
    assert min(x_low, y_low) - half > 15
    assert max(x_high, y_high) + half < BED_MM
    assert 0 < z_low < z_high < 300


@pytest.mark.parametrize("name", NAMES)
def test_walls_stand(name: str) -> None:
    """No wall is laid with more than half a bead over the turn below."""
    piece, style = class_pieces()[name]
    truth = slice_piece(piece, style).truth
    assert len(truth.first_line) >= piece.layers
    heights = np.arange(0.5, piece.layers) * piece.layer_mm
    angle = np.zeros(piece.layers)
    for degrees in range(0, 360, 5):
        reach = np.hypot(*(outline(piece, heights, angle + np.radians(degrees)) - 150).T)
        assert np.abs(np.diff(reach)).max() < piece.bead_width_mm / 2


def test_one_cartridge_does_a_bottle_and_two_bowls(truths: dict[str, Truth]) -> None:
    """The twisted bottle with two small bowls fits a cartridge; two bottles don't (studio practice)."""
    bottle = truths["twisted-bottle"].total_ml
    bowls = sorted(truths[name].total_ml for name in NAMES if name.startswith("small-bowl"))
    assert 250 < bottle < 320
    assert bottle + sum(bowls[-2:]) <= SMALL_CARTRIDGE_ML < 2 * bottle


def test_the_tall_bottle_takes_a_refill(truths: dict[str, Truth]) -> None:
    """The tall bottle alone needs more than one cartridge and less than two."""
    assert CARTRIDGE_ML < truths["tall-bottle"].total_ml < 2 * CARTRIDGE_ML


def test_each_piece_is_known_by_its_name() -> None:
    """Pieces stand under their own names, so that files can be called after them."""
    assert all(name == piece.name for name, (piece, _) in class_pieces().items())
    assert len(NAMES) == 7
