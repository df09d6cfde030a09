"""A hypothesis strategy for programs that print a plausible pot, together with what is in them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal, TypeAlias

from hypothesis import strategies as st

from tests.reference.spelling import Form, Spelling, Written, write_file
from tests.reference.state import Dialect
from tests.reference.writer import Writer

Rise: TypeAlias = Literal["flat", "continuous"]
BEAD_WIDTH_MM = 5.0
STRAND_MM2 = math.pi / 4 * 1.75**2
"""Section of the virtual strand that E is measured on: 1.75 mm round."""
LIFT_MM = Decimal(6)


@dataclass(frozen=True)
class Piece:
    """The program of a pot, and what is in it. Layers are in printing order; heights are machine Z."""

    program: bytes
    dialect: Dialect
    rise: Rise
    layer_heights_mm: tuple[float, ...]
    """Highest point of each layer's laying moves; on a continuous rise one turn is one layer."""
    layer_e_mm: tuple[float, ...]
    """E pushed by the layer's laying moves; what is drawn back and given again is not in it."""
    layer_path_mm: tuple[float, ...]
    """Path of the layer's laying moves."""
    layer_lines: tuple[int, ...]
    """Line (counted from 0) of each layer's first laying move."""
    prime_e_mm: float
    """E pushed in place before the first layer."""
    net_e_mm: float
    """All E of the program, forth less back."""
    relative: bool
    e_relative: bool
    inch: bool


@dataclass(frozen=True)
class Shape:
    """A pot with a polygon for a cross-section, leaning in or out, maybe twisted (flat layers only)."""

    x_mm: float
    y_mm: float
    radius_mm: float
    sides: int
    layers: int
    layer_height_mm: float
    flare_mm: float
    """Radius gained a layer."""
    twist_deg: float
    """Turned a layer."""

    def corner(self, turns: float, layer: int, height_mm: float) -> dict[str, Decimal]:
        """The point after so many turns on a layer (counted from 0), at a height."""
        radius = self.radius_mm + self.flare_mm * height_mm / self.layer_height_mm
        angle = math.radians(360 * turns + self.twist_deg * layer)
        point = (self.x_mm + radius * math.cos(angle), self.y_mm + radius * math.sin(angle), height_mm)
        return {axis: Decimal(value) for axis, value in zip("XYZ", point, strict=True)}


@dataclass(frozen=True)
class Manner:
    """How the program is written."""

    rise: Rise
    relative: bool
    e_relative: bool
    inch: bool
    hop: bool
    """Between flat layers: draw back, lift, travel, come down, give again."""
    relief_codes: bool
    """G10 and G11 for that, instead of E."""
    modal: bool
    """Axis words without G1."""
    reset_e: bool
    """G92 E0 at each layer."""
    feed: Literal["once", "layer", "line"]
    prime_mm: int
    decimals: int
    comments: bool


