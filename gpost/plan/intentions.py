"""What a step may want: frozen records that say WHAT, never how it is written as G-code."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.clay.walls import Stiffness
from gpost.common.records import record
from gpost.spot import Spot

Lost: TypeAlias = Literal["nothing", "z", "all"]


@record(frozen=True, slots=True)
class Stroke:
    """One bead on the bed: a polyline in machine mm (x, y), laid with an even flow."""

    points_mm: tuple[tuple[float, float], ...]
    width_mm: float
    height_mm: float
    z_mm: float
    """Height of the nozzle above the bed's zero while it is laid (machine mm)."""
    clay_ml: float


@record(frozen=True, slots=True)
class LayClay:
    """Lay strokes beside the piece, wipe, and come back to the point above the piece."""

    spot: Spot
    strokes: tuple[Stroke, ...]
    feed_mm_min: float
    wipe_mm: float = 10.0
    why: str = ""

    @property
    def clay_ml(self) -> float:
        """Clay laid by all strokes together."""
        return sum(stroke.clay_ml for stroke in self.strokes)


@record(frozen=True, slots=True)
class Pause:
    """Stop and wait for the potter, parked clear of the piece; then prime, wipe and go on.

    How the machine waits (relief, lift, park, messages, commands) comes from `machine:` in the
    config; what is said here is why, and what is loaded.
    """

    spot: Spot
    kind: str
    """What sort of pause it is: the step's own word."""
    reason: str
    message: str | None = None
    """Shown on the machine's display; sanitised by the compiler. None: gpost says what is to be put on."""
    prime_ml: float = 0.0
    """Clay run out at the park after the wait."""
    new_cartridge: bool = False
    colour: str | None = None
    """Colour of the clay in the new cartridge; None: as before."""
    load_ml: float | None = None
    """Clay in the new cartridge, its reserve included, ml; None: a full one."""
    shows_at: Spot | None = None
    """Where the new clay is to show; None: wherever it does."""
    asked_mm: float | None = None
    """The nozzle height that was asked for, mm; None: a layer was."""
    shows_share: float = 0.5
    """Share of the new clay at the nozzle that counts as showing, where the hose mixes."""
    lay: LayClay | None = None
    """Clay laid beside the piece after the wait (its spot is ignored)."""
    hold_again: bool = False
    """A second wait after the prime, before going back to the piece."""
    within_layer: bool = False
    """The spot may lie inside a layer; otherwise whoever moves the pause keeps it at a layer's start."""
    in_time: bool = False
    """The plan keeps the pause where its clay arrives at `shows_at` in time, whatever is added later."""

    @property
    def clay_ml(self) -> float:
        """Clay that runs where the pause is: its prime, and what is laid beside the piece."""
        return self.prime_ml + (self.lay.clay_ml if self.lay is not None else 0.0)


class Behind(NamedTuple):
    """A mixture in hose and cartridge where a stopped print goes on; the next one ends it."""

    after_ml: float
    """Clay that leaves the cartridge before its first does; below 0: that has left so long ago."""
    mix: dict[str, float]
    wanted_mm: float | None = None
    """Nozzle height from which on it was asked for; None: it was not."""


@dataclass(frozen=True, slots=True)
class Restart(Pause):
    """Where a stopped print goes on: nothing before it is written. A step can't want it.

    The cartridge that is on counts as a new one with `load_ml` in it, without a number of its own.
    """

    told_ml: float | None = None
    """What was told to be in it, where the plan counted on more, as an earlier gpost did; None: `load_ml`."""

    lost: Lost = "nothing"
    """What the machine doesn't know any more: nothing, the height, or all places."""
    set_at_mm: tuple[float, float, float] | None = None
    """Where the potter has set the nozzle's tip, machine mm; None: nowhere."""
    nozzle_below_mm: float = 0.0
    """The nozzle stands no higher than that when the file starts, machine mm."""
    set_up: tuple[str, ...] = ()
    """The file's own commands that are sent again, as they set up the machine."""
    inside: tuple[Behind, ...] = ()
    """What is in hose and cartridge, and what was to follow, in the order of leaving; none: as the pauses of
    this plan load it."""
    look_mm: float | None = None
    """The way to it alone, without clay, which ends over it at that height, machine mm; None: all the rest
    is printed."""
    look_wipes: bool = False
    """Whether that way leads by where the nozzle is wiped, since the rest runs clay out first."""
    done: int | None = None
    """How many of the pauses, and of the beads beside the piece, that stood at this very spot have been;
    None: all. The others are still due."""
    waited_s: float = 0.0
    """How long all has stood there before, by the potter's word: the clay is so much older. No clock of the
    machine's counts it."""


