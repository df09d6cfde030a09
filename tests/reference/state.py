"""What the reference interpreter is told (Dialect), what it knows (State) and what it reports (Event)."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from decimal import Decimal
from typing import Literal, TypeAlias

Point: TypeAlias = tuple[float, float, float]
Kind: TypeAlias = Literal["move", "dwell", "state", "text", "other", "empty"]


@dataclass(frozen=True)
class Dialect:
    """Where machines differ."""

    dwell_p: Literal["milliseconds", "seconds"] = "milliseconds"
    """What the P of G4 counts; S is always seconds."""
    axis_mode_sets_e: bool = True
    """G90 and G91 also switch E; M82 and M83 override it afterwards."""
    home_mm: Point = (0.0, 0.0, 0.0)
    arc_tolerance_mm: float = 0.02
    """How far the two radii of an arc may differ."""
    block_delete: bool = False
    """The switch that makes the machine skip lines that begin with `/`."""
    line_number_digits: int | None = None
    """Most digits a line number may have; None: any."""


NIST = Dialect(dwell_p="seconds", arc_tolerance_mm=0.002, line_number_digits=5)
"""The report's own rules (NISTIR 6556 sections 3.3.1, 3.5.3.2 in mm, 3.5.4)."""


def zeros(axes: str) -> dict[str, Decimal]:
    """Every axis at zero."""
    return {axis: Decimal(0) for axis in axes}


@dataclass
class State:
    """The state of the machine between two lines. Lengths are mm, exact; E is mm of the E axis."""

    register: dict[str, Decimal] = field(default_factory=lambda: zeros("XYZE"))
    """What a program in absolute mode says to stay where it is."""
    offset: dict[str, Decimal] = field(default_factory=lambda: zeros("XYZ"))
    """What G92 has added: machine position = register + offset."""
    saved_offset: dict[str, Decimal] = field(default_factory=lambda: zeros("XYZ"))
    """The offset that G92.3 brings back."""
    known: dict[str, bool] = field(default_factory=lambda: {"X": False, "Y": False, "Z": False})
    """Whether an axis has been homed or moved to an absolute position."""
    scale: Decimal = Decimal(1)
    """mm in one length unit."""
    relative: bool = False
    e_relative: bool = False
    motion: int = 1
    """0 to 3; 80 after G80."""
    plane: int = 17
    feed_mm_min: Decimal | None = None
    feed_factor: Decimal = Decimal(1)
    flow_factor: Decimal = Decimal(1)
    fan: Decimal = Decimal(0)
    """The S of M106 as it stands there; 0 after M107."""
    motors_on: bool = True
    hold_for_ever: bool = False
    """After M84 S0: the motors are never released for idleness."""
    tool: int = 0
    laying: bool = False
    """Between M101 and M103."""
    spindle_on: bool = False
    """Between M3 or M4 and M5 (3.6.2)."""
    speed: Decimal | None = None
    """The S of the spindle, which holds while it stands too (3.7.2); None if none has been said."""
    relief: int = 0
    """G10 not yet undone by G11."""
    ended: bool = False
    """After M2: no further line is executed (3.6.1)."""
    paused: int = 0
    """How often M0 or M1 has made the machine wait."""
    messages: tuple[str, ...] = ()
    """Texts shown by M117, in order."""

    @property
    def position_mm(self) -> Point:
        """Machine position X, Y, Z."""
        x, y, z = (float(self.register[axis] + self.offset[axis]) for axis in "XYZ")
        return (x, y, z)

    def copy(self) -> State:
        """A state that can be changed without changing this one."""
        return replace(
            self,
            register=dict(self.register),
            offset=dict(self.offset),
            saved_offset=dict(self.saved_offset),
            known=dict(self.known),
        )

    def differences(
        self, other: State, *, tolerance_mm: float = 0.0, ignore: frozenset[str] = frozenset()
    ) -> list[str]:
        """What differs, as `name: this / other`. Pauses and messages never count: they are history."""
        found = []
        for name in (f.name for f in fields(self)):
            if name in ignore or name in ("paused", "messages"):
                continue
            mine, theirs = getattr(self, name), getattr(other, name)
            if name in ("register", "offset", "saved_offset"):
                same = all(abs(mine[axis] - theirs[axis]) <= Decimal(tolerance_mm) for axis in mine)
            else:
                same = mine == theirs
            if not same:
                found.append(f"{name}: {mine} / {theirs}")
        return found


@dataclass(frozen=True, slots=True)
class Arc:
    """The circle a G2 or G3 follows."""

    centre_mm: Point
    """Machine X, Y, Z; along the axis normal to the plane it is the start's."""
    radius_mm: float
    """At the start."""
    sweep_rad: float
    """Counter-clockwise positive, seen from the positive end of the axis normal to the plane."""
    plane: int


@dataclass(frozen=True, slots=True)
class Event:
    """What one line did. A line in error does nothing: `error` says why, and the state is as before."""

    line: int
    """Counted from 0."""
    kind: Kind
    start_mm: Point
    end_mm: Point
    state: State
    """The state after the line; not to be changed."""
    motion: int | None = None
    """0 to 3 for a move."""
    path_mm: float = 0.0
    """Length of the nozzle's path; of the arc or helix, with the radius at the start."""
    e_delta_mm: float = 0.0
    """What the program says."""
    e_metered_mm: float = 0.0
    """What the machine does: e_delta_mm times the flow factor."""
    feed_mm_min: float | None = None
    """Of a move: F times the feed factor; None if no F has been said."""
    arc: Arc | None = None
    dwell_s: float = 0.0
    error: str | None = None

    @property
    def time_s(self) -> float:
        """Time at an even feed, without speeding up and slowing down; an E-only move takes E / feed."""
        if self.kind != "move" or self.feed_mm_min is None:
            return self.dwell_s
        way_mm = self.path_mm if self.path_mm > 0 else abs(self.e_delta_mm)
        return self.dwell_s + way_mm / self.feed_mm_min * 60

    @property
    def lays_clay(self) -> bool:
        """Clay comes out along a path: E goes forward while X, Y or Z move."""
        return self.kind == "move" and self.path_mm > 0 and self.e_delta_mm > 0
