"""The survey: what the first pass learned about the file, frozen."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import field, fields, replace
from functools import cached_property
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.common.frozen import frozen, locked
from gpost.common.records import record
from gpost.config.metering import PathBead
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.motion.studioair import AsWritten
from gpost.read.source import Chunk, Source
from gpost.spot import START, Spot
from gpost.survey.beside import NO_ASIDE, Beside
from gpost.survey.inside import Lookup, Place, Pushes, first_bead
from gpost.survey.layerrows import HEIGHT_STEP_MM, Counted, OddStretch, counted, loose, waves_between
from gpost.survey.stands import Stand

Follow: TypeAlias = Callable[[int], Follower]


@record(frozen=True, slots=True)
class BlockMark:
    """Where a block of the source starts, and the state there: pass 2 can begin at any of them."""

    offset: int
    first_line: int
    lines: int
    size: int
    state: MachineState
    clay_ml: float
    """Net clay metered before the block."""
    feeds: NDArray[np.void] | None = None
    """By which its feeds can be changed without reading it again: see gpost/survey/feedmarks.py."""

    def read(self, source: Source) -> Chunk:
        """The block's bytes again. Raises SourceError if the file has changed."""
        return Chunk(source.read_range(self.offset, self.size), self.offset, self.first_line)


class NamedCommand(NamedTuple):
    """A command with a name instead of a letter and a number, as some machines have them."""

    line: int
    name: str
    """In capitals."""


class OwnPause(NamedTuple):
    """A line of the file that makes the machine wait."""

    line: int
    command: str
    """`M0`, or a name."""
    goes_on_after_s: float | None = None
    """How long it says that it stands still before it goes on by itself; None: until somebody goes on."""


def _no_file(_index: int) -> Follower:
    raise ValueError("this survey has no file that could be read again")


