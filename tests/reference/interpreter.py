"""The reference interpreter: executes a program line by line, by the rules of NIST RS274/NGC.

Written from the NIST RS274/NGC report (NISTIR 6556; sections are cited) and from common printing
usage where the two differ; it shares no code with what it is used to check. It is meant to be read
beside the rules: it is exact (decimal), slow, and does one thing after the other.

What printing usage changes (common practice, no source): the E axis, M82/M83, `G92 E0` and a bare G92,
G10/G11 as pressure relief, G28 with flags, P of G4 in milliseconds, full circles without X and Y,
`G1 F1500` without axis words, T that acts at once, M30 as a file command.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal, localcontext

from tests.reference.arcs import OFFSETS, PLANES, Pair, centre_from_offsets, centre_from_radius, sweep_rad
from tests.reference.arcs import length as length_of
from tests.reference.codes import MOTION, STATE_CODES, Command, read_command
from tests.reference.state import NIST, Arc, Dialect, Event, Kind, Point, State
from tests.reference.words import Line, LineError, read_line

__all__ = ["NIST", "Arc", "Dialect", "Event", "LineError", "Machine", "State", "run"]

INCH_MM = Decimal("25.4")
DIGITS_KEPT = 60
SPINDLE = ("M3", "M4", "M5")
USES_S = ("M106", "M220", "M221", "M18", "M84")


def run(program: bytes, dialect: Dialect | None = None) -> list[Event]:
    """Execute a whole program on a fresh machine."""
    return Machine(dialect).run(program)


class Machine:
    """A machine that executes one line after the other; `state` is what it knows in between."""

    def __init__(self, dialect: Dialect | None = None) -> None:
        self.dialect = dialect if dialect is not None else Dialect()
        self.state = State()
        self.line = 0
        """Index of the next line."""

    def run(self, program: bytes) -> list[Event]:
        """Execute a program; one event a line."""
        return list(self.events(program))

    def events(self, program: bytes) -> Iterator[Event]:
        """The same, one by one. Lines end at LF; nothing after the last LF is no line."""
        lines = program.split(b"\n")
        if lines[-1] == b"":
            lines.pop()
        for line in lines:
            yield self.execute(line)

    def execute(self, raw: bytes | str) -> Event:
        """Execute one line. A line in error does nothing, and its event says what is wrong."""
        data = raw.encode() if isinstance(raw, str) else raw
        index = self.line
        self.line += 1
        before = self.state
        with localcontext(prec=DIGITS_KEPT):
            try:
                line = read_line(data, first=index == 0, number_digits=self.dialect.line_number_digits)
                skipped = line.block_delete and self.dialect.block_delete
                if before.ended or skipped or not (line.words or line.named):
                    return Event(index, "empty", before.position_mm, before.position_mm, before)
                if line.named:
                    return Event(index, "other", before.position_mm, before.position_mm, before)
                execution = Execution(self.dialect, before.copy(), read_command(line), line)
                event = execution.perform(index)
            except LineError as error:
                place = before.position_mm
                return Event(index, "other", place, place, before, error=str(error))
        self.state = execution.state
        return event


class Execution:
    """One line being executed: its command, and the state that it changes step by step."""

    def __init__(self, dialect: Dialect, state: State, command: Command, line: Line) -> None:
        self.dialect = dialect
        self.state = state
        self.command = command
        self.codes = command.codes
        self.words = command.words
        self.text = line.text
        self.dwell_s = 0.0
        self.e_delta = Decimal(0)
        self.path_mm = 0.0
        self.arc: Arc | None = None

    def perform(self, index: int) -> Event:
        """Do everything on the line in the order of section 3.8; what has no number is printing usage."""
        start = self.state.position_mm
        self.show_message()  # 1 comment
        self.set_feed()  # 3 F, before the units change
        self.select_tool()  # 5 T
        self.switch_machine()  # 7, 8, 9 spindle, coolant, overrides: here fan, clay, factors, motors
        self.dwell()  # 10 G4
        self.set_plane()  # 11 G17 to G19
        self.set_units()  # 12 G20, G21
        self.set_distance_modes()  # 17 G90, G91
        self.relieve_pressure()
        self.go_home()  # 19 G28
        self.set_offsets()  # 19 G92
        self.set_motion_mode()  # 20 G0 to G3
        moves = self.is_move()
        if moves:
            self.move()
        self.stop()  # 21 M0, M1, M2
        return Event(
            line=index,
            kind=self.kind(moves),
            start_mm=start,
            end_mm=self.state.position_mm,
            state=self.state,
            motion=self.state.motion if moves else None,
            path_mm=self.path_mm,
            e_delta_mm=float(self.e_delta),
            e_metered_mm=float(self.e_delta * self.state.flow_factor),
            feed_mm_min=self.effective_feed() if moves else None,
            arc=self.arc,
            dwell_s=self.dwell_s,
        )

    def kind(self, moves: bool) -> Kind:
        """The most telling thing that the line did."""
        if moves:
            return "move"
        if "G4" in self.codes:
            return "dwell"
        if self.text is not None:
            return "text"
        knows_code = any(code in STATE_CODES for code in self.codes)
        only_feed = "F" in self.words and self.codes == ()
        if knows_code or only_feed or self.changes_tool():
            return "state"
        return "other"

    # --- settings, in the order of section 3.8 ---

    def show_message(self) -> None:
        """M117 shows the rest of its line (printing usage)."""
        if "M117" in self.codes and self.text is not None:
            self.state.messages += (self.text,)

    def set_feed(self) -> None:
        """F is length units per minute (3.5.19). It counts unless a code claims the line's words."""
        if "F" in self.words and (self.command.leaves_words or self.explicit_motion() is not None):
            feed = self.command.number("F")
            if feed is None or feed <= 0:
                raise LineError("F must be above zero")
            self.state.feed_mm_min = feed * self.state.scale

    def changes_tool(self) -> bool:
        """T selects a tool, unless it is an argument of another M code."""
        return "T" in self.words and all(not c.startswith("M") or c == "M6" for c in self.codes)

    def select_tool(self) -> None:
        """T acts at once (printing usage; 3.7.3 waits for M6). Negative numbers are errors (3.7.3)."""
        if self.changes_tool():
            tool = self.command.number("T")
            if tool is None or tool < 0 or tool != int(tool):
                raise LineError("T needs a whole number, 0 or more")
            self.state.tool = int(tool)

    def switch_machine(self) -> None:
        """Spindle (3.6.2, 3.7.2); fan, clay switch, feed and flow factors, motors (printing usage)."""
        self.turn_spindle()
        s = self.command.number("S") if any(code in USES_S for code in self.codes) else None
        for code in self.codes:
            if code == "M106":
                self.state.fan = Decimal(255) if s is None else s
            elif code == "M107":
                self.state.fan = Decimal(0)
            elif code == "M101":
                self.state.laying = True
            elif code == "M103":
                self.state.laying = False
            elif code == "M220" and s is not None:
                self.state.feed_factor = s / 100
            elif code == "M221" and s is not None:
                self.state.flow_factor = s / 100
            elif code == "M17":
                self.state.motors_on = True
            elif code in ("M18", "M84") and s is None:
                self.state.motors_on = False
            elif code in ("M18", "M84"):
                self.state.hold_for_ever = s == 0

    def turn_spindle(self) -> None:
        """S is the spindle's, unless another code of the line may have it (printing usage)."""
        others = [c for c in self.codes if c not in SPINDLE and (c.startswith("M") or c in ("G4", "G10", "G11"))]
        speed = None if others else self.command.number("S")
        if speed is not None:
            self.state.speed = speed
        for code in self.codes:
            if code in SPINDLE:
                self.state.spindle_on = code != "M5"

    def dwell(self) -> None:
        """G4: P seconds (3.5.4), or milliseconds in printing usage; S, which goes first, always seconds."""
        if "G4" not in self.codes:
            return
        seconds = self.command.number("S")
        if seconds is None:
            seconds = self.command.number("P")
            if seconds is not None and self.dialect.dwell_p == "milliseconds":
                seconds = seconds / 1000
        if seconds is None:
            seconds = Decimal(0)
        if seconds < 0:
            raise LineError("a dwell can't be negative")
        self.dwell_s = float(seconds)

    def set_plane(self) -> None:
        """G17 XY, G18 XZ, G19 YZ (3.5.6)."""
        for plane in (17, 18, 19):
            if f"G{plane}" in self.codes:
                self.state.plane = plane

    def set_units(self) -> None:
        """G20 inch, G21 mm (3.5.7). E is counted in the same units (printing usage)."""
        if "G20" in self.codes:
            self.state.scale = INCH_MM
        if "G21" in self.codes:
            self.state.scale = Decimal(1)

    def set_distance_modes(self) -> None:
        """G90 absolute, G91 relative (3.5.17); M82 and M83 are the same for E and override them."""
        if "G90" in self.codes:
            self.state.relative = False
        if "G91" in self.codes:
            self.state.relative = True
        if self.dialect.axis_mode_sets_e and ("G90" in self.codes or "G91" in self.codes):
            self.state.e_relative = self.state.relative
        if "M82" in self.codes:
            self.state.e_relative = False
        if "M83" in self.codes:
            self.state.e_relative = True

    def relieve_pressure(self) -> None:
        """G10 draws clay back, G11 gives it again (printing usage); G10 with L sets an origin (3.5.5)."""
        if "G10" in self.codes and "L" in self.words:
            raise LineError("G10 with L is beyond this interpreter")
        if "G10" in self.codes:
            self.state.relief += 1
        if "G11" in self.codes:
            self.state.relief = max(self.state.relief - 1, 0)

    def go_home(self) -> None:
        """G28 homes the axes that are named, all if none is (3.5.8; without numbers in printing usage)."""
        if "G28" not in self.codes:
            return
        named = [axis for axis in "XYZ" if axis in self.words]
        for axis in named if named else "XYZ":
            self.state.register[axis] = Decimal(str(self.dialect.home_mm["XYZ".index(axis)]))
            self.state.offset[axis] = Decimal(0)
            self.state.known[axis] = True
        self.state.motors_on = True

    def set_offsets(self) -> None:
        """G92 makes the current point read the given values, in G90 and G91 alike (3.5.18)."""
        if "G92" in self.codes:
            self.set_position()
        if "G92.1" in self.codes:
            self.change_offsets({"X": Decimal(0), "Y": Decimal(0), "Z": Decimal(0)})
            self.state.saved_offset = dict(self.state.offset)
        if "G92.2" in self.codes:
            self.change_offsets({"X": Decimal(0), "Y": Decimal(0), "Z": Decimal(0)})
        if "G92.3" in self.codes:
            self.change_offsets(self.state.saved_offset)

    def set_position(self) -> None:
        """G92 with words; without any it sets every axis to zero (printing usage; an error in 3.5.18)."""
        named = [axis for axis in "XYZE" if axis in self.words]
        values = {axis: self.length_word(axis) for axis in named}
        if not named:
            values = {axis: Decimal(0) for axis in "XYZE"}
        for axis, value in values.items():
            if axis != "E":
                self.state.offset[axis] += self.state.register[axis] - value
            self.state.register[axis] = value
        self.state.saved_offset = dict(self.state.offset)

    def change_offsets(self, offset: dict[str, Decimal]) -> None:
        """Put other offsets in force while the machine stands still."""
        for axis in "XYZ":
            self.state.register[axis] += self.state.offset[axis] - offset[axis]
            self.state.offset[axis] = offset[axis]

    def stop(self) -> None:
        """M0 and M1 wait, M2 ends the program (3.6.1)."""
        if "M0" in self.codes or "M1" in self.codes:
            self.state.paused += 1
        if "M2" in self.codes:
            self.state.ended = True

    # --- motion ---

    def explicit_motion(self) -> int | None:
        """The number of G0, G1, G2 or G3 on the line."""
        for code in self.codes:
            if code in MOTION:
                return int(code[1:])
        return None

    def set_motion_mode(self) -> None:
        """G0 to G3 stay in force until another comes (3.3.7); G80 ends them."""
        explicit = self.explicit_motion()
        if explicit is not None:
            self.state.motion = explicit
        if "G80" in self.codes:
            self.state.motion = 80

    def is_move(self) -> bool:
        """Whether the line moves something.

        The motion mode goes on where axis words stand without a code that claims them (3.3.7, 3.5.1); modal
        codes don't, `G91 X1` moves, the mode first (3.8, orders 17 and 20). `G1 F1500` sets
        modes only (printing usage; an error in 3.5.2). An arc may name its centre alone: a full circle.
        """
        has_axis = any(axis in self.words for axis in "XYZE")
        has_centre = any(letter in self.words for letter in "IJKR")
        if self.explicit_motion() is not None:
            return has_axis or (self.state.motion in (2, 3) and has_centre)
        if not self.command.leaves_words:
            return False
        if has_axis and self.state.motion == 80:
            raise LineError("axis words stand without a motion code after G80")
        if has_centre and not has_axis:
            raise LineError("an arc's centre stands without G2, G3 or axis words")
        return has_axis

    def move(self) -> None:
        """Go to the end point by the motion mode; E moves along with it."""
        start = self.machine_point()
        end = {axis: self.axis_end(axis) for axis in "XYZ"}
        self.e_delta = self.axis_end("E") - self.state.register["E"]
        if self.state.motion in (2, 3):
            self.follow_arc(start, end)
        else:
            self.path_mm = math.hypot(*(float(end[axis] - start[axis]) for axis in "XYZ"))
        for axis in "XYZ":
            self.state.register[axis] = end[axis] - self.state.offset[axis]
            if axis in self.words and not self.state.relative:
                self.state.known[axis] = True
        self.state.register["E"] += self.e_delta
        self.state.motors_on = True

    def machine_point(self) -> dict[str, Decimal]:
        """The machine position, exact."""
        return {axis: self.state.register[axis] + self.state.offset[axis] for axis in "XYZ"}

    def length_word(self, letter: str) -> Decimal:
        """A word that is a length, in mm."""
        value = self.command.number(letter)
        if value is None:
            return Decimal(0)
        return value * self.state.scale

    def axis_end(self, axis: str) -> Decimal:
        """Where an axis ends, as machine position (E: register). Without a word it stays where it is."""
        register = self.state.register[axis]
        offset = Decimal(0) if axis == "E" else self.state.offset[axis]
        relative = self.state.e_relative if axis == "E" else self.state.relative
        if axis not in self.words:
            return register + offset
        if relative:
            return register + offset + self.length_word(axis)
        return self.length_word(axis) + offset

    def follow_arc(self, start: dict[str, Decimal], end: dict[str, Decimal]) -> None:
        """An arc in the plane; if the axis normal to it moves too, a helix (3.5.3)."""
        first, second, normal = PLANES[self.state.plane]
        a: Pair = (start[first], start[second])
        b: Pair = (end[first], end[second])
        clockwise = self.state.motion == 2
        centre = self.arc_centre(a, b, first, second, normal)
        radius = length_of((a[0] - centre[0], a[1] - centre[1]))
        sweep = sweep_rad(a, b, centre, clockwise=clockwise)
        self.path_mm = math.hypot(float(radius) * sweep, float(end[normal] - start[normal]))
        middle = {first: centre[0], second: centre[1], normal: start[normal]}
        point: Point = (float(middle["X"]), float(middle["Y"]), float(middle["Z"]))
        self.arc = Arc(point, float(radius), sweep, self.state.plane)

    def arc_centre(self, a: Pair, b: Pair, first: str, second: str, normal: str) -> Pair:
        """Centre by offsets (3.5.3.2) or by radius (3.5.3.1)."""
        offsets = [letter for letter in (OFFSETS[first], OFFSETS[second]) if letter in self.words]
        if OFFSETS[normal] in self.words:
            raise LineError(f"{OFFSETS[normal]} lies outside the arc's plane")
        if "R" in self.words and offsets:
            raise LineError("an arc has either a radius or a centre")
        if "R" in self.words:
            if first not in self.words and second not in self.words:
                raise LineError(f"an arc with R needs {first} or {second}")
            return centre_from_radius(a, b, self.length_word("R"), clockwise=self.state.motion == 2)
        if not offsets:
            raise LineError("an arc needs R or its centre")
        offset = (self.length_word(OFFSETS[first]), self.length_word(OFFSETS[second]))
        return centre_from_offsets(a, b, offset, Decimal(str(self.dialect.arc_tolerance_mm)))

    def effective_feed(self) -> float | None:
        """F times the feed factor."""
        if self.state.feed_mm_min is None:
            return None
        return float(self.state.feed_mm_min * self.state.feed_factor)
