"""The first pass: blocks through motion, clay, time and layers, into one frozen Survey."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from gpost.common.memory import give_memory_back, keep_memory
from gpost.config.model import Config
from gpost.config.pattern import matching_lines
from gpost.motion.arcbox import PlaneArcs, arcs_of, boxes_mm
from gpost.motion.follow import COMMAND_DTYPE, Follower
from gpost.motion.moves import Moves
from gpost.motion.profile import TimeProfile
from gpost.motion.state import MachineState
from gpost.motion.studioair import AsWritten
from gpost.read.ahead import ahead
from gpost.read.block import PAD, Block
from gpost.read.numbering import Numbering
from gpost.read.source import Source
from gpost.read.words import read_block
from gpost.survey.arcsteps import ArcSteps
from gpost.survey.clay import ClayMeter
from gpost.survey.feedmarks import feed_marks
from gpost.survey.findings import Findings
from gpost.survey.growing import Growing
from gpost.survey.inside import first_bead
from gpost.survey.layerrows import bounds_of
from gpost.survey.layers import LayerFinder
from gpost.survey.lookup import FileLookup
from gpost.survey.model import BlockMark, Survey
from gpost.survey.ownpauses import MOST, own_pauses
from gpost.survey.path import Laying, Starts
from gpost.survey.rows import SUMS, Amount, Rows
from gpost.survey.secondrun import SecondRun
from gpost.survey.table import LayerSums
from gpost.survey.thrift import held_together

KEPT_BLOCKS = 2
"""A file of no more is short enough to be kept as it was read: it needn't be read again."""

FEW_MOVES = 100
"""Moves in a row that lay clay, on the average, from which on they are taken in parts, not one by one."""

MANY_PARTS = 50_000
"""Parts of which the tables are larger than a block."""

Progress = Callable[[int, int], None]
Observer = Callable[[Follower, NDArray[np.float64]], None]
"""Called with each block's follower and the clay of its moves in ml, shape (m,), in order."""