@record(frozen=True, slots=True)
class Wait:
    """Stand still for some time, at the very place that is reached, and go on without anybody.

    The nozzle is neither lifted nor parked, no pressure is relieved, and the blower goes on: clay oozes
    meanwhile, and leaves a blob on the wall. A long wait is better a Pause. The time counts for the clock,
    for layers and the clay's age; that the machine brakes before it and speeds up after it does not.
    """

    spot: Spot
    seconds: float
    """To the millisecond, and at least one."""
    why: str = ""


@record(frozen=True, slots=True)
class Ask:
    """Show words and wait for the potter where the machine stands.

    Nothing is moved, pushed or drawn back, and no mode is changed: it is safe before the machine has homed.
    The blower goes on as it does. Over a wall a Pause is what is wanted: it goes clear of it.
    """

    spot: Spot
    text: str
    """What is shown."""
    reason: str


@record(frozen=True, slots=True)
class MovePause:
    """Put `old`, a pause that is in the plan, at another place or with other contents.

    A pause that is to be in time (`in_time`) is kept there by the plan itself; `new` is not, if it says so.
    """

    old: Pause
    new: Pause
    why: str


@record(frozen=True, slots=True)
class Say:
    """Show a message on the machine's display."""

    spot: Spot
    text: str


@record(frozen=True, slots=True)
class Air:
    """Set the blower; `level` 0 (off) to 1 (full)."""

    spot: Spot
    level: float


@record(frozen=True, slots=True)
class AirInPause:
    """Whether the blower rests while the machine waits; it goes on as before after the wait."""

    off: bool


@record(frozen=True, slots=True)
class Command:
    """Send fixed machine commands, one a line, that move nothing, lay no clay and don't dwell.

    Only a few are free; all others need the studio's word (`machine: allow_commands`). What is an intention
    of its own is refused whoever allows it: a dwell is a Wait, a move a LayClay, a Shift or a Pause.
    """

    spot: Spot
    codes: tuple[str, ...]
    why: str = ""


@record(frozen=True, slots=True)
class Ban:
    """Nothing that is inserted, by whatever step, may send one of these codes, such as M104."""

    codes: tuple[str, ...]
    why: str = ""


@record(frozen=True, slots=True)
class ScaleFeed:
    """Multiply the feed of the clay-laying moves on lines first_line <= line < end_line.

    Travel and pressure moves keep their feed. The result is not taken below `floor_mm_min`
    (nor is a move that was slower already made faster).
    """

    first_line: int
    end_line: int
    factor: float
    floor_mm_min: float = 0.0
    why: str = ""


@record(frozen=True, slots=True)
class ScaleFlow:
    """Multiply the clay laid by moves on lines first_line <= line < end_line."""

    first_line: int
    end_line: int
    factor: float
    why: str = ""


@record(frozen=True, slots=True)
class Shift:
    """Move all that is done on lines first_line <= line < end_line by so much, in machine mm.

    An axis is moved by the first word of the range that names it, and goes back with the first absolute word
    after it: in relative mode what follows the range stays moved. Ranges that overlap add up.
    """

    first_line: int
    end_line: int
    by_mm: tuple[float, float, float]
    why: str = ""


