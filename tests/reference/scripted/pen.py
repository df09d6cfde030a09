"""How a potter's script writes a move: which words, in which order, to how many decimals, in which modes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from tests.reference.scripted.choices import Choices
from tests.reference.scripted.truth import Laid, Point

INCH_MM = 25.4
METERINGS: dict[str, tuple[dict[str, str | float], float]] = {
    "mm3": ({"unit": "mm3"}, 1.0),
    "strand": ({"unit": "filament", "diameter_mm": 1.75}, math.pi * 1.75**2 / 4),
    "plunger": ({"unit": "plunger", "bore_mm": 12.0}, math.pi * 12.0**2 / 4),
}
"""What a unit of E is: as the config says it, and mm3 of clay."""
Repeat: TypeAlias = Literal["all", "flat", "changed"]
Travel: TypeAlias = Literal["straight", "hop", "over", "toggled"]


@dataclass(frozen=True)
class Style:
    """How one script writes."""

    relative: bool = False
    relative_e: bool = False
    decimals: int = 3
    inches: bool = False
    metering: str = "mm3"
    careless: bool = False
    """Relative words are rounded one by one, and the rounding adds up."""
    order: str = "GXYZEF"
    repeat: Repeat = "all"
    """All of X, Y and Z in each move; Z only where it changes; or only what changes."""
    modal: bool = False
    """G1 is said once."""
    feed: Literal["change", "each", "once"] = "change"
    e_reset: Literal["never", "layer", "often"] = "never"
    travel: Travel = "straight"
    """How a gap is crossed: straight; up, across, down; up, across and down at once; up in relative axes."""
    travel_code: str = "G0"
    travel_e: bool = False
    """Travels have an E word, that asks for nothing."""
    retract_mm3: float = 0.0
    lower: bool = False
    gap: str = " "
    comment: str = ""
    """Said at each layer's start; empty: nothing."""
    head: str = "short"
    crlf: bool = False

    @property
    def scale(self) -> float:
        """mm in a unit of length."""
        return INCH_MM if self.inches else 1.0

    @property
    def grain_mm(self) -> float:
        """The smallest difference in a place that the numbers can say."""
        return float(10.0**-self.decimals * self.scale)


ORDERS = ["GXYZEF", "GXYZEF", "GFXYZE", "GXYEZF", "GZXYEF", "GEXYZF", "GXYZFE"]


def draw_style(choices: Choices, *, fine: bool) -> Style:
    """How a script writes. `fine`: short steps or arcs, that few decimals would spoil."""
    relative, relative_e = choices.pick("relative", [False, True]), choices.pick("relative_e", [True, False])
    inches = choices.pick("inches", [False, False, True])
    decimals = max(choices.pick("decimals", [3, 12, 2, 4]), 2 + inches + fine)
    careless = relative and decimals > 2 + inches and choices.pick("careless", [False, True])
    return Style(
        relative=relative,
        relative_e=relative_e,
        decimals=decimals,
        inches=inches,
        metering=choices.pick("metering", list(METERINGS)),
        careless=careless,
        order=choices.pick("order", ORDERS),
        repeat=choices.pick("repeat", ["all", "flat", "changed"]),
        modal=choices.pick("modal", [False, False, True]),
        feed=choices.pick("feed", ["change", "each", "once"]),
        e_reset=choices.pick("e_reset", ["never", "layer", "often"]),
        travel=choices.pick("travel", ["straight", "hop", "over", "toggled"]),
        travel_code=choices.pick("travel_code", ["G0", "G1"]),
        travel_e=choices.pick("travel_e", [False, False, True]),
        retract_mm3=choices.pick("retract_mm3", [0.0, 0.0, 40.0]),
        lower=choices.pick("lower", [False, False, False, True]),
        gap=choices.pick("gap", [" ", " ", " ", ""]),
        comment=choices.pick("comment", ["", "; round {}", "(round {})"]),
        head=choices.pick("head", ["short", "long", "bare", "prime", "one line"]),
        crlf=choices.pick("crlf", [False, False, False, True]),
    )