class SurveyBuilder:
    """Takes blocks in order, once each; `finish` gives the frozen survey.

    Raises SourceError for what can't be read or followed.
    """

    def __init__(self, source: Source, config: Config, observers: Sequence[Observer] = ()) -> None:
        self.source, self.config, self.observers = source, config, observers
        self.state = MachineState(relative=False)
        self.meter = ClayMeter(config)
        self.clay_ml = 0.0
        self._peaks_ml: list[float] = []
        self.findings = Findings(config)
        self._marks: list[BlockMark] = []
        self._kept: list[Follower] = []
        self._commands = Growing(COMMAND_DTYPE)
        self._air = Counter[AsWritten]()
        self._profile = TimeProfile(
            acceleration_mm_s2=config.machine.acceleration_mm_s2,
            corner_deviation_mm=config.machine.corner_deviation_mm,
        )
        self._layers = LayerFinder()
        self._arc_steps = ArcSteps()
        self._table = LayerSums()
        self._untimed: list[Rows] = []
        self._timed: list[Rows] = []
        self._marked = config.layers.comment_pattern
        self._own_starts: list[int] = []
        self._numbering = Numbering()
        self._second_run = SecondRun()
        self._stopped, self._wait_s = False, 0.0
        self._timed_stops_s: dict[int, float] = {}

    def add(self, block: Block) -> None:
        """Follow one block."""
        self._second_run.refuse(block)
        chunk = block.chunk
        self._numbering.check(block)
        follower = Follower(block, self.state, self.config.machine, self.config.clay.metering)
        place = (chunk.offset, chunk.first_line, chunk.lines, len(chunk.data))
        self._marks.append(BlockMark(*place, self.state, self.clay_ml, feed_marks(follower)))
        if len(follower.m) or len(follower.other) or len(follower.t_line) or block.odd:
            commands = follower.commands
            self._commands.add(len(commands))[:] = commands
            self._air.update(follower.as_written)
            self._note_timed_stops(follower)
        self._find_own_marks(block)
        self._take(follower, block)
        self.state = follower.end
        self._keep(follower)

    def _note_timed_stops(self, follower: Follower) -> None:
        line, seconds = follower.timed_stops
        line = line[: MOST - len(self._timed_stops_s)] + follower.block.chunk.first_line
        self._timed_stops_s |= dict(zip(line.tolist(), seconds.tolist(), strict=False))

    def _keep(self, follower: Follower) -> None:
        short = self.source.size <= KEPT_BLOCKS * self.source.chunk_bytes
        if short and len(self._marks) <= KEPT_BLOCKS:
            self._kept.append(follower)
        else:  # there are more blocks than chunks where the lines are short
            self._kept.clear()

    def _find_own_marks(self, block: Block) -> None:
        if self._marked is None:
            return
        places = [PAD + place for place in matching_lines(self._marked, block.chunk.data)]
        lines = np.searchsorted(block.line_end, places) + block.chunk.first_line
        self._own_starts += lines.tolist()

    def _take(self, follower: Follower, block: Block) -> None:
        moves = follower.moves
        clay = self.meter.clay_ml(moves)
        for observe in self.observers:
            observe(follower, clay)
        # summed one by one, so that the sums are those that a look-up finds inside a block
        after = self.clay_ml + np.cumsum(clay) if len(clay) else np.array([self.clay_ml])
        self.clay_ml = float(after[-1])
        self._peaks_ml.append(float(after.max()))
        self.findings.add(block, follower, clay)
        feed = moves.feed_mm_min / 60
        arcs = arcs_of(follower)
        rows = _rows(follower, arcs, clay, feed)
        self._arc_steps.note(moves.laying, arcs)
        radius_mm = None if moves.exit is moves.entry else moves.radius_mm  # without arcs they are one
        real, stop, wait = self._waits(moves)
        length_mm, entry, exit = moves.length_mm, moves.entry, moves.exit
        if len(real) < len(moves):
            rows, length_mm, feed = rows.take(real), length_mm[real], feed[real]
            entry, exit = entry.take(real, axis=1), exit.take(real, axis=1)
            radius_mm = None if radius_mm is None else radius_mm[real]
        rows.amounts[Amount.WAIT_S] = wait
        self._untimed.append(rows)
        self._settle(self._profile.add(length_mm, feed, entry, exit, stop, radius_mm))

    def _waits(self, moves: Moves) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.float64]]:
        """The moves that go anywhere, whether the machine stands before each, how long it dwells there.

        What comes after the last move of a block belongs before the first of the next, and what comes before
        a move that goes nowhere before the one after it: a file may have any number of those.
        """
        stop, wait = np.append(moves.stop, moves.tail_stop), np.append(moves.wait_s, moves.tail_wait_s)
        stop[0] |= self._stopped
        wait[0] += self._wait_s
        real = np.flatnonzero(moves.length_mm)
        if len(real) < len(moves):
            begins = np.append(0, real + 1)
            stop, wait = np.logical_or.reduceat(stop, begins), np.add.reduceat(wait, begins)
        self._stopped, self._wait_s = bool(stop[-1]), float(wait[-1])
        return real, stop[:-1], wait[:-1]

    def _settle(self, times: NDArray[np.float64], *, last: bool = False) -> None:
        """Give the oldest moves their times, and hand them to the layers."""
        moves: list[Laying] = []
        held = sum(map(_count_laying, self._timed))
        for part in self._timed_now(times):
            few = held_together(part, held)
            self.findings.few_held |= _count_laying(few) < _count_laying(part)
            self._timed.append(few)
            moves += self._arc_steps.spread(_laying(few), _count_laying(part))
        self._to_table(self._arc_steps.gather(self._layers.add(moves, last=last)), last=last)

    def _timed_now(self, times: NDArray[np.float64]) -> list[Rows]:
        """The oldest moves, taken from those without a time."""
        done: list[Rows] = []
        while len(times):
            part = self._untimed[0].cut(None, len(times))
            part.amounts[Amount.TIME_S] = times[: len(part)]
            times = times[len(part) :]
            done.append(part)
            if len(part) < len(self._untimed[0]):
                self._untimed[0] = self._untimed[0].cut(len(part), None)
            else:
                del self._untimed[0]
        return done

    def _to_table(self, starts: Starts, *, last: bool) -> None:
        """Rows up to the last settled laying move go to the table; the rest waits."""
        done = 0
        while self._timed and (done < len(starts.starts) or last):
            part = self._timed.pop(0)
            laying = np.flatnonzero(part.laying)[: len(starts.starts) - done]
            upto = int(laying[-1]) + 1 if len(laying) else 0
            if last and not self._timed:
                upto = len(part)
            now = Starts(starts.starts[done : done + len(laying)], starts.kind[done : done + len(laying)])
            if self._marked is not None:
                now = self._by_own_marks(part.line[laying], now)
            self._table.add(part.cut(None, upto), now.starts, now.kind)
            done += len(laying)
            self._wait_for_more(part.cut(upto, None))

    def _wait_for_more(self, rest: Rows) -> None:
        """Moves after the last clay belong with what comes next."""
        if not len(rest):
            return
        if self._timed and not rest.laying.any():
            rest = Rows.join([rest, self._timed.pop(0)])
        self._timed.insert(0, rest)

    def _by_own_marks(self, lines: NDArray[np.int64], starts: Starts) -> Starts:
        """Layers as the file's own comments say: the first laying move after each mark."""
        if not len(lines):
            return starts
        marks = np.array([m for m in self._own_starts if m > self._last_marked])
        passed = np.searchsorted(marks, lines)
        own = np.diff(passed, prepend=0) > 0
        if passed[-1]:
            self._last_marked = int(marks[passed[-1] - 1])
        return Starts(own, starts.kind)

    _last_marked = -1

    def finish(self) -> Survey:
        """The survey of all blocks added."""
        self._settle(self._profile.finish(), last=True)
        if len(self._table) > MANY_PARTS:
            give_memory_back()
        lookup = FileLookup(self.source, self.config, self._marks, self._peaks_ml, self.clay_ml, self._kept)
        layers, total = self._table.finish(self.meter.bead_width_mm, lookup.laid_points)
        sums = dict(zip(SUMS, total.tolist(), strict=True))
        lead = dict(zip(SUMS, self._table.lead_in.tolist(), strict=True))
        lines = self._marks[-1].first_line + self._marks[-1].lines
        commands = self._commands.rows
        places = self.findings.places
        homed = places.homed_since(first_bead(layers, lines, lookup)) if places.homings else None
        told = partial(self.findings.warnings, layers, self._table.pieces, commands, homed, lines, lookup)
        warnings = told(0)
        layers["time_s"][-1] += self._wait_s
        time_s = sums["time_s"] + self._wait_s
        return Survey(
            name=self.source.path.name,
            size_bytes=self.source.size,
            lines=lines,
            layers=layers,
            marks=tuple(self._marks),
            commands=commands,
            bounds_mm=bounds_of(layers),
            clay_ml=self.clay_ml,
            time_s=time_s,
            lead_in_s=lead["time_s"],
            lead_in_ml=lead["clay_ml"],
            beside=self._table.beside,
            aside=self._table.aside,
            path_bead=self.meter.path_bead,
            laid_path_mm=sums["path_mm"],
            travel_path_mm=sums["travel_mm"],
            pieces=self._table.pieces,
            end_state=self.state,
            laid_until=places.laid_until,
            newline=self._numbering.newline,
            numbered=self._numbering.numbered,
            warnings=warnings,
            wrong_mode=self.findings.wrong_mode,
            metering=self.findings.metering,
            own_primes=self.findings.own_primes(layers, lines, lookup),
            retell=told,
            own_pauses=own_pauses(commands, self.findings.named.pausing, self.config, self._timed_stops_s),
            as_written=dict(self._air),
            named=dict(self.findings.named.counts),
            unknown=tuple(self.findings.named.unknown),
            unknown_beyond=self.findings.named.unknown_beyond,
            laid_from=places.laid_from,
            moves_until=places.moves_until,
            homings=tuple(places.homings),
            homed_midway=homed,
            homed_aside=tuple(places.homed_aside),
            homed_low=tuple(places.homed_low),
            let_go=tuple(places.let_go),
            lookup=lookup,
            follow=lookup.follow,
            kept=tuple(self._kept),
        )


