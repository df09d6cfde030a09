"""Room beside the piece: where so many ml of clay can be laid as beads on the bed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

from pydantic import Field

from gpost.clay.bead import area_mm2
from gpost.config.settings import NotNegative, Positive, Settings
from gpost.errors import PlanError
from gpost.plan.intentions import Ground, LayClay, Pause, Stroke
from gpost.plan.plan import Plan
from gpost.spot import Spot

Side = Literal["front", "left", "right", "back"]
SIDES: tuple[Side, ...] = ("front", "left", "right", "back")
PARK_CLEAR_MM = 15.0
"""Beads keep this far from the park, where primed clay drops."""
MOST_STACKED = 5
"""More beads on one another are not advised: soft clay leans over (common practice, no source)."""
MOST_LINES = 500
"""More beads side by side are never needed; it bounds the time on a bed of any size."""
SHORTEST_WIDTHS = 3.0
"""A bead shorter than so many of its widths is no bead but a lump."""


class BeadSettings(Settings):
    """How clay is laid beside the piece; for any step that lays some."""

    bead_width_mm: Positive | None = Field(
        None, description="Width of a bead, mm; left out: 2.5 times the nozzle."
    )
    bead_height_mm: Positive | None = Field(
        None, description="Height of a bead, mm; left out: the nozzle's diameter."
    )
    z_mm: Positive | None = Field(
        None,
        description="Nozzle height while the lowest bead is laid, mm above machine zero; left out: that of "
        "the first layer, or the bead's own height if that is more.",
    )
    length_mm: Positive | None = Field(
        None, description="Longest bead, mm; left out: as long as the bed allows."
    )
    gap_mm: NotNegative = Field(10.0, description="Free room between the piece and the nearest bead, mm.")
    between_mm: NotNegative = Field(2.0, description="Free room between neighbouring beads, mm.")
    side: Literal["auto", "front", "left", "right", "back"] = Field(
        "auto", description="Side of the piece to lay on; front is towards low Y. auto: fewest beads."
    )
    stack: int = Field(1, ge=1, le=20, description="How many beads may lie on one another.")
    feed_mm_min: Positive | None = Field(
        None, description="Feed while laying, mm/min; left out: what `machine: prime_flow_ml_min` gives."
    )
    wipe_mm: NotNegative = Field(10.0, description="Length of the wiping move at the end, mm.")


class Box(NamedTuple):
    """A rectangle in a frame of two axes, mm."""

    a_min: float
    a_max: float
    b_min: float
    b_max: float

    def grown(self, by_mm: float) -> Box:
        """The box with so much more on every side."""
        return Box(self.a_min - by_mm, self.a_max + by_mm, self.b_min - by_mm, self.b_max + by_mm)

    def seen_from(self, side: Side) -> Box:
        """An x, y box as (along the side, away from the piece)."""
        along = (self.a_min, self.a_max) if side in ("front", "back") else (self.b_min, self.b_max)
        out = (self.b_min, self.b_max) if side in ("front", "back") else (self.a_min, self.a_max)
        return Box(*along, *(out if side in ("back", "right") else (-out[1], -out[0])))


class Line(NamedTuple):
    """Room for one bead: centre line `out_mm` away, its ends between low and high."""

    out_mm: float
    low_mm: float
    high_mm: float

    @property
    def length_mm(self) -> float:
        """How long the bead's centre line may be."""
        return self.high_mm - self.low_mm


class Bead(NamedTuple):
    """The bead to lay: its section, its height above zero, its volume."""

    width_mm: float
    height_mm: float
    z_mm: float

    @property
    def ml_per_mm(self) -> float:
        """Clay in a millimetre of bead, ml."""
        return float(area_mm2(self.width_mm, self.height_mm)) / 1000