class Pen:
    """Writes lines and knows where that leaves the machine, to the digits that were written."""

    def __init__(self, style: Style) -> None:
        self.style = style
        self.lines: list[str] = []
        self.here: Point = (0.0, 0.0, 0.0)
        self.meant: Point = (0.0, 0.0, 0.0)
        """Where it would be without rounding."""
        self.e = 0.0
        self.said: dict[str, str] = {}
        """Words that hold until they are said anew: G, F and, in absolute axes, X, Y and Z."""
        self.e_decimals = style.decimals if style.metering == "mm3" else max(style.decimals, 5)

    @property
    def mm3_per_e(self) -> float:
        """Clay for one mm of the E axis."""
        return METERINGS[self.style.metering][1]

    def say(self, line: str) -> None:
        """A line as it is."""
        self.lines.append(line)

    def number(self, value_mm: float, decimals: int) -> tuple[str, float]:
        """A length as text, and what the text says in mm."""
        text = f"{value_mm / self.style.scale:.{decimals}f}"
        return text, float(text) * self.style.scale

    def head(self) -> None:
        """What stands before the first move."""
        style = self.style
        modes = ["G20" if style.inches else "G21", "G91" if style.relative else "G90"]
        modes.append("M83" if style.relative_e else "M82")
        if style.head == "bare" and modes == ["G21", "G90", "M82"]:
            modes = []
        if style.head == "one line":
            modes = [" ".join(modes[:2]), modes[2]]
        self.lines += ["; a pot", "M104 S0", "M106 S128", ""] if style.head == "long" else []
        self.lines += ["G28", *modes] if style.head == "long" else [*modes, "G28"]
        self.lines += ["G92 E0"] if style.head in ("long", "prime") else []
        if style.feed == "once":
            self.lines.append("G1 F1500")
        if style.head == "prime":
            self.push(500.0)

    def foot(self) -> None:
        """What stands after the last move."""
        if self.style.retract_mm3:
            self.push(-self.style.retract_mm3)
        if self.style.head == "long":
            self.lines += ["M107", "G28 X Y", "M84"]

    def text(self) -> bytes:
        """The program."""
        newline = "\r\n" if self.style.crlf else "\n"
        lines = [line.lower() if self.style.lower else line for line in self.lines]
        return (newline.join(lines) + newline).encode()

    def e_word(self, e_mm: float) -> tuple[str, float]:
        """The E word that asks for so much, and how much it then asks for."""
        if self.style.relative_e:
            return self.number(e_mm, self.e_decimals)
        text, register = self.number(self.e + e_mm, self.e_decimals)
        asked, self.e = register - self.e, register
        return text, asked

    def reset_e(self) -> None:
        """E counts from zero again."""
        self.lines.append("G92 E0")
        self.e = 0.0

    def push(self, clay_mm3: float) -> None:
        """Clay forward or back at one place."""
        text, _ = self.e_word(clay_mm3 / self.mm3_per_e)
        feed = {} if self.style.feed == "once" else {"F": self.feed_text(1200)}
        self.write({"G": "G1", "E": text, **feed})

    def feed_text(self, mm_min: float) -> str:
        """A feed in units of length per minute."""
        return f"{mm_min / self.style.scale:.0f}"

    def write(self, words: dict[str, str]) -> None:
        """A line of words; what it says from now on holds."""
        code = words["G"]
        can_drop = self.style.modal and self.said.get("G") == code and set(words) & set("XYZ")
        letters = [w for w in [*self.style.order, "I", "J"] if w in words and not (w == "G" and can_drop)]
        parts = [code if w == "G" else w + words[w] for w in letters]
        self.said |= {w: text for w, text in words.items() if w in "GXYZF"}
        self.lines.append(self.style.gap.join(parts))

    def move(
        self,
        code: str,
        goal: Point,
        *,
        clay_mm3: float = 0.0,
        feed: float,
        only: str = "XYZ",
        centre: Point | None = None,
    ) -> Laid | None:
        """Write a move, if it says anything; what it lays. `only`: the words it may have."""
        words, end = self.places(goal, only)
        around = self.meant if self.style.careless else self.here
        self.meant = goal
        if not words and centre is None:
            return None
        start = self.here
        middle = None
        if centre is not None:
            i, i_mm = self.number(centre[0] - around[0], self.style.decimals)
            j, j_mm = self.number(centre[1] - around[1], self.style.decimals)
            words |= {"I": i, "J": j}
            middle = (start[0] + i_mm, start[1] + j_mm)
        asked = 0.0
        if clay_mm3 or self.style.travel_e:
            words["E"], asked = self.e_word(clay_mm3 / self.mm3_per_e)
        self.add_feed(words, feed)
        self.here = end
        self.write({"G": code, **words})
        return laid(len(self.lines) - 1, start, end, asked, middle, clockwise=code == "G2")

    def places(self, goal: Point, only: str) -> tuple[dict[str, str], Point]:
        """The words for X, Y and Z, and where they lead."""
        style = self.style
        words: dict[str, str] = {}
        end = list(self.here)
        for a, axis in enumerate("XYZ"):
            start = self.meant[a] if style.careless else self.here[a]
            text, value = self.number(goal[a] - (start if style.relative else 0.0), style.decimals)
            changes = float(text) != 0 if style.relative else text != self.said.get(axis)
            always = style.repeat == "all" or (style.repeat == "flat" and axis != "Z")
            if axis in only and (changes or (always and only == "XYZ")):
                words[axis] = text
                end[a] = self.here[a] + value if style.relative else value
        moved = any(e != h for e, h in zip(end, self.here, strict=True))
        return (words if moved else {}), (end[0], end[1], end[2])

    def add_feed(self, words: dict[str, str], mm_min: float) -> None:
        """F: said once at the head, in each move, or where it changes."""
        text = self.feed_text(mm_min)
        if self.style.feed == "each" or (self.style.feed == "change" and text != self.said.get("F")):
            words["F"] = text

    def lift(self, height_mm: float) -> None:
        """Up by so much in relative axes, with the modes as before afterwards."""
        pen = replace(self.style, relative=True, careless=False)
        text, value = self.number(height_mm, pen.decimals)
        self.lines += ["G91", f"G1 Z{text}"]
        self.lines += [] if self.style.relative else ["G90"]
        self.lines.append("M83" if self.style.relative_e else "M82")
        x, y, z = self.here
        self.here = (x, y, z + value)
        self.meant = (self.meant[0], self.meant[1], self.meant[2] + height_mm)
        self.said = {w: t for w, t in self.said.items() if w != "Z"} | {"G": "G1"}