@record(frozen=True)
class Survey:
    """The frozen result of pass 1. Lines are 0-based; bounds are of the laid clay, in machine mm."""

    name: str
    size_bytes: int
    lines: int
    layers: NDArray[np.void]
    """shape (n,), LAYER_DTYPE, in printing order."""
    marks: tuple[BlockMark, ...]
    commands: NDArray[np.void]
    """shape (k,), fields letter ('S1'), code_x10 (i4: M104 is 1040, G38.2 is 382), line (i8): every
    command that is no plain move, in order."""
    bounds_mm: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    """(x low, x high), (y low, y high), (z low, z high) of the laid clay."""
    clay_ml: float
    """Net clay metered by the whole file."""
    time_s: float
    lead_in_s: float
    """Time before layer 1's first line."""
    lead_in_ml: float
    """Net clay metered before layer 1's first line: the source's own prime, and what it lays round the piece
    or beside it before the first layer, at that one's height."""
    laid_path_mm: float
    travel_path_mm: float
    pieces: int
    """Pieces printed one after the other; steps that go by height need 1."""
    end_state: MachineState
    laid_until: int
    """The line after the last one that lays clay."""
    newline: bytes
    numbered: bool
    """Whether lines carry N numbers or checksums."""
    lookup: Lookup = field(repr=False, compare=False)
    """What is asked of single lines and spots: the methods below that are named as in it."""
    beside: tuple[Beside, ...] = ()
    """What the file lays round the piece or beside it at the height of the first layer."""
    aside: NDArray[np.void] = field(repr=False, default_factory=lambda: NO_ASIDE)
    """All that it lays and that is none of any layer, at whatever height, ASIDE_DTYPE."""
    path_bead: PathBead | None = None
    """The bead by which clay is metered where the file has no E; None where it has."""
    warnings: tuple[str, ...] = ()
    wrong_mode: str = ""
    """The one among the warnings that says that E seems to be read in the wrong mode; empty: none does."""
    metering: str = ""
    """The one among them that says that clay by E and by the path disagree; empty: none does."""
    own_primes: Mapping[str, int] = field(default_factory=dict)
    """Those among the warnings that tell of a push in one place, each with its line."""
    retell: Callable[[int], tuple[str, ...]] | None = field(default=None, repr=False, compare=False)
    """What is said of the lines from one on, counted from 0; None: all that is known are `warnings`."""
    own_pauses: tuple[OwnPause, ...] = ()
    """Where the file itself makes the machine wait."""
    as_written: Mapping[AsWritten, int] = field(default_factory=dict)
    """How often each command of the studio's blower comes, which stand as others among `commands`."""
    named: Mapping[str, int] = field(default_factory=dict)
    """How often each command by name comes; names in capitals."""
    unknown: tuple[NamedCommand, ...] = ()
    """Commands by name that the config doesn't know, in order, as many as are worth keeping."""
    unknown_beyond: int | None = None
    """The line of the first of them that is not kept."""
    laid_from: int | None = None
    """The first line that lays clay, the file's own prime too."""
    moves_until: int = 0
    """The line after the last one that moves."""
    homings: tuple[int, ...] = ()
    """Lines after the first clay that home Z once more, as many as are worth keeping."""
    homed_midway: int | None = None
    """The first line between the piece's first clay and its last that homes Z once more."""
    homed_aside: tuple[int, ...] = ()
    """Lines after the first clay that home X or Y alone, where the next bead begins there; as many."""
    homed_low: tuple[int, ...] = ()
    """The same no higher than the bead before, where the next begins elsewhere."""
    let_go: tuple[int, ...] = ()
    """Lines after the first clay that let the motors go, as many as are worth keeping."""
    follow: Follow = field(repr=False, compare=False, default=_no_file)
    """Index of a mark -> the machine's way through its block, read again."""
    kept: tuple[Follower, ...] = field(repr=False, compare=False, default=())
    """The ways through all blocks, if the file is short enough to keep them."""

    def lines_with(self, letter: str, codes_x10: Iterable[int]) -> NDArray[np.int64]:
        """Lines that hold one of these codes, ascending, each once; codes times ten, as in `commands`."""
        lines = self.commands["line"][codes.said(self.commands, letter, codes_x10)]
        again = np.flatnonzero(lines[1:] == lines[:-1])
        return np.delete(lines, again) if len(again) else lines

    def __post_init__(self) -> None:
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, np.ndarray | Mapping):
                object.__setattr__(self, each.name, frozen(value))

    def for_steps(self) -> Survey:
        """A copy without what only the second pass needs: what a step does with it, nobody else sees."""
        return replace(self, marks=(), follow=_no_file, kept=())

    # -- asked of the file itself: see Lookup for what is common to them -----------------------

    def find_clay(self, clay_ml: float, since: Spot = START, until: Spot | None = None) -> Spot:
        """The first spot from `since` on where net clay reaches clay_ml; `until` if it doesn't before that.

        It is exact, inside a move. `until` is the end of the file if it is left out.
        """
        return self.lookup.find_clay(clay_ml, since, until)

    def clay_before(self, spot: Spot) -> float:
        """Net clay in ml metered by the source before the spot."""
        return self.lookup.clay_before(spot)

    def most_clay(self, start: Spot, end: Spot) -> float:
        """The highest net clay in ml at any spot from `start` to `end`, both counted."""
        return self.lookup.most_clay(start, end)

    def stands_at(self, spot: Spot, *, arcs: bool = False) -> Spot:
        """Where something inserted at the spot stands: before the line, if its move can't be split.

        An arc is split only for what goes on with a stopped print, which asks with `arcs`.
        """
        return self.lookup.stands_at(spot, arcs=arcs)

    def laid_z(self, spot: Spot) -> float | None:
        """Height in mm at which clay is laid at the spot, or next after it; None if none is."""
        place = self.laid_at(spot)
        return None if place is None else place[2]

    def laid_at(self, spot: Spot) -> Place | None:
        """Where clay is laid at the spot, or next after it; None if none is."""
        return self.lookup.laid_at(spot)

    def rises_to(self, first_line: int, end_line: int, height_mm: float) -> Spot | None:
        """The first spot on these lines at which clay is laid at that height or above; None without one."""
        return self.lookup.rises_to(first_line, end_line, height_mm)

    def laid_points(self, first_line: int, end_line: int) -> NDArray[np.float64]:
        """Points that the clay laid on these lines leads through: x and y, machine mm, shape (2, k)."""
        return self.lookup.laid_points(first_line, end_line)

    def laid_path(self, first_line: int, end_line: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """(lines among these that lay clay, the path laid on each in mm), both of shape (k,)."""
        return self.lookup.laid_path(first_line, end_line)

    def laid_way(self, spot: Spot, length_mm: float) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """The laid path that leads to a spot, that long or as far as it hangs together, from its start.

        (line that lays to or from each place, its x, y, z in machine mm), of shapes (k,) and (3, k); none
        where the nozzle was moved aside since.
        """
        return self.lookup.laid_way(spot, length_mm)

    def pushes(self, first_line: int, end_line: int) -> Pushes:
        """What pushes clay in place on these lines, or draws it back."""
        return self.lookup.pushes(first_line, end_line)

    def stands(self, lines: Sequence[int]) -> tuple[Stand, ...]:
        """Where the nozzle stands on these lines, which rise, if it is off the bead there."""
        return self.lookup.stands(lines)

    def pushed_standing(self, end_line: int) -> tuple[Stand, ...]:
        """Where, before a line, the file dwells (G4) off the bead while it has clay switched on.

        How much comes out there is not known, and counted nowhere.
        """
        on = self.lines_with("M", (codes.CLAY_ON,))
        off = self.lines_with("M", (codes.CLAY_ON_REVERSE, codes.CLAY_OFF))
        dwells = self.lines_with("G", (codes.DWELL,)) if len(on) else on
        dwells = dwells[dwells < end_line]
        # what switches on a dwell's own line does so before it (NISTIR 6556, section 3.8)
        last_on, last_off = (
            np.append(-1, lines)[np.searchsorted(lines, dwells, side="right")] for lines in (on, off)
        )
        return self.stands(dwells[last_on > last_off].tolist())

    def lifted_from(self, line: int, height_mm: float) -> int:
        """The line, from this one on, before which the nozzle has gone above a height, or homed.

        The end of the file if it never does.
        """
        return self.lookup.lifted_from(line, height_mm)

    # -- read from the tables -------------------------------------------------------------------

    def clock_before(self, line: int) -> float:
        """Seconds from the start of the file to a line: exact at layer starts, by lines between them."""
        return float(np.interp(line, *self._clock))

    def clock_at(self, spot: Spot) -> float:
        """`clock_before` at a spot, by the times of the moves: inside a layer that is read again for it."""
        lines, seconds = self._clock
        at = int(np.searchsorted(lines, spot.line, side="right")) - 1
        if at == len(lines) - 1 or (lines[at] == spot.line and not spot.fraction):
            return float(seconds[at])
        share = self.lookup.time_share(int(lines[at]), int(lines[at + 1]), spot)
        return float(seconds[at] + share * (seconds[at + 1] - seconds[at]))

    @cached_property
    def _clock(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lines and the seconds before them, shape (layers + 2,) each."""
        first, own_s = self.layers["first_line"].astype(float), self.layers["time_s"]
        starts_s = self.lead_in_s + np.cumsum(own_s)[:-1]
        lead_in_s = [self.lead_in_s] if len(first) else []
        lines = np.concatenate([[0.0], first, [float(self.lines)]])
        return lines, np.concatenate([[0.0], lead_in_s, starts_s, [self.time_s]])

    @cached_property
    def odd(self) -> tuple[OddStretch, ...]:
        """Stretches of layers that are a guess, in printing order."""
        odd, first_line = self.layers["odd"], np.append(self.layers["first_line"], self.lines)
        edges = np.flatnonzero(np.diff(odd, prepend=False, append=False)).tolist()
        return tuple(
            OddStretch(
                int(first_line[begin]),
                int(first_line[end]),
                begin + 1,
                end,
                float(self.layers["low_mm"][begin:end].min()),
                float(self.layers["height_mm"][begin:end].max()),
            )
            for begin, end in zip(edges[::2], edges[1::2], strict=True)
        )

    def warnings_since(self, line: int) -> tuple[str, ...]:
        """What is said of the lines from this one on, and of the file as a whole."""
        return self.warnings if not line or self.retell is None else self.retell(line)

    @cached_property
    def first_bead(self) -> int:
        """The line that lays the first clay of layer 1. It is found by reading that layer again."""
        return first_bead(self.layers, self.lines, self.lookup)

    @property
    def height_mm(self) -> float:
        """Nozzle height of the highest laid clay, above machine zero."""
        return self.bounds_mm[2][1]

    def index_at(self, line: int) -> int:
        """Index of the layer that a line belongs to; -1 before the first."""
        return int(np.searchsorted(self.layers["first_line"], line, side="right")) - 1

    def start_of(self, index: int) -> Spot:
        """Where the layer of that index starts; beyond the last one, the end of the file."""
        return Spot(int(self.layers["first_line"][index]) if index < len(self.layers) else self.lines)

    def height_at(self, spot: Spot) -> float:
        """Nozzle height in mm at which printing goes on at the spot: of the bead at that very place.

        On a wall that waves that is no height of its turn. 0 for a file that lays no clay.
        """
        if not len(self.layers):
            return 0.0
        index = max(self.index_at(spot.line), 0)
        row = self.layers[index]
        low_mm, high_mm = float(row["low_mm"]), float(row["height_mm"])
        if high_mm - low_mm < HEIGHT_STEP_MM:
            return high_mm
        # where most changes are: the file needn't be read for it
        at_start = spot <= self.start_of(index)
        laid_mm = float(row["start_z_mm"]) if at_start else self.laid_z(spot)
        return high_mm if laid_mm is None else min(max(laid_mm, low_mm), high_mm)

    def heights_between(self, first: Spot, last: Spot) -> tuple[float, float]:
        """The lowest and the highest at which something may be laid from one spot to another, mm.

        On a wall that waves they are those of the turns in which the spots lie.
        """
        turns = [max(self.index_at(spot.line), 0) for spot in (first, last)]
        waves_mm = self.waves_between(*turns)
        if waves_mm is not None:
            return waves_mm
        low_mm, high_mm = sorted(map(self.height_at, (first, last)))
        return low_mm, high_mm

    def waves_between(self, first: int, last: int) -> tuple[float, float] | None:
        """(lowest, highest place) of the layers from one index to another, mm; None where none of them waves.

        Such a one is level, or goes from its lowest place at its start to its highest where the next starts.
        """
        return waves_between(self.layers, first, last)

    def spot_at(self, height_mm: float) -> Spot | None:
        """Where the wall reaches that height; None above the top.

        A level layer is reached at its start, a turn that tilts or waves by the share of its clay between the
        heights from which on it and the next count.
        """
        index, asked_of = self.first_above(height_mm), self.counted
        if index == 0:
            return self.start_of(0)
        start, end = self.start_of(index - 1), self.start_of(index)
        is_last = index == len(self.layers)
        if is_last and height_mm > float(self.layers["height_mm"][-1]) + HEIGHT_STEP_MM:
            return None
        here_mm = float(asked_of.from_mm[index - 1])
        top_mm = float(asked_of.to_mm[-1] if is_last else asked_of.from_mm[index])
        if height_mm >= top_mm - HEIGHT_STEP_MM and not is_last:
            return end
        if self._climbs(index - 1) or height_mm > top_mm:
            found = self.rises_to(start.line, end.line, height_mm)
            return end if found is None else found
        share = (height_mm - here_mm) / (top_mm - here_mm)
        return self.find_clay(self.clay_before(start) + share * float(self.layers["clay_ml"][index - 1]))

    def first_above(self, height_mm: float) -> int:
        """Index of the first layer that counts from the height on or above it; else the number of layers."""
        reached = self.counted.from_mm >= height_mm - HEIGHT_STEP_MM
        return int(reached.argmax()) if reached.any() else len(reached)

    @cached_property
    def counted(self) -> Counted:
        """For which heights each layer counts where one is asked for: the one answer for all steps.

        A level layer does for its own, a turn that climbs from its lowest place to its highest. One that
        tilts or waves does for as much as the wall rises by in it, round the middle of the two.
        """
        return Counted(*map(locked, counted(self.layers)))

    @cached_property
    def loose(self) -> NDArray[np.bool_]:
        """Whether a height asked for inside each layer is itself the place, and not a layer's start.

        So it is in layers that are odd, or that rise by many times what the others do.
        """
        return locked(loose(self.layers))

    def _climbs(self, index: int) -> bool:
        """Whether the layer lies below the next one as a whole, so that heights inside it are passed once."""
        low_mm = self.layers["low_mm"]
        if index + 1 >= len(low_mm):
            return not self.counted.beside_mm[index]
        return bool(self.layers["height_mm"][index] <= low_mm[index + 1] + HEIGHT_STEP_MM)