def lay_beside(
    plan: Plan,
    settings: BeadSettings,
    clay_ml: float,
    spot: Spot,
    *,
    why: str,
    tall: bool,
    instead: str = "lay less",
) -> LayClay:
    """Beads that hold `clay_ml`, clear of the piece, of the park and of all that is laid already.

    `tall`: the piece stands already, so that the extruder's body needs its clearance beside it. Raises
    PlanError when there is no room; it says what would fit, and `instead` is its first advice.
    """
    bead = _bead(plan, settings)
    rooms = _rooms(plan, settings, bead, tall=tall)
    fits = _fits(rooms, settings.stack, bead, clay_ml)
    if not fits:
        advice = [instead, *_advice(plan, settings, bead, clay_ml, tall=tall)]
        raise PlanError(f"{_too_little(rooms, settings.stack, bead, clay_ml)}; {', '.join(advice)}")
    flow_ml_min = plan.config.machine.prime_flow_ml_min
    feed_mm_min = settings.feed_mm_min or flow_ml_min / bead.ml_per_mm
    return LayClay(spot, min(fits, key=len), feed_mm_min, settings.wipe_mm, why)


def _clear_mm(plan: Plan, settings: BeadSettings, *, tall: bool) -> float:
    """Free room between the piece and the nearest bead."""
    body_mm = plan.config.machine.body_clearance_mm
    return max(settings.gap_mm, body_mm) if tall or settings.stack > 1 else settings.gap_mm


def _rooms(plan: Plan, settings: BeadSettings, bead: Bead, *, tall: bool) -> dict[Side, list[Line]]:
    """Room for beads on each side that may be used."""
    sides = SIDES if settings.side == "auto" else (settings.side,)
    clear_mm = _clear_mm(plan, settings, tall=tall)
    return {side: list(_lines(plan, settings, bead, clear_mm, side)) for side in sides}


def _fits(rooms: dict[Side, list[Line]], stack: int, bead: Bead, clay_ml: float) -> list[tuple[Stroke, ...]]:
    """What holds the clay, on every side that can hold it."""
    found = (_strokes(lines, side, stack, bead, clay_ml) for side, lines in rooms.items())
    return [strokes for strokes in found if strokes]


def _bead(plan: Plan, settings: BeadSettings) -> Bead:
    nozzle_mm = plan.config.machine.nozzle_mm
    height_mm = settings.bead_height_mm or nozzle_mm
    width_mm = settings.bead_width_mm or max(2.5 * nozzle_mm, height_mm)
    if width_mm < height_mm:
        raise PlanError(
            f"a bead {width_mm:g} mm wide and {height_mm:g} mm high is higher than wide and would fall over; "
            f"make bead_width_mm at least bead_height_mm"
        )
    first_mm = float(plan.survey.layers["low_mm"][0])
    return Bead(width_mm, height_mm, settings.z_mm or max(first_mm, height_mm))


def piece_box(plan: Plan) -> Box:
    """The ground the piece covers, with half a wall bead around the nozzle's path, machine x and y, mm."""
    (x_min, x_max), (y_min, y_max), _ = plan.bounds_mm
    return Box(x_min, x_max, y_min, y_max).grown(half_wall_mm(plan))


def foot_middle(plan: Plan) -> tuple[float, float]:
    """The middle of what stands on the bed, the first layer, as printed: x and y, machine mm."""
    first, (by_x, by_y, _) = plan.survey.layers[0], plan.shift_mm
    x, y = ((float(first[f"{axis}_min_mm"]) + float(first[f"{axis}_max_mm"])) / 2 for axis in "xy")
    return x + by_x, y + by_y


def half_wall_mm(plan: Plan) -> float:
    """How far a wall reaches beside the nozzle's path, mm."""
    return plan.bead_width_mm / 2


