"""The form of a demo piece: its outline at every height and the turns of its wall, as points."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.errors import ConfigError

Floats: TypeAlias = NDArray[np.float64]
Profile: TypeAlias = Callable[[Floats], Floats]
"""Share of the height (0 to 1) -> radius, as a factor of `radius_mm`."""

WAVE_GROWTH = 0.25
"""Millimetres of wave gained per mm of height above the flat base, so that no turn cuts the one below."""


def _through(*knots: tuple[float, float]) -> Profile:
    """A smooth curve through (share of height, factor), level at each of them."""
    shares, factors = np.array(knots).T

    def profile(share: Floats) -> Floats:
        piece = np.clip(np.searchsorted(shares, share, side="right") - 1, 0, len(shares) - 2)
        t = np.clip((share - shares[piece]) / (shares[piece + 1] - shares[piece]), 0, 1)
        rise = factors[piece + 1] - factors[piece]
        return np.asarray(factors[piece] + rise * t * t * (3 - 2 * t))

    return profile


PROFILES: Mapping[str, Profile] = MappingProxyType(
    {
        "cylinder": lambda share: np.ones_like(share),
        "cone": lambda share: 0.8 + 0.4 * share,
        "wave": lambda share: 1 + 0.375 * np.sin(np.pi * share),
        "bowl": lambda share: 0.5 + 0.5 * np.sin(np.pi / 2 * share),
        "bottle": _through((0.0, 0.82), (0.32, 1.0), (0.82, 0.54), (1.0, 0.62)),
    }
)
"""The named profiles."""


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A piece as it is printed, wet, from the bed upwards. Machine coordinates are in mm.

    Raises ConfigError when it can't be laid with its own bead.
    """

    name: str = "piece"
    height_mm: float = 100.0
    radius_mm: float = 50.0
    profile: str | Profile = "cylinder"
    """One of PROFILES, or a function of the same kind."""
    lobes: int = 0
    """0, or 3 to 12."""
    lobe_depth: float = 0.1
    """How far a lobe stands out and a hollow goes in, as a share of the radius."""
    twist_deg_per_mm: float = 0.0
    foot_mm: float = 0.0
    """Height over which the lobes grow out of a round foot; 0: they are there from the bed on."""
    centre_x_mm: float = 150.0
    centre_y_mm: float = 150.0
    lean_mm: float = 0.0
    """How far the axis has moved along X at the full height."""
    layer_mm: float = 2.0
    bead_width_mm: float = 6.0
    base_layers: int = 2
    wave_mm: float = 0.0
    """Amplitude of the wall's waving in Z along a turn; it grows from nothing above the base."""
    wave_count: int = 0
    segments: int = 120
    """Straight moves in one turn of the wall."""

    def __post_init__(self) -> None:
        if not self.name.isprintable():
            raise ConfigError("the piece's name is one line of printable characters; write a plain name.")
        if isinstance(self.profile, str) and self.profile not in PROFILES:
            raise ConfigError(f"there is no profile {self.profile!r}; choose one of {', '.join(PROFILES)}.")
        if self.lobes and not 3 <= self.lobes <= 12:
            raise ConfigError(f"a piece has 0 or 3 to 12 lobes, not {self.lobes}.")
        if not 0 < self.layer_mm <= self.bead_width_mm:
            raise ConfigError("a bead is at least as wide as it is high; widen it, or lower the layer.")
        if self.segments < 3 or self.layers < 1 or not 0 <= self.base_layers <= self.layers:
            raise ConfigError("a piece needs 3 segments a turn, one layer, and no more base than layers.")
        heights = (np.arange(self.layers, dtype=np.float64) + 0.5) * self.layer_mm
        if not np.all(hollow_radius(self, heights) > self.bead_width_mm / 2):
            raise ConfigError("the piece is narrower than its own bead; widen it, or take a narrower bead.")

    @property
    def layers(self) -> int:
        """Number of layers from the bed to the top."""
        return round(self.height_mm / self.layer_mm)

    @property
    def section_mm2(self) -> float:
        """Section of the bead: a stadium (w - h) h + pi h^2 / 4."""
        w, h = self.bead_width_mm, self.layer_mm
        return (w - h) * h + math.pi * h * h / 4


def radius(piece: Piece, height_mm: Floats) -> Floats:
    """Radius in mm of the wall's centre line at each height (n,), lobes left out."""
    profile = PROFILES[piece.profile] if isinstance(piece.profile, str) else piece.profile
    return piece.radius_mm * profile(height_mm / piece.height_mm)


