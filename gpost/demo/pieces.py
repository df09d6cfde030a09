"""The pieces of a pottery class, each with the style in which it is sliced."""

from __future__ import annotations

from gpost.demo.shape import Piece
from gpost.demo.style import SliceStyle


def class_pieces() -> dict[str, tuple[Piece, SliceStyle]]:
    """The class's pieces by name: two bottles, four small bowls and a vase with a waved wall.

    The twisted bottle and two small bowls come out of one cartridge of 1000 ml; two such bottles don't,
    and the tall bottle alone takes more than one.
    """
    plastic = SliceStyle(heaters=True, comments=True, slow_first_factor=0.6)
    rising = SliceStyle(wall="rise", heaters=True, comments=True, slow_first_factor=0.6, level_last=True)
    pieces = [(_twisted_bottle(), rising), (_tall_bottle(), plastic), (_waved_vase(), plastic)]
    pieces += [(bowl, plastic) for bowl in _small_bowls()]
    return {piece.name: (piece, style) for piece, style in pieces}


def _twisted_bottle() -> Piece:
    return Piece(
        name="twisted-bottle",
        profile="bottle",
        height_mm=165.6,
        radius_mm=62,
        layer_mm=1.8,
        bead_width_mm=5,
        lobes=3,
        lobe_depth=0.1,
        twist_deg_per_mm=0.6,
        foot_mm=25,
        base_layers=3,
        segments=240,
    )


def _tall_bottle() -> Piece:
    return Piece(
        name="tall-bottle",
        profile="bottle",
        height_mm=270,
        radius_mm=110,
        layer_mm=2,
        bead_width_mm=7,
        lobes=5,
        lobe_depth=0.06,
        twist_deg_per_mm=0.25,
        foot_mm=40,
        segments=240,
    )


def _waved_vase() -> Piece:
    return Piece(
        name="waved-vase",
        profile="wave",
        height_mm=140,
        radius_mm=55,
        layer_mm=2,
        bead_width_mm=6,
        wave_mm=3,
        wave_count=6,
        segments=240,
    )


def _small_bowls() -> list[Piece]:
    return [
        Piece(name="small-bowl-1", profile="bowl", height_mm=50, radius_mm=55),
        Piece(name="small-bowl-2", profile="bowl", height_mm=60, radius_mm=50, lobes=6, foot_mm=20),
        Piece(name="small-bowl-3", profile="cone", height_mm=44, radius_mm=52),
        Piece(
            name="small-bowl-4",
            profile="bowl",
            height_mm=56,
            radius_mm=52,
            lobes=4,
            twist_deg_per_mm=0.8,
            foot_mm=20,
        ),
    ]