def _rows(
    follower: Follower,
    arcs: Sequence[PlaneArcs],
    clay: NDArray[np.float64],
    feed_mm_s: NDArray[np.float64],
) -> Rows:
    """The moves of a block for the layers, as yet without the times of moves and dwells."""
    moves = follower.moves
    box = boxes_mm(follower, arcs) if arcs else ()
    amounts = np.empty((len(Amount), len(moves)))
    amounts[Amount.LENGTH_MM], amounts[Amount.CLAY_ML] = moves.path_mm, clay
    paced = feed_mm_s > 0
    if paced.all():
        np.divide(moves.length_mm, feed_mm_s, out=amounts[Amount.CRUISE_S])
    else:
        amounts[Amount.CRUISE_S] = 0.0
        np.divide(moves.length_mm, feed_mm_s, out=amounts[Amount.CRUISE_S], where=paced)
    line = moves.line + follower.block.chunk.first_line
    return Rows(line, moves.laying, moves.start, moves.end, amounts, *box)


def _count_laying(rows: Rows) -> int:
    return int(np.count_nonzero(rows.laying))


def _laying(rows: Rows) -> list[Laying]:
    """The moves among these that lay clay, in parts."""
    start, end, length_mm = rows.start, rows.end, rows.amounts[Amount.LENGTH_MM]
    edges = np.flatnonzero(rows.laying[1:] != rows.laying[:-1]) + 1
    if len(edges) * FEW_MOVES > len(rows):
        pick = np.flatnonzero(rows.laying)
        return [Laying(start.take(pick, axis=1), end.take(pick, axis=1), length_mm.take(pick))]
    # the arrays are shared: they will be copied once, when they are joined to what came before
    parts = pairwise([0, *edges.tolist(), len(rows)])
    return [Laying(start[:, a:b], end[:, a:b], length_mm[a:b]) for a, b in parts if rows.laying[a:b].any()]


def survey_source(
    source: Source,
    config: Config,
    progress: Progress | None = None,
    observers: Sequence[Observer] = (),
    *,
    helper: bool = True,
) -> Survey:
    """Survey a source; `helper`: with a thread that reads ahead.

    Raises SourceError, with the line, for a file that can't be read or followed.
    """
    keep_memory()
    builder = SurveyBuilder(source, config, observers)

    blocks = map(read_block, source.chunks())
    for block in ahead(blocks, helper=helper and source.size > source.chunk_bytes):
        builder.add(block)
        done = block.chunk.offset + len(block.chunk.data)
        del block  # or it would be kept while the next is waited for
        if progress is not None:
            progress(done, source.size)
    return builder.finish()