def laid(
    line: int, start: Point, end: Point, e: float, middle: tuple[float, float] | None, *, clockwise: bool
) -> Laid | None:
    """What a move lays: E goes forward along a path. Clay pushed on a way straight up is laid nowhere."""
    flat = math.dist(start[:2], end[:2])
    corners: tuple[tuple[float, float], ...] = (start[:2], end[:2])
    if middle is not None:
        flat, corners = arc(start, end, middle, clockwise=clockwise)
    path = math.hypot(flat, end[2] - start[2])
    return Laid(line, start, end, e, path, flat, corners) if e > 0 and flat > 0 else None


def arc(
    start: Point, end: Point, middle: tuple[float, float], *, clockwise: bool
) -> tuple[float, tuple[tuple[float, float], ...]]:
    """Length of an arc as seen from above, and its ends and outermost points."""
    first = math.atan2(start[1] - middle[1], start[0] - middle[0])
    sweep = math.atan2(end[1] - middle[1], end[0] - middle[0]) - first
    sweep = -((-sweep) % math.tau or math.tau) if clockwise else (sweep % math.tau or math.tau)
    radius = math.dist(start[:2], middle)
    low, high = sorted((first, first + sweep))
    quarters = range(math.ceil(low / (math.pi / 2)), math.floor(high / (math.pi / 2)) + 1)
    outermost = tuple(
        (middle[0] + radius * math.cos(q * math.pi / 2), middle[1] + radius * math.sin(q * math.pi / 2))
        for q in quarters
    )
    return radius * abs(sweep), (start[:2], end[:2], *outermost)
