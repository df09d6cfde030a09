"""Writes moves and settings as lines of a program, keeping its own account of where they lead."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from tests.reference.spelling import Spelling, WordPair, Written, write_words
from tests.reference.state import Dialect

ROOM_MM = {"X": 280, "Y": 280, "Z": 250}
"""Positions stay within 0 and this."""
MARGIN_MM = Decimal("0.05")
PLANE_AXES = {17: ("X", "Y", "Z"), 18: ("Z", "X", "Y"), 19: ("Y", "Z", "X")}
CENTRE_WORD = {"X": "I", "Y": "J", "Z": "K"}


@dataclass(frozen=True)
class Mark:
    """Where the writer believes the machine is after a line, in mm."""

    position_mm: tuple[Decimal, Decimal, Decimal]
    e_mm: Decimal


class Writer:
    """A program in the making. Registers are exact: what a rounded word says, not what was wanted."""

    def __init__(self, dialect: Dialect, *, numbered: bool = False) -> None:
        self.dialect = dialect
        self.numbered = numbered
        self.register = {axis: Decimal(0) for axis in "XYZE"}
        self.offset = {axis: Decimal(0) for axis in "XYZE"}
        self.scale = Decimal(1)
        self.relative = False
        self.e_relative = False
        self.motion = 1
        self.plane = 17
        self.lines: list[Written] = []
        self.marks: list[Mark] = []

    def place(self, axis: str) -> Decimal:
        """Machine position of an axis."""
        return self.register[axis] + self.offset[axis]

    def add(self, line: Written) -> None:
        """Put a line at the end."""
        self.lines.append(line)
        self.marks.append(Mark((self.place("X"), self.place("Y"), self.place("Z")), self.register["E"]))

    def add_words(self, codes: Sequence[str], words: Sequence[WordPair], how: Spelling) -> None:
        """Put a line of words at the end; the codes must have been accounted for."""
        self.add(write_words(codes, words, how))

    def account_modes(self, codes: Sequence[str]) -> None:
        """What mode codes change."""
        for code in codes:
            if code in ("G20", "G21"):
                self.scale = Decimal("25.4") if code == "G20" else Decimal(1)
            if code in ("G17", "G18", "G19"):
                self.plane = int(code[1:])
            if code in ("G90", "G91"):
                self.relative = code == "G91"
                if self.dialect.axis_mode_sets_e:
                    self.e_relative = self.relative
        for code in codes:  # these override, wherever they stand
            if code in ("M82", "M83"):
                self.e_relative = code == "M83"

    def in_units(self, value_mm: Decimal, decimals: int) -> Decimal:
        """A length as it is said, rounded."""
        return round(value_mm / self.scale, decimals)

    def axis_word(self, axis: str, target_mm: Decimal, decimals: int) -> WordPair:
        """The word that takes an axis to a machine position; accounts for the move."""
        register = target_mm - self.offset[axis]
        if self.e_relative if axis == "E" else self.relative:
            value = self.in_units(register - self.register[axis], decimals)
            self.register[axis] += value * self.scale
        else:
            value = self.in_units(register, decimals)
            self.register[axis] = value * self.scale
        return (axis, value)

    def feed_word(self, feed_mm_min: Decimal | None) -> list[WordPair]:
        """The F word, in the units in force."""
        return [] if feed_mm_min is None else [("F", self.in_units(feed_mm_min, 3))]

    def motion_codes(self, motion: int, *, modal: bool) -> list[str]:
        """The motion code, left out where it is in force and that is asked for; accounts for it."""
        said = not modal or self.motion != motion
        self.motion = motion
        return [f"G{motion}"] if said else []

    def straight(
        self,
        targets_mm: dict[str, Decimal],
        how: Spelling,
        *,
        e_mm: Decimal | None = None,
        feed_mm_min: Decimal | None = None,
        rapid: bool = False,
        modal: bool = False,
        decimals: int = 5,
        modes: Sequence[str] = (),
        clears: bool = False,
        machine: Sequence[str] = (),
        machine_words: Sequence[WordPair] = (),
    ) -> None:
        """A straight move to machine positions, pushing e_mm of E. F is in the units before `modes`.

        `clears`: G92.1 stands on the line and takes the offsets off first.
        """
        feed = self.feed_word(feed_mm_min)
        self.account_modes(modes)
        if clears:
            self.clear_offsets()
        moves = bool(targets_mm) or e_mm is not None
        # an M code or G92.1 on the line claims the axis words, unless a motion code does
        claimed = bool(machine) or clears or any(code.startswith("M") for code in modes)
        motion = self.motion_codes(0 if rapid else 1, modal=modal and moves and not claimed)
        codes = [*modes, *(["G92.1"] if clears else []), *motion, *machine]
        words = [self.axis_word(axis, target, decimals) for axis, target in targets_mm.items()]
        if e_mm is not None:
            words.append(self.axis_word("E", self.register["E"] + e_mm, decimals))
        self.add_words(codes, [*words, *feed, *machine_words], how)

    def in_room(self, axis: str, value_mm: Decimal) -> bool:
        """Whether a machine position is within the room, with a little margin."""
        return MARGIN_MM <= value_mm <= ROOM_MM[axis] - MARGIN_MM

    def home(self, axes: str) -> None:
        """What homing does to the account."""
        for axis in axes:
            self.register[axis] = Decimal(str(self.dialect.home_mm["XYZ".index(axis)]))
            self.offset[axis] = Decimal(0)

    def set_position(self, axis: str, register_mm: Decimal) -> None:
        """What G92 does to the account; E has no offset that counts."""
        if axis != "E":
            self.offset[axis] = self.place(axis) - register_mm
        self.register[axis] = register_mm

    def clear_offsets(self) -> None:
        """What G92.1 does to the account."""
        for axis in "XYZ":
            self.set_position(axis, self.place(axis))


@dataclass(frozen=True)
class ArcShape:
    """An arc before it has a place."""

    radius_mm: Decimal
    towards_deg: int
    """Direction from the start to the centre."""
    sweep_deg: int
    """5 to 360; 360 is a full circle."""
    clockwise: bool
    by_radius: bool = False
    rise_mm: Decimal = Decimal(0)
    """Along the axis normal to the plane: a helix."""
    omit: bool = False
    """Leave out what may be left out: a zero centre word, the end of a full circle."""


def write_arc(
    writer: Writer,
    shape: ArcShape,
    how: Spelling,
    *,
    e_mm: Decimal | None = None,
    feed_mm_min: Decimal | None = None,
    modal: bool = False,
) -> bool:
    """Write the arc from where the machine is. False, and nothing written, if there is no room for it."""
    decimals = 5 if writer.scale == 1 else 6
    first, second, normal = PLANE_AXES[writer.plane]
    angle = math.radians(shape.towards_deg)
    centre_words = {
        first: writer.in_units(shape.radius_mm * Decimal(math.cos(angle)), decimals),
        second: writer.in_units(shape.radius_mm * Decimal(math.sin(angle)), decimals),
    }
    to_centre = {axis: value * writer.scale for axis, value in centre_words.items()}
    if not arc_fits(writer, to_centre, normal, shape.rise_mm):
        return False
    full = shape.sweep_deg == 360
    words = [] if full else end_words(writer, shape, to_centre, decimals)
    if full and not shape.omit and writer.relative:
        words = [(first, Decimal(0)), (second, Decimal(0))]
    if shape.rise_mm:
        words.append(writer.axis_word(normal, writer.place(normal) + shape.rise_mm, decimals))
    if shape.by_radius and (20 <= shape.sweep_deg <= 165 or 195 <= shape.sweep_deg <= 340):
        radius_mm = (to_centre[first] ** 2 + to_centre[second] ** 2).sqrt()
        sign = 1 if shape.sweep_deg < 180 else -1
        words.append(("R", sign * writer.in_units(radius_mm, decimals)))
    else:
        words += [(CENTRE_WORD[a], v) for a, v in centre_words.items() if v or not shape.omit]
    if e_mm is not None:
        words.append(writer.axis_word("E", writer.register["E"] + e_mm, decimals))
    has_axis = any(letter in "XYZE" for letter, _ in words)
    codes = writer.motion_codes(2 if shape.clockwise else 3, modal=modal and has_axis)
    writer.add_words(codes, [*words, *writer.feed_word(feed_mm_min)], how)
    return True


def arc_fits(writer: Writer, to_centre: dict[str, Decimal], normal: str, rise_mm: Decimal) -> bool:
    """Whether the whole circle, and the helix's end, lie in the room."""
    radius_mm = sum((value**2 for value in to_centre.values()), Decimal(0)).sqrt()
    for axis, value in to_centre.items():
        centre = writer.place(axis) + value
        if not (writer.in_room(axis, centre - radius_mm) and writer.in_room(axis, centre + radius_mm)):
            return False
    return rise_mm == 0 or writer.in_room(normal, writer.place(normal) + rise_mm)


def end_words(
    writer: Writer, shape: ArcShape, to_centre: dict[str, Decimal], decimals: int
) -> list[WordPair]:
    """The words of the end point: the way back from the centre, turned by the sweep."""
    (first, u), (second, v) = to_centre.items()
    sweep = math.radians(-shape.sweep_deg if shape.clockwise else shape.sweep_deg)
    cosine, sine = Decimal(math.cos(sweep)), Decimal(math.sin(sweep))
    end_first = writer.place(first) + u - (u * cosine - v * sine)
    end_second = writer.place(second) + v - (u * sine + v * cosine)
    return [writer.axis_word(first, end_first, decimals), writer.axis_word(second, end_second, decimals)]