def piece_moved_mm(shifts: Sequence[Shift]) -> tuple[float, float, float]:
    """How far shifts move the piece: by all that hold where most of them do.

    A step that leaves some lines alone has a shift for each stretch between them.
    """
    if not shifts:
        return 0.0, 0.0, 0.0
    first = np.sort(np.array([shift.first_line for shift in shifts], np.int64))
    end = np.sort(np.array([shift.end_line for shift in shifts], np.int64))
    holding = np.searchsorted(first, first, side="right") - np.searchsorted(end, first, side="right")
    line = int(first[np.argmax(holding)])
    held = [shift.by_mm for shift in shifts if shift.first_line <= line < shift.end_line]
    x, y, z = np.sum([(0.0, 0.0, 0.0), *held], axis=0).tolist()
    return x, y, z


@record(frozen=True, slots=True)
class Ground:
    """Something lies on the bed here (a slab). Nothing changes in the file.

    Nothing is laid across its edge, and onto it only beads that lie on its top as a whole.
    """

    x_mm: tuple[float, float]
    y_mm: tuple[float, float]
    """Lowest and highest x and y, machine mm."""
    top_mm: float = 0.0
    """Height of its top, machine mm: nothing flies lower over the bed."""
    why: str = ""
    round: bool = False
    """It is the ellipse (a circle if the sides are equal) inside that rectangle."""
    clay_ml: float = 0.0
    """Clay that it is made of, for the list of what to wedge."""
    colour: str | None = None
    """Which clay; None: the first one's."""


@record(frozen=True, slots=True)
class Silence:
    """Turn these source lines (0-based) into comments."""

    lines: NDArray[np.int64] = field(compare=False)
    why: str = ""


@record(frozen=True, slots=True)
class SilencePush:
    """Turn a source line (0-based) that pushes clay in place, and does nothing else, into a comment.

    Its clay is not pushed; E, feed and motion mode are then what the line would have made of them.
    """

    line: int
    why: str = ""


@record(frozen=True, slots=True)
class Rehearse:
    """Nothing is pushed in the whole job, and nothing waited for; a step can't want it.

    E is taken out of all moves. Of what is inserted the ways stay, and the words on the display.
    """

    raise_mm: float
    """How far above its place the job runs; the shift that does it is an intention of its own."""


@record(frozen=True, slots=True)
class Note:
    """Words for the summary alone: nothing changes in the file. `warning` makes it a warning."""

    text: str
    warning: bool = False


@record(frozen=True, slots=True)
class LeastLayerTime:
    """A layer needs so much time to set, s: whoever is quicker in the whole plan is warned of.

    Nothing changes in the file. Of several the longest counts; the config's `clay: least_layer_s` goes before
    them.
    """

    seconds: float


@record(frozen=True, slots=True)
class DryChance:
    """The chance of running dry that is taken for each cartridge, up to 0.5: likelier ones are told of.

    Nothing changes in the file. Of several the least counts; 0.05 where no step says one.
    """

    chance: float


@dataclass(frozen=True, slots=True)
class Expected(Note):
    """A step's words on where a pause stands and its clay is expected: told anew if the pause is moved."""

    pause: Pause | None = None

    def same(self, other: Pause) -> bool:
        """Whether another pause is the one that is meant, wherever it stands."""
        own = self.pause
        return own is not None and (own.kind, own.colour, own.shows_at) == (
            other.kind,
            other.colour,
            other.shows_at,
        )


@dataclass(frozen=True, slots=True)
class Bearing(Note):
    """A step's words on what the wall bears, with the clay that it reckoned with: for the layers' table."""

    clay: Stiffness | None = None


Intention: TypeAlias = (
    LayClay
    | Pause
    | Restart
    | Wait
    | Ask
    | MovePause
    | Say
    | Air
    | AirInPause
    | Command
    | Ban
    | ScaleFeed
    | ScaleFlow
    | Shift
    | Ground
    | Silence
    | SilencePush
    | Rehearse
    | LeastLayerTime
    | DryChance
    | Note
)