@dataclass
class Making:
    """A pot being written."""

    writer: Writer
    shape: Shape
    manner: Manner
    how: Spelling
    heights: list[Decimal] = field(default_factory=list)
    e_mm: list[Decimal] = field(default_factory=list)
    path_mm: list[float] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    net_e_mm: Decimal = Decimal(0)

    def say(self, text: str) -> None:
        """A comment line, if there are to be any."""
        if self.manner.comments:
            self.writer.add(Written(f"; {text}".encode(), numbered=False))

    def set_modes(self, *codes: str) -> None:
        """Mode codes, one a line."""
        for code in codes:
            self.writer.account_modes([code])
            self.writer.add_words([code], [], self.how)

    def send(self, code: str, **words: int) -> None:
        """A command that changes neither place nor mode."""
        self.writer.add_words([code], [(letter, Decimal(n)) for letter, n in words.items()], self.how)

    def reset_e(self) -> None:
        """E counts from zero again."""
        self.writer.set_position("E", Decimal(0))
        self.send("G92", E=0)

    def go(
        self, targets: dict[str, Decimal], *, e_mm: float | None = None, feed: int | None = None
    ) -> Decimal:
        """A straight move; without E it is travel. Gives the E it pushes, as rounded."""
        before = self.writer.register["E"]
        self.writer.straight(
            targets,
            self.how,
            e_mm=None if e_mm is None else Decimal(e_mm),
            feed_mm_min=None if feed is None else Decimal(feed),
            rapid=e_mm is None,
            modal=self.manner.modal,
            decimals=self.manner.decimals + (1 if self.manner.inch else 0),
        )
        pushed = self.writer.register["E"] - before
        self.net_e_mm += pushed
        return pushed

    def here(self) -> tuple[float, ...]:
        """Machine position."""
        return tuple(float(self.writer.place(axis)) for axis in "XYZ")

    def begin_layer(self) -> None:
        """From here on, what is laid belongs to the next layer."""
        self.heights.append(Decimal(0))
        self.e_mm.append(Decimal(0))
        self.path_mm.append(0.0)
        self.lines.append(len(self.writer.lines))

    def lay(self, target: dict[str, Decimal], *, layer_height_mm: float, feed: int | None) -> None:
        """A laying move of the layer begun last: a bead of even width."""
        start = self.here()
        self.heights[-1] = max(self.heights[-1], self.writer.place("Z"))
        path = math.dist(start, [float(target.get(a, self.writer.place(a))) for a in "XYZ"])
        section_mm2 = BEAD_WIDTH_MM * layer_height_mm
        self.e_mm[-1] += self.go(target, e_mm=path * section_mm2 / STRAND_MM2, feed=feed)
        self.path_mm[-1] += math.dist(start, self.here())
        self.heights[-1] = max(self.heights[-1], self.writer.place("Z"))

    def feed_for(self, layer: int, corner: int) -> int | None:
        """The feed to be said on this move."""
        manner = self.manner
        first = corner == 1 and (layer == 0 or manner.feed == "layer" or manner.hop)
        return 1500 + 10 * layer if first or manner.feed == "line" else None

    def start(self) -> None:
        """Modes, homing, a prime in place, and the way to the first corner."""
        self.say("a bowl of the pottery class")
        self.set_modes("G20" if self.manner.inch else "G21", "G90", "M82")
        self.writer.home("XYZ")
        self.send("G28")
        self.reset_e()
        self.go({"Z": Decimal(8)}, feed=900)
        if self.manner.prime_mm:
            self.go({"X": Decimal(10), "Y": Decimal(10)}, feed=3000)
            self.go({}, e_mm=self.manner.prime_mm, feed=200)
            self.reset_e()
        if self.manner.relative:
            self.set_modes("G91")
        self.set_modes("M83" if self.manner.e_relative else "M82")
        first = self.shape.corner(0, 0, self.shape.layer_height_mm)
        self.go({"X": first["X"], "Y": first["Y"]}, feed=3000)
        self.go({"Z": first["Z"]}, feed=900)

    def flat_layer(self, layer: int) -> None:
        """One closed polygon."""
        height = self.shape.layer_height_mm
        self.begin_layer()
        for corner in range(1, self.shape.sides + 1):
            turns = corner % self.shape.sides / self.shape.sides  # back to the first corner: it closes
            target = self.shape.corner(turns, layer, height * (layer + 1))
            flat = {"X": target["X"], "Y": target["Y"]}
            self.lay(flat, layer_height_mm=height, feed=self.feed_for(layer, corner))

    def rising_turn(self, layer: int) -> None:
        """One turn that climbs by one layer height; the first one stays flat."""
        height = self.shape.layer_height_mm
        self.begin_layer()
        for corner in range(1, self.shape.sides + 1):
            turns = corner / self.shape.sides
            target = self.shape.corner(turns, layer, height * (layer + turns))
            self.lay(target, layer_height_mm=height, feed=self.feed_for(layer, corner))

    def next_layer(self, layer: int) -> None:
        """From the end of a flat layer to the start of this one."""
        target = self.shape.corner(0, layer, self.shape.layer_height_mm * (layer + 1))
        if not self.manner.hop:
            self.go(target, feed=None if self.manner.feed == "once" else 3000)
            return
        self.relieve(-2)
        self.go({"Z": target["Z"] + LIFT_MM}, feed=900)
        self.go({"X": target["X"], "Y": target["Y"]}, feed=3000)
        self.go({"Z": target["Z"]}, feed=900)
        self.relieve(2)

    def relieve(self, amount_mm: int) -> None:
        """Draw clay back (below zero) or give it again."""
        if self.manner.relief_codes:
            self.send("G10" if amount_mm < 0 else "G11")
        else:
            self.go({}, e_mm=amount_mm, feed=1200)

    def finish(self) -> None:
        """Draw back, lift, fan and motors off."""
        self.say("done")
        self.relieve(-2)
        self.go({"Z": self.writer.place("Z") + LIFT_MM}, feed=900)
        self.send("M107")
        self.send("M84")

    def whole(self) -> None:
        """The pot from start to end."""
        self.start()
        for layer in range(self.shape.layers):
            if layer > 0 and self.manner.rise == "flat":
                self.next_layer(layer)
            if layer > 0 and self.manner.reset_e and not self.manner.e_relative:
                self.reset_e()
            if layer == 2:
                self.send("M106", S=90)
            self.say(f"ring {layer + 1}")
            if self.manner.rise == "flat" or layer == 0:
                self.flat_layer(layer)
            else:
                self.rising_turn(layer)
        self.finish()