def _taken(plan: Plan, settings: BeadSettings, bead: Bead) -> Iterator[Box]:
    """Where no bead may come: the park, and beads that lie there, each with its free room around it."""
    park = plan.config.machine.park
    yield Box(park.x_mm, park.x_mm, park.y_mm, park.y_mm).grown(PARK_CLEAR_MM)
    by_x, by_y, _ = plan.shift_mm
    for part in plan.survey.beside:
        (x_low, x_high), (y_low, y_high) = part.x_mm, part.y_mm
        own = Box(x_low + by_x, x_high + by_x, y_low + by_y, y_high + by_y)
        yield own.grown(half_wall_mm(plan) + settings.between_mm)
    for ground in plan.of(Ground):
        yield Box(*ground.x_mm, *ground.y_mm).grown(settings.between_mm)
    lays = plan.of(LayClay) + [pause.lay for pause in plan.of(Pause) if pause.lay is not None]
    for stroke in (stroke for lay in lays for stroke in lay.strokes):
        xs, ys = zip(*stroke.points_mm, strict=True)
        above = stroke.z_mm > bead.z_mm + stroke.height_mm / 2
        free_mm = plan.config.machine.body_clearance_mm if above else settings.between_mm
        yield Box(min(xs), max(xs), min(ys), max(ys)).grown(stroke.width_mm / 2 + free_mm)


def _lines(plan: Plan, settings: BeadSettings, bead: Bead, clear_mm: float, side: Side) -> Iterator[Line]:
    """Room for beads side by side, the nearest to the piece first."""
    bed, half_mm = plan.config.machine.bed, bead.width_mm / 2
    bed_box = Box(bed.x_min_mm, bed.x_max_mm, bed.y_min_mm, bed.y_max_mm).seen_from(side)
    piece = piece_box(plan).seen_from(side)
    taken = [box.seen_from(side) for box in _taken(plan, settings, bead)]
    middle_mm = (piece.a_min + piece.a_max) / 2
    out_mm = max(piece.b_max + clear_mm, bed_box.b_min) + half_mm
    for _ in range(MOST_LINES):
        if out_mm + half_mm > bed_box.b_max + 1e-9:
            return
        low_mm, high_mm = _free(bed_box, bed.round, taken, out_mm, half_mm)
        if settings.length_mm is not None and high_mm - low_mm > settings.length_mm:
            half_length_mm = settings.length_mm / 2
            centre_mm = min(max(middle_mm, low_mm + half_length_mm), high_mm - half_length_mm)
            low_mm, high_mm = centre_mm - half_length_mm, centre_mm + half_length_mm
        if high_mm - low_mm >= SHORTEST_WIDTHS * bead.width_mm:
            yield Line(out_mm, low_mm, high_mm)
        out_mm += bead.width_mm + settings.between_mm


def _free(bed: Box, is_round: bool, taken: list[Box], out_mm: float, half_mm: float) -> tuple[float, float]:
    """Longest free stretch for a bead's centre line that runs at `out_mm`; both ends equal if none."""
    low_mm, high_mm = _bed_span(bed, is_round, out_mm, half_mm)
    near = [box for box in taken if box.b_min < out_mm + half_mm and box.b_max > out_mm - half_mm]
    best = (low_mm, low_mm)
    for box in sorted(near, key=lambda box: box.a_min):
        end_mm = min(box.a_min - half_mm, high_mm)
        if end_mm - low_mm > best[1] - best[0]:
            best = (low_mm, end_mm)
        low_mm = max(low_mm, box.a_max + half_mm)
    return (low_mm, high_mm) if high_mm - low_mm > best[1] - best[0] else best


def _bed_span(bed: Box, is_round: bool, out_mm: float, half_mm: float) -> tuple[float, float]:
    """The centre line's ends such that all corners of the bead lie on the bed."""
    if not is_round:
        return bed.a_min + half_mm, bed.a_max - half_mm
    middle_a, middle_b = (bed.a_min + bed.a_max) / 2, (bed.b_min + bed.b_max) / 2
    reach = (abs(out_mm - middle_b) + half_mm) / ((bed.b_max - bed.b_min) / 2)
    half_chord_mm = (bed.a_max - bed.a_min) / 2 * math.sqrt(max(1 - reach**2, 0.0))
    return middle_a - half_chord_mm + half_mm, middle_a + half_chord_mm - half_mm


