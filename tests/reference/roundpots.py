"""A hypothesis strategy for round pots whose walls are laid in arcs: G2 or G3, rings or a helix."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from hypothesis import strategies as st

from tests.reference.pieces import BEAD_WIDTH_MM, STRAND_MM2, Piece
from tests.reference.spelling import Form, Spelling, write_file
from tests.reference.state import Dialect
from tests.reference.writer import ArcShape, Writer, write_arc

SWEEPS = {1: (360,), 2: (150, 210), 3: (100, 60, 200), 4: (90, 90, 90, 90), 6: (60,) * 6}
"""How a turn is cut into arcs, degrees."""


@dataclass(frozen=True)
class Manner:
    """How the program is written."""

    helix: bool
    relative: bool
    e_relative: bool
    inch: bool
    by_radius: bool
    omit: bool
    modal: bool
    clockwise: bool
    arcs: int


def _modes(writer: Writer, how: Spelling, *codes: str) -> None:
    for code in codes:
        writer.account_modes([code])
        writer.add_words([code], [], how)


def _begin(writer: Writer, how: Spelling, manner: Manner, radius_mm: int, height_mm: Decimal) -> None:
    """Modes, homing, and the way to the wall's first place."""
    _modes(writer, how, "G20" if manner.inch else "G21", "G90", "M82")
    writer.home("XYZ")
    writer.add_words(["G28"], [], how)
    writer.set_position("E", Decimal(0))
    writer.add_words(["G92"], [("E", Decimal(0))], how)
    writer.straight({"Z": Decimal(8)}, how, feed_mm_min=Decimal(900), rapid=True)
    _modes(writer, how, *["G91"] * manner.relative, "M83" if manner.e_relative else "M82")
    first = {"X": Decimal(140 + radius_mm), "Y": Decimal(140)}
    writer.straight(first, how, feed_mm_min=Decimal(3000), rapid=True)
    writer.straight({"Z": height_mm}, how, feed_mm_min=Decimal(900), rapid=True)


def _turn(writer: Writer, how: Spelling, manner: Manner, radius_mm: int, height_mm: Decimal, layer: int) -> None:
    """One turn of arcs; of a helix all but the first climb."""
    for sweep in SWEEPS[manner.arcs]:
        x, y = (float(writer.place(axis)) - 140.0 for axis in "XY")
        towards = math.degrees(math.atan2(-y, -x))
        rise = height_mm * sweep / 360 if manner.helix and layer else Decimal(0)
        path_mm = math.hypot(math.radians(sweep) * radius_mm, float(rise))
        shape = ArcShape(
            Decimal(radius_mm), round(towards), sweep, manner.clockwise,
            by_radius=manner.by_radius, rise_mm=rise, omit=manner.omit,
        )  # fmt: skip
        e_mm = Decimal(path_mm * BEAD_WIDTH_MM * float(height_mm) / STRAND_MM2)
        assert write_arc(writer, shape, how, e_mm=e_mm, feed_mm_min=Decimal(1500), modal=manner.modal)


@st.composite
def round_pots(draw: st.DrawFn, *, min_layers: int = 3, max_layers: int = 7) -> Piece:
    """A pot of rings, or a wall that climbs as a helix, laid in whole circles or parts of them."""
    dialect = Dialect(arc_tolerance_mm=0.02)
    writer, how = Writer(dialect), Spelling()
    kinds = {name: st.booleans() for name in Manner.__dataclass_fields__ if name != "arcs"}
    manner = draw(st.builds(Manner, arcs=st.sampled_from(sorted(SWEEPS)), **kinds))
    radius_mm, height_mm = draw(st.integers(15, 60)), Decimal(draw(st.integers(8, 30))) / 10
    layers = draw(st.integers(min_layers, max_layers))
    _begin(writer, how, manner, radius_mm, height_mm)
    lines = []
    for layer in range(layers):
        if layer and not manner.helix:
            writer.straight({"Z": height_mm * (layer + 1)}, how, rapid=True)
        lines.append(len(writer.lines))
        _turn(writer, how, manner, radius_mm, height_mm, layer)
    writer.straight({"Z": writer.place("Z") + 6}, how, feed_mm_min=Decimal(900), rapid=True)
    heights = [float(height_mm * (layer + (0 if manner.helix and layer else 1))) for layer in range(layers)]
    return Piece(
        program=write_file(writer.lines, Form(numbering=draw(st.sampled_from(["none", "checksum"])))),
        dialect=dialect,
        rise="continuous" if manner.helix else "flat",
        layer_heights_mm=tuple(heights),
        layer_e_mm=(),
        layer_path_mm=(),
        layer_lines=tuple(lines),
        prime_e_mm=0.0,
        net_e_mm=float(writer.register["E"]),
        relative=manner.relative,
        e_relative=manner.e_relative,
        inch=manner.inch,
    )
