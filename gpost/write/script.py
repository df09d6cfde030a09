"""Writes G-code for the modal state that holds at a place, and gives the machine back as it was."""

from __future__ import annotations

import itertools
import math
import unicodedata
from collections.abc import Iterator, Sequence

from gpost.config.commands import Kind
from gpost.motion.state import MachineState
from gpost.plan.blocktime import LAST_MM
from gpost.survey.marks import REMARK
from gpost.write.sent import REGISTER, Sent

POSITION_DECIMALS = 3
E_DECIMALS = 5
SUM_DECIMALS = 9
"""Of a sum of words in mm; no word is known to have more, and its noise is smaller."""
Place = tuple[float, float, float]
"""x, y, z, machine mm."""
LONGEST_MESSAGE = 60
LONGEST_REMARK = 200
SENT_DRY: tuple[Kind, ...] = ("message", "feed", "mode")
"""What may be sent where no clay is pushed: words, and what gives the machine back."""
HARMLESS_MARKS = frozenset(" .,:+-=/_")
"""Marks that are text to every controller; others end a line, start a comment, a checksum, an expression
or a command that acts at once."""


class Script:
    """Lines for one inserted block.

    It never changes a mode: positions and E are written absolute or relative, in mm or inches, as
    the program is at that place. Positions given to it are machine mm, clay is ml, feeds are mm/min.
    In relative modes what is written adds up to nothing, to the last digit, once `go_back` is called.
    """

    def __init__(
        self,
        state: MachineState,
        *,
        ml_per_mm: float,
        end_feed_mm_min: float | None = None,
        dry: bool = False,
        at_mm: Place | None = None,
    ) -> None:
        """`at_mm`: where the block starts, if it is elsewhere, to the last place of the words.

        `end_feed_mm_min`: the F in force in the output at this place, if it is not the state's.

        `dry`: no clay is pushed and nothing said of E, and no command sent but for words on the display.
        """
        self.state, self._dry = state, dry
        self.lines: list[str] = []
        self.sent: list[tuple[int, Sent]] = []
        """Which of the lines are commands and no moves: (index, what)."""
        self._ml_per_mm = ml_per_mm
        self._end_feed = state.feed_mm_min if end_feed_mm_min is None else end_feed_mm_min
        # inches need one more decimal for the same step
        finer = 0 if state.scale == 1 else 1
        self._decimals, self._e_decimals = POSITION_DECIMALS + finer, E_DECIMALS + finer
        self._at = (
            [0, 0, 0] if at_mm is None else [self._steps(axis, goal) for axis, goal in enumerate(at_mm)]
        )
        """Distance from the state's place, in last places of the words."""
        self._e_steps = 0
        """The same for E, and how much of it was wanted before rounding."""
        self._e_wanted = 0.0
        self._relieved_ml = 0.0
        self._feed_said: str | None = None
        self._motion_said = state.motion

    # -- plain lines ---------------------------------------------------------------------------

    def remark(self, text: str) -> None:
        """A comment line of gpost's own."""
        self.lines.append(REMARK + plain(text, LONGEST_REMARK))

    def command(self, code: str, sent: Sent) -> None:
        """A machine command, and how it is shown."""
        if self._dry and sent.kind not in SENT_DRY:
            return
        self.sent.append((len(self.lines), sent))
        self.lines.append(code)

    def message(self, display: str | None, text: str, kind: Kind = "message") -> None:
        """A message on the display, if the machine has one."""
        if display is not None:
            code = f"{display} {plain(text, LONGEST_MESSAGE)}".rstrip()
            self.command(code, Sent(kind, f"{display} <text>"))

    def line(self, text: str) -> None:
        """A move as it is to be written, by who knows the modes."""
        self._motion_said = 0
        self.lines.append(text)

    # -- moves ---------------------------------------------------------------------------------

    def fly(
        self, *, x: float | None = None, y: float | None = None, z: float | None = None, feed_mm_min: float
    ) -> None:
        """Move without clay to a machine position; axes left out stay."""
        self._press((x, y, z), 0.0, feed_mm_min)

    def lay(self, x: float, y: float, clay_ml: float, feed_mm_min: float) -> None:
        """Move on the level to x, y and lay so much clay on the way."""
        words = self._position_words((x, y, None))
        self._emit(1, [*words, *self._e_words(clay_ml), *self._feed_word(feed_mm_min)])

    def push(self, clay_ml: float, flow_ml_min: float) -> None:
        """Push clay out in place; a negative amount draws it back."""
        if clay_ml == 0 or self._dry:
            return
        feed = flow_ml_min / (self._ml_per_mm * self.state.flow_factor)
        self._emit(1, [*self._e_words(clay_ml), *self._feed_word(feed)])

    def relieve(self, clay_ml: float, flow_ml_min: float) -> None:
        """Draw clay back against oozing, unless it is drawn back already."""
        if not self._relieved_ml:
            self._relieved_ml = clay_ml
            self.push(-clay_ml, flow_ml_min)

    def ready(self, flow_ml_min: float) -> None:
        """Give back what was drawn back."""
        self.push(self._relieved_ml, flow_ml_min)
        self._relieved_ml = 0.0

    @property
    def height_mm(self) -> float:
        """Present nozzle height, machine mm."""
        return self._machine(2)

    @property
    def position_mm(self) -> tuple[float, float]:
        """Present x, y, machine mm."""
        return self._machine(0), self._machine(1)

    def go_back(
        self,
        way_mm: Sequence[Place] = (),
        *,
        safe_z_mm: float,
        travel_feed_mm_min: float,
        lift_feed_mm_min: float,
        way_feed_mm_min: float,
        flow_ml_min: float,
        gives: bool = False,
    ) -> None:
        """Return above the point where the block started, and straight down to it, exactly.

        What was drawn back is given again in the last of the descent. `way_mm`: places to come down to, and
        to go through before that point is reached; with `gives` it is given again along them.
        """
        legs = [*way_mm, self.state.position_mm]
        x, y, z = legs[0]
        if self.height_mm < safe_z_mm:
            self.fly(z=safe_z_mm, feed_mm_min=lift_feed_mm_min)
        self.fly(x=x, y=y, feed_mm_min=travel_feed_mm_min)
        if not (gives and way_mm):
            self._give_coming_down(z, lift_feed_mm_min, flow_ml_min)
        self.fly(z=z, feed_mm_min=lift_feed_mm_min)
        path_mm, owed_ml = sum(map(math.dist, legs, legs[1:])), self._relieved_ml
        if owed_ml and path_mm:
            way_feed_mm_min = min(way_feed_mm_min, path_mm / owed_ml * flow_ml_min)
        for here, there in itertools.pairwise(legs):
            self._press(there, owed_ml * math.dist(here, there) / (path_mm or 1.0), way_feed_mm_min)
        if path_mm:
            self._relieved_ml = 0.0
        self.ready(flow_ml_min)

    def _give_coming_down(self, z_mm: float, feed_mm_min: float, flow_ml_min: float) -> None:
        """Come down to a height, and give what was drawn back on the last of the way."""
        last_mm, owed_ml = min(LAST_MM, self.height_mm - z_mm), self._relieved_ml
        if not owed_ml or last_mm <= 0:
            return
        self.fly(z=z_mm + last_mm, feed_mm_min=feed_mm_min)
        self._press((None, None, z_mm), owed_ml, min(feed_mm_min, last_mm / owed_ml * flow_ml_min))
        self._relieved_ml = 0.0

    def _press(self, target: tuple[float | None, ...], clay_ml: float, feed_mm_min: float) -> None:
        """Go to a place, and push so much clay on the way."""
        words = self._position_words(target)
        if clay_ml:
            self._emit(1, [*words, *self._e_words(clay_ml), *self._feed_word(feed_mm_min)])
        elif words:
            self._emit(0, [*words, *self._feed_word(feed_mm_min)])

    def restore(self) -> None:
        """Give back the E register, the feed and, unless it is an arc's, the modal motion code."""
        if self._e_steps:
            self.command(e_register(self.state), REGISTER)
        code = self.state.motion if self.state.motion in (0, 1) else 1
        if self._feed_said is not None and not math.isnan(self._end_feed):
            self.command(f"G{code} F{exact(self._end_feed / self.state.scale)}", feed_said(code))
            self._motion_said = code
        elif self._motion_said not in (code, self.state.motion):
            self.command(f"G{code}", Sent("mode", f"G{code}"))
            self._motion_said = code

    @property
    def owes_motion(self) -> bool:
        """Whether the next source move must be given its G word, since an arc mode was in force."""
        return self._motion_said != self.state.motion

    @property
    def owes_feed(self) -> bool:
        """Whether a feed was said where the program has not said any, so that none can be given back."""
        return self._feed_said is not None and math.isnan(self._end_feed)

    # -- words ---------------------------------------------------------------------------------

    def _machine(self, axis: int) -> float:
        return self.state.position_mm[axis] + self._at[axis] / float(10**self._decimals) * self.state.scale

    def _position_words(self, target: tuple[float | None, ...]) -> list[str]:
        words = []
        for axis, goal in enumerate(target):
            if goal is None:
                continue
            steps = self._steps(axis, goal)
            if steps == self._at[axis]:
                continue
            words.append("XYZ"[axis] + self._axis_value(axis, steps))
            self._at[axis] = steps
        return words

    def _steps(self, axis: int, goal_mm: float) -> int:
        """How far a place is from the state's, in last places of the words."""
        away_mm = goal_mm - self.state.position_mm[axis]
        return int(untied(away_mm / self.state.scale * 10**self._decimals))

    def _axis_value(self, axis: int, steps: int) -> str:
        if self.state.relative:
            return number((steps - self._at[axis]) / 10**self._decimals, self._decimals)
        return exact(self.state.register[axis] / self.state.scale + steps / 10**self._decimals)

    def _e_words(self, clay_ml: float) -> list[str]:
        """The E word that meters so much clay; rounding is carried to the next one."""
        if self._dry:
            return []
        mm = clay_ml / (self._ml_per_mm * self.state.flow_factor)
        self._e_wanted += mm / self.state.scale * 10**self._e_decimals
        before, self._e_steps = self._e_steps, int(untied(self._e_wanted))
        if self.state.e_relative:
            return ["E" + number((self._e_steps - before) / 10**self._e_decimals, self._e_decimals)]
        start = self.state.register[3] / self.state.scale
        return ["E" + exact(start + self._e_steps / 10**self._e_decimals)]

    def _feed_word(self, feed_mm_min: float) -> list[str]:
        value = feed_mm_min / self.state.feed_factor / self.state.scale
        text = number(max(value, 1e-4), 1 if value >= 100 else 4)
        if self._feed_said == text:
            return []
        self._feed_said = text
        return ["F" + text]

    def _emit(self, code: int, words: list[str]) -> None:
        self._motion_said = code
        self.lines.append(" ".join([f"G{code}", *words]))