@st.composite
def piece_programs(
    draw: st.DrawFn,
    *,
    dialect: Dialect | None = None,
    rise: Rise | None = None,
    min_layers: int = 2,
    max_layers: int = 12,
) -> Piece:
    """A pot in a random dialect; given `dialect` or `rise`, only such."""
    spoken = dialect if dialect is not None else draw(_dialects())
    manner = draw(_manners(rise))
    shape = draw(_shapes(min_layers, max_layers, twisted=manner.rise == "flat"))
    form = draw(_forms())
    how = draw(_spellings())
    making = Making(Writer(spoken), shape, manner, how)
    making.whole()
    return _piece(making, form, spoken)


def _piece(making: Making, form: Form, dialect: Dialect) -> Piece:
    manner = making.manner
    return Piece(
        program=write_file(making.writer.lines, form),
        dialect=dialect,
        rise=manner.rise,
        layer_heights_mm=_floats(making.heights),
        layer_e_mm=_floats(making.e_mm),
        layer_path_mm=tuple(making.path_mm),
        layer_lines=tuple(making.lines),
        prime_e_mm=float(manner.prime_mm),
        net_e_mm=float(making.net_e_mm),
        relative=manner.relative,
        e_relative=manner.e_relative,
        inch=manner.inch,
    )


def _floats(values: Sequence[Decimal]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _dialects() -> st.SearchStrategy[Dialect]:
    homes = st.sampled_from([(0.0, 0.0, 0.0), (140.0, 280.0, 0.0), (5.0, 5.5, 200.0)])
    return st.builds(Dialect, axis_mode_sets_e=st.booleans(), home_mm=homes)


def _manners(rise: Rise | None) -> st.SearchStrategy[Manner]:
    return st.builds(
        Manner,
        rise=st.just(rise) if rise is not None else st.sampled_from(["flat", "continuous"]),
        relative=st.booleans(),
        e_relative=st.booleans(),
        inch=st.booleans(),
        hop=st.booleans(),
        relief_codes=st.booleans(),
        modal=st.booleans(),
        reset_e=st.booleans(),
        feed=st.sampled_from(["once", "layer", "line"]),
        prime_mm=st.sampled_from([0, 0, 30, 3000]),
        decimals=st.sampled_from([3, 4, 5]),
        comments=st.booleans(),
    )


def _shapes(min_layers: int, max_layers: int, *, twisted: bool) -> st.SearchStrategy[Shape]:
    return st.builds(
        Shape,
        x_mm=st.integers(110, 170).map(float),
        y_mm=st.integers(110, 170).map(float),
        radius_mm=st.integers(20, 60).map(float),
        sides=st.integers(3, 24),
        layers=st.integers(min_layers, max_layers),
        layer_height_mm=st.integers(8, 30).map(lambda n: n / 10),
        flare_mm=st.sampled_from([0.0, 0.0, 0.3, -0.4]),
        twist_deg=st.sampled_from([0.0, 0.0, 2.0, -3.0]) if twisted else st.just(0.0),
    )


def _forms() -> st.SearchStrategy[Form]:
    return st.builds(
        Form,
        newline=st.sampled_from([b"\n", b"\r\n"]),
        last_newline=st.booleans(),
        numbering=st.sampled_from(["none", "none", "number", "checksum"]),
    )


def _spellings() -> st.SearchStrategy[Spelling]:
    return st.builds(
        Spelling,
        lower=st.sampled_from([False, False, True]),
        gap=st.sampled_from([" ", " ", ""]),
        code=st.sampled_from(["short", "two digits", "point"]),
        number=st.sampled_from(["plain", "plain", "zeros", "no zero", "exponent"]),
    )