def hollow_radius(piece: Piece, height_mm: Floats) -> Floats:
    """Radius in mm of the largest circle inside the wall's centre line at each height (n,)."""
    return radius(piece, height_mm) * (1 - _lobe_depth(piece, height_mm))


def axis(piece: Piece, height_mm: Floats) -> Floats:
    """The axis' place x, y in mm at each height, shape (n, 2)."""
    x = piece.centre_x_mm + piece.lean_mm * height_mm / piece.height_mm
    return np.column_stack([x, np.full_like(x, piece.centre_y_mm)])


def outline(piece: Piece, height_mm: Floats, angle_rad: Floats) -> Floats:
    """Points x, y in mm of the wall's centre line at heights and angles (n,), shape (n, 2)."""
    twisted = angle_rad - np.radians(piece.twist_deg_per_mm) * height_mm
    lobe = 1 + _lobe_depth(piece, height_mm) * np.cos(piece.lobes * twisted)
    reach = radius(piece, height_mm) * lobe
    around = np.column_stack([np.cos(angle_rad), np.sin(angle_rad)])
    return np.asarray(axis(piece, height_mm) + reach[:, None] * around)


def turn(piece: Piece, start_mm: float, end_mm: float) -> Floats:
    """One turn of the wall from the nozzle height start_mm to end_mm, shape (segments + 1, 3), mm.

    The form is taken at the middle of the bead, half a layer below the nozzle.
    """
    share = np.arange(piece.segments + 1) / piece.segments
    nozzle = start_mm + (end_mm - start_mm) * share
    angle = 2 * np.pi * share
    z = nozzle + wave_at(piece, nozzle) * np.sin(piece.wave_count * angle)
    return np.column_stack([outline(piece, nozzle - piece.layer_mm / 2, angle), z])


def wave_at(piece: Piece, nozzle_mm: Floats) -> Floats:
    """Amplitude in mm of the wall's waving in Z at each nozzle height (n,)."""
    flat = max(piece.base_layers, 1) * piece.layer_mm
    most = piece.wave_mm if piece.wave_count else 0.0
    return np.asarray(np.clip(WAVE_GROWTH * (nozzle_mm - flat), 0, most))


def inner_radius(piece: Piece, level: int) -> float:
    """Radius in mm of the disc that the base fills inside the wall on a level counted from 0."""
    height = np.array([(level + 0.5) * piece.layer_mm])
    return float(hollow_radius(piece, height)[0]) - piece.bead_width_mm / 2


def ring_radii(piece: Piece, level: int) -> Floats:
    """Radii in mm of the base's rings, innermost first: evenly spaced, near one bead width apart.

    Their lengths times their spacing are the disc's area; none if the disc is narrower than a bead.
    """
    reach = inner_radius(piece, level)
    count = round(reach / piece.bead_width_mm)
    return (np.arange(count) + 0.5) * reach / max(count, 1)


def circle(centre_mm: Floats, radius_mm: float, z_mm: float, segments: int) -> Floats:
    """A level circle from angle 0 round to itself, shape (segments + 1, 3), mm."""
    return _polar(centre_mm, np.full(segments + 1, radius_mm), np.arange(segments + 1) / segments, z_mm)


def spiral(centre_mm: Floats, reach_mm: float, turns: int, z_mm: float, segments: int) -> Floats:
    """A level Archimedean spiral from the centre out to reach_mm, shape (turns * segments + 1, 3), mm."""
    around = np.arange(turns * segments + 1) / segments
    return _polar(centre_mm, reach_mm * around / turns, around, z_mm)


def _polar(centre_mm: Floats, reach_mm: Floats, turns: Floats, z_mm: float) -> Floats:
    angle = 2 * np.pi * turns
    x, y = centre_mm[0] + reach_mm * np.cos(angle), centre_mm[1] + reach_mm * np.sin(angle)
    return np.column_stack([x, y, np.full_like(x, z_mm)])


def _lobe_depth(piece: Piece, height_mm: Floats) -> Floats:
    """Lobe depth at each height (n,), as a share of the radius."""
    if not piece.lobes:
        return np.zeros_like(height_mm)
    grown = np.clip(height_mm / piece.foot_mm, 0, 1) if piece.foot_mm else np.ones_like(height_mm)
    return piece.lobe_depth * grown * grown * (3 - 2 * grown)