def made_up(before: MachineState, after: MachineState) -> Iterator[tuple[str, Sent]]:
    """The lines that bring E, feed and motion mode from one state to the other, without a move.

    The feed is said in any case: a slower one may be in force in the output.
    """
    if after.register[3] != before.register[3]:
        yield e_register(after), REGISTER
    if not math.isnan(after.feed_mm_min):
        yield f"G{after.motion} F{exact(after.feed_mm_min / after.scale)}", feed_said(after.motion)
    elif after.motion != before.motion:
        yield f"G{after.motion}", Sent("mode", f"G{after.motion}")


def e_register(state: MachineState) -> str:
    """The line by which E counts from where it is; a sum of relative words without the noise of floats."""
    value = state.register[3] / state.scale
    decimals = SUM_DECIMALS if state.scale == 1 else SUM_DECIMALS + 2  # as fine in inches
    return "G92 E" + (number(untied(value, decimals), decimals) if state.e_relative else exact(value))


def feed_said(motion: int) -> Sent:
    """A feed on a line of its own, behind a motion code that moves nothing there."""
    return Sent("feed", f"G{motion} F<feed>")


def number(value: float, decimals: int) -> str:
    """A plain decimal without exponent, trailing zeros or minus zero."""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def untied(value: float, decimals: int = 0) -> float:
    """Rounded so that the noise of floats decides no tie."""
    return round(round(value, decimals + 4), decimals)


def exact(value: float) -> str:
    """A plain decimal to 15 digits: what a float holds for sure, and a source with 12 decimals needs."""
    before_point = len(str(int(abs(value))))
    return number(value, max(0, min(12, 15 - before_point)))


def plain(text: str, longest: int) -> str:
    """Text that no controller can take for anything but text: one line of ASCII letters, digits, few marks.

    Accents and apostrophes are dropped, a semicolon is a comma; other letters become '_', other marks and
    control characters a blank.
    """
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    bare = bare.translate(_SPELT)
    return " ".join("".join(map(_harmless, bare)).split())[:longest].strip()


_SPELT = str.maketrans({"'": "", "\u2019": "", ";": ","})
"""What of a sentence's marks can be shown otherwise: "don't; wait" reads "dont, wait"."""


def _harmless(char: str) -> str:
    if char.isascii():
        return char if char.isalnum() or char in HARMLESS_MARKS else " "
    return "_" if char.isprintable() and char.isalnum() else " "
