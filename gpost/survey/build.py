"""The first pass: blocks through motion, clay, time and layers, into one frozen Survey."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.errors import SourceError
from gpost.motion.follow import COMMAND_DTYPE, Follower
from gpost.motion.profile import TimeProfile
from gpost.motion.state import MachineState
from gpost.read.block import PAD, Block
from gpost.read.numbering import Numbering
from gpost.read.source import Source
from gpost.read.words import read_block
from gpost.survey.clay import ClayMeter
from gpost.survey.findings import MARK, Findings
from gpost.survey.layers import LayerFinder, Laying, Starts
from gpost.survey.lookup import Lookup
from gpost.survey.model import BlockMark, Survey
from gpost.survey.table import SUMS, LayerTable, Rows

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
        self._commands: list[NDArray[np.void]] = []
        self._profile = TimeProfile(
            acceleration_mm_s2=config.machine.acceleration_mm_s2,
            corner_deviation_mm=config.machine.corner_deviation_mm,
        )
        self._layers = LayerFinder()
        self._table = LayerTable()
        self._untimed: list[Rows] = []
        self._timed: list[Rows] = []
        self._marked = _pattern(config)
        self._own_starts: list[int] = []
        self._numbering = Numbering()
        self._wait_s = 0.0

    def add(self, block: Block) -> None:
        """Follow one block."""
        self._refuse_second_run(block)
        chunk = block.chunk
        self._marks.append(
            BlockMark(chunk.offset, chunk.first_line, chunk.lines, len(chunk.data), self.state, self.clay_ml)
        )
        self._numbering.check(block)
        follower = Follower(block, self.state, self.config.machine, self.config.clay.metering)
        if len(follower.m) or len(follower.other) or len(follower.t_line):
            self._commands.append(follower.commands)
        self._find_own_marks(block)
        self._take(follower, block)
        self.state = follower.end

    def _refuse_second_run(self, block: Block) -> None:
        """The mark stands on the first line, or on the second after a `%`."""
        for line in range(min(max(2 - block.chunk.first_line, 0), block.lines)):
            if MARK in block.line_bytes(line)[: len(MARK) + 8]:
                text = (
                    "this file was already written by gpost; run it on the sliced file, not on its own output"
                )
                raise SourceError(text, line=block.chunk.first_line + line)

    def _find_own_marks(self, block: Block) -> None:
        if self._marked is None:
            return
        places = [PAD + found.start() for found in self._marked.finditer(block.chunk.data)]
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
        with np.errstate(invalid="ignore", divide="ignore"):
            cruise = np.where(feed > 0, moves.length_mm / feed, 0.0)

        wait = moves.wait_s.copy()
        if len(wait):
            wait[0] += self._wait_s
            self._wait_s = moves.tail_wait_s
        else:
            self._wait_s += moves.tail_wait_s
        rows = Rows(
            moves.line + block.chunk.first_line, moves.laying,
            *moves.start, *moves.end,
            moves.length_mm, clay, cruise, np.zeros(len(moves)), wait,
        )  # fmt: skip
        self._untimed.append(rows)
        stop = moves.stop | (moves.wait_s > 0)
        self._settle(self._profile.add(moves.length_mm, feed, moves.entry, moves.exit, stop, moves.radius_mm))

    def _settle(self, times: NDArray[np.float64], *, last: bool = False) -> None:
        """Give the oldest moves their times, and hand them to the layers."""
        if len(times):
            rows = Rows.join(self._untimed)
            timed = rows.cut(None, len(times))
            timed.time_s = times
            self._untimed = [rows.cut(len(times), None)]
            self._timed.append(timed)
            starts = self._starts(timed, last=last)
        elif last:
            starts = self._starts(None, last=True)
        else:
            return
        self._to_table(starts, last=last)

    def _starts(self, timed: Rows | None, *, last: bool) -> Starts:
        if timed is None:
            return self._layers.add(Laying(np.zeros((3, 0)), np.zeros((3, 0)), np.zeros(0)), last=last)
        pick = timed.laying
        start = np.stack([timed.sx[pick], timed.sy[pick], timed.sz[pick]])
        end = np.stack([timed.x[pick], timed.y[pick], timed.z[pick]])
        return self._layers.add(Laying(start, end, timed.length_mm[pick]), last=last)

    def _to_table(self, starts: Starts, *, last: bool) -> None:
        """Rows up to the last settled laying move go to the table; the rest waits."""
        if not self._timed:
            return
        rows = Rows.join(self._timed)
        laying = np.flatnonzero(rows.laying)
        count = len(starts.starts)
        upto = len(rows) if last else (int(laying[count - 1]) + 1 if count else 0)
        if self._marked is not None:
            starts = self._by_own_marks(rows.line[laying[:count]], starts)
        self._table.add(rows.cut(None, upto), starts.starts, starts.kind)
        self._timed = [rows.cut(upto, None)] if upto < len(rows) else []

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
        layers, total = self._table.finish()
        sums = dict(zip(SUMS, total.tolist(), strict=True))
        lead = dict(zip(SUMS, self._table.lead_in.tolist(), strict=True))
        lines = self._marks[-1].first_line + self._marks[-1].lines
        lookup = Lookup(self.source, self.config, self._marks, self._peaks_ml, self.clay_ml)
        clock = _Clock(layers, lead["time_s"], sums["time_s"], lines)
        commands = self._command_table()
        warnings = self.findings.warnings(layers, self._layers, commands)
        return Survey(
            name=self.source.path.name,
            size_bytes=self.source.stamp.size,
            fingerprint=self.source.fingerprint,
            lines=lines,
            layers=layers,
            marks=tuple(self._marks),
            commands=commands,
            bounds_mm=_bounds(layers),
            clay_ml=self.clay_ml,
            time_s=sums["time_s"] + self._wait_s,
            lead_in_s=lead["time_s"],
            lead_in_ml=lead["clay_ml"],
            laid_path_mm=sums["path_mm"],
            travel_path_mm=sums["travel_mm"],
            pieces=self._layers.pieces,
            end_state=self.state,
            laid_until=self._table.laid_until,
            newline=self._numbering.newline,
            numbered=self._numbering.numbered,
            warnings=warnings,
            find_clay=lookup.find_clay,
            clay_before=lookup.clay_before,
            clock_before=clock.before,
        )

    def _command_table(self) -> NDArray[np.void]:
        return np.concatenate(self._commands) if self._commands else np.zeros(0, COMMAND_DTYPE)


class _Clock:
    """Seconds before a line: exact at layer starts, linear between them."""

    def __init__(self, layers: NDArray[np.void], lead_in_s: float, total_s: float, lines: int) -> None:
        ends = lead_in_s + np.cumsum(layers["time_s"]) if len(layers) else np.zeros(0)
        self._lines = np.concatenate([[0.0], layers["first_line"].astype(float), [float(lines)]])
        inner = np.concatenate([[lead_in_s], ends[:-1]]) if len(layers) else np.zeros(0)
        self._clock = np.concatenate([[0.0], inner, [total_s]])

    def before(self, line: int) -> float:
        """Seconds before a 0-based line."""
        return float(np.interp(line, self._lines, self._clock))


def _bounds(layers: NDArray[np.void]) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    return (
        (float(layers["x_min_mm"].min()), float(layers["x_max_mm"].max())),
        (float(layers["y_min_mm"].min()), float(layers["y_max_mm"].max())),
        (float(layers["low_mm"].min()), float(layers["height_mm"].max())),
    )


def _pattern(config: Config) -> re.Pattern[bytes] | None:
    text = config.layers.comment_pattern
    return None if text is None else re.compile(text.encode(), re.MULTILINE)


def survey_source(
    source: Source, config: Config, progress: Progress | None = None, observers: Sequence[Observer] = ()
) -> Survey:
    """Survey a source. Raises SourceError, with the line, for a file that can't be read or followed."""
    builder = SurveyBuilder(source, config, observers)

    def step(builder: SurveyBuilder, block: Block) -> SurveyBuilder:
        builder.add(block)
        if progress is not None:
            progress(block.chunk.offset + len(block.chunk.data), source.stamp.size)
        return builder

    reduce(step, map(read_block, source.chunks()), builder)
    return builder.finish()