def _strokes(lines: list[Line], side: Side, stack: int, bead: Bead, clay_ml: float) -> tuple[Stroke, ...]:
    """As few lines and as few beads on one another as hold the clay, all filled alike; () if none do."""
    path_mm = clay_ml / bead.ml_per_mm
    used = _fewest(lines, path_mm)
    room_mm = sum(line.length_mm for line in used)
    levels = math.ceil(path_mm / room_mm - 1e-9) if room_mm else stack + 1
    if levels > stack:
        return ()
    filled = path_mm / (levels * room_mm)
    laid = [(level, line) for level in range(levels) for line in used]
    return tuple(
        _stroke(line, side, bead, level, filled, backwards=bool(number % 2))
        for number, (level, line) in enumerate(laid)
    )


def _fewest(lines: list[Line], path_mm: float) -> list[Line]:
    """As few of some lines as have room for a path, or all: the longest, and of equal ones the nearest.

    What lies nearest may be short, where a slab leaves little room beside it; a bead there would be a stub.
    """
    order = sorted(range(len(lines)), key=lambda place: (-round(lines[place].length_mm), place))
    count, room_mm = 0, 0.0
    while count < len(order) and room_mm < path_mm:
        room_mm += lines[order[count]].length_mm
        count += 1
    return [lines[place] for place in sorted(order[:count])]


def _stroke(line: Line, side: Side, bead: Bead, level: int, filled: float, *, backwards: bool) -> Stroke:
    """One bead over the filled share of its line, in machine coordinates."""
    middle_mm, half_mm = (line.low_mm + line.high_mm) / 2, line.length_mm * filled / 2
    out_mm = line.out_mm if side in ("back", "right") else -line.out_mm
    ends = [middle_mm - half_mm, middle_mm + half_mm]
    if backwards:
        ends.reverse()
    points = tuple((end, out_mm) if side in ("front", "back") else (out_mm, end) for end in ends)
    clay_ml = line.length_mm * filled * bead.ml_per_mm
    return Stroke(points, bead.width_mm, bead.height_mm, bead.z_mm + level * bead.height_mm, clay_ml)


def _too_little(rooms: dict[Side, list[Line]], stack: int, bead: Bead, clay_ml: float) -> str:
    """Words for clay that doesn't fit, and what does."""
    room_ml = {
        side: sum(line.length_mm for line in lines) * stack * bead.ml_per_mm for side, lines in rooms.items()
    }
    best = max(room_ml, key=lambda side: room_ml[side])
    where = {"front": "in front of", "left": "left of", "right": "right of", "back": "behind"}[best]
    if not room_ml[best]:
        side = "beside" if len(rooms) > 1 else where
        return (
            f"{clay_ml:.1f} ml don't fit on the bed: there is no room {side} the piece for a bead "
            f"{bead.width_mm:g} mm wide and {SHORTEST_WIDTHS * bead.width_mm:g} mm long"
        )
    return (
        f"{clay_ml:.1f} ml don't fit on the bed {where} the piece, where beads {bead.width_mm:g} mm "
        f"wide and {bead.height_mm:g} mm high hold {room_ml[best]:.1f} ml"
        + ("" if len(rooms) == 1 else " (more than on any other side)")
    )


def _advice(plan: Plan, settings: BeadSettings, bead: Bead, clay_ml: float, *, tall: bool) -> Iterator[str]:
    """What else helps where there is no room."""
    for stack in range(settings.stack + 1, MOST_STACKED + 1):
        higher = settings.model_copy(update={"stack": stack})
        if _fits(_rooms(plan, higher, bead, tall=tall), stack, bead, clay_ml):
            yield f"set stack to {stack}"
            break
    if any(_rooms(plan, settings, bead, tall=tall).values()):
        yield "make the beads wider or higher"
    else:
        yield "make the beads narrower"
    if 0 < settings.gap_mm >= _clear_mm(plan, settings, tall=tall):
        yield "lower gap_mm"
    yield "or move the piece aside in the slicer"
