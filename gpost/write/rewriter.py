"""The second pass: copies untouched blocks as bytes, edits the others, inserts what the compiler wrote."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import BinaryIO, NoReturn, TypeVar

import numpy as np

from gpost.common.among import among
from gpost.common.records import record
from gpost.errors import PlanError
from gpost.motion.inplace import alone
from gpost.plan.intentions import LayClay, Pause, Rehearse, ScaleFeed, ScaleFlow, Shift, Silence, SilencePush
from gpost.plan.plan import Plan
from gpost.plan.resume import is_written
from gpost.read.ahead import ahead
from gpost.read.block import PAD
from gpost.read.source import CHUNK_BYTES, Chunk, Source
from gpost.read.words import read_block
from gpost.spot import Spot
from gpost.survey.marks import NOT_SPLIT, WROTE
from gpost.survey.model import BlockMark
from gpost.write.compiler import Compiler, Insertion, Situation
from gpost.write.feeds import FeedScaler
from gpost.write.flows import FlowScaler
from gpost.write.harmless import beside_air, matters
from gpost.write.noclay import NoClay
from gpost.write.output import Output, Written
from gpost.write.owed import Owed
from gpost.write.ownwaits import Inserted, OwnWaits
from gpost.write.renumber import Renumberer
from gpost.write.samples import Samples
from gpost.write.scaling import count_edits
from gpost.write.script import Script, e_register, made_up
from gpost.write.sent import REGISTER, Sent, SentTally
from gpost.write.sharing import beside_moves
from gpost.write.shifts import Shifter
from gpost.write.silenced import Silenced
from gpost.write.splitarc import split_parts
from gpost.write.work import Work, advanced, moved

Progress = Callable[[int, int], None]
T = TypeVar("T")


@record(frozen=True, slots=True)
class Insert:
    """An insertion, its place, and its index in the plan's entries."""

    spot: Spot
    index: int
    insertion: Insertion


class Rewriter:
    """Writes the output of one plan. `write` may be called once."""

    def __init__(self, source: Source, plan: Plan, header: str, *, helper: bool = True) -> None:
        """`header`: words of the first line, written if anything changes; `helper`: a thread reads ahead."""
        self._helper = helper
        self._source, self._plan, self._header = source, plan, header
        self._places: dict[int, tuple[int, int]] = {}
        self._waits: dict[int, int] = {}
        self._edited: dict[int, int] = {}
        self._sent = SentTally()
        self._samples = Samples(plan)
        self._compiler = Compiler(plan)
        self._own = OwnWaits(plan, self._compiler.blower)
        self._feeds = FeedScaler(self._entries(ScaleFeed))
        rehearsal = self._entries(Rehearse)
        self._dry = bool(rehearsal)
        self._flows = NoClay(rehearsal[0][0]) if rehearsal else FlowScaler(self._entries(ScaleFlow))
        self._shifts = Shifter(self._entries(Shift))
        self._scalers = (self._feeds, self._flows, self._shifts)
        self._owed = Owed()
        self._kept = {
            mark.offset: kept for mark, kept in zip(plan.survey.marks, plan.survey.kept, strict=False)
        }
        self._restart = plan.restart
        self._marks = list(plan.survey.marks)
        if self._restart is not None:
            self._cut_at(self._restart.spot.line)
        intentions = [
            Insert(entry.intention.spot, index, entry.intention)
            for index, entry in enumerate(plan.entries)
            if isinstance(entry.intention, Insertion) and is_written(plan, index)
        ]
        self._intentions = sorted(intentions, key=lambda intention: (intention.spot, intention.index))
        self._pushes = {intention.line: index for index, intention in self._entries(SilencePush)}
        self._silenced = Silenced.of(
            [(index, intention.lines) for index, intention in self._entries(Silence)]
            + [
                (index, np.array([intention.line], np.int64))
                for index, intention in self._entries(SilencePush)
            ]
        )
        self._touched = (
            np.array([intention.spot.line for intention in self._intentions], np.int64),
            self._silenced.line,
            self._own.resting,
        )
        """Lines that are silenced, or before or around which something is inserted, each ascending."""

    def _entries(self, kind: type[T]) -> list[tuple[int, T]]:
        entries = enumerate(self._plan.entries)
        return [(index, entry.intention) for index, entry in entries if isinstance(entry.intention, kind)]

    def write(self, file: BinaryIO, progress: Progress | None = None) -> Written:
        """Write everything. Raises PlanError, SourceError; what was written so far is then worthless."""
        survey = self._plan.survey
        self._out = self._output(file)
        read = map(self._read, self._marks)
        for mark, chunk, work in ahead(read, helper=self._helper and len(self._marks) > 1):
            self._block(mark, chunk, work)
            del chunk, work  # or they would be kept while the next are waited for
            if progress is not None:
                progress(mark.offset + mark.size, survey.size_bytes)
        self._at_end()
        self._out.finish()
        self._source.check_unchanged()
        done = self._out.size, self._out.lines, self._places, self._own.places, self._edited
        first = 0 if self._restart is None else self._restart.spot.line
        sent, inserted = self._sent.commands, tuple(self._out.inserted)
        return Written(*done, sent, inserted, first, self._samples.found, self._waits)

    def _output(self, file: BinaryIO) -> Output:
        """The output; without a header and with the source's numbers if nothing is changed."""
        survey = self._plan.survey
        scaled = any(scaler.touches(0, survey.lines) for scaler in self._scalers)
        touched = any(len(lines) for lines in self._touched)
        if not (touched or scaled):
            return Output(file, survey.newline)
        header, begun = f"{WROTE} {self._header}", self._restart is None
        if not survey.numbered:
            return Output(file, survey.newline, header, begun=begun)
        start = self._source.read_range(0, min(survey.size_bytes, CHUNK_BYTES))
        return Output(file, survey.newline, header, Renumberer(start), begun=begun)

    def _cut_at(self, line: int) -> None:
        """Let a block begin at a line, so that what comes from there on can be told apart."""
        at = bisect_left(self._marks, line, key=lambda mark: mark.first_line + mark.lines - 1)
        if at == len(self._marks) or self._marks[at].first_line == line:
            return
        mark = self._marks[at]
        chunk, lines = mark.read(self._source), line - mark.first_line
        size = chunk.size_of(lines)
        state = Work(mark, read_block(chunk), self._plan.config).state(lines)
        before = replace(mark, lines=lines, size=size, feeds=None)
        after = replace(
            mark,
            offset=mark.offset + size,
            first_line=line,
            lines=mark.lines - lines,
            size=mark.size - size,
            state=state,
            feeds=None,
        )
        self._marks[at : at + 1] = [before, after]
        self._kept.pop(mark.offset, None)

    # -- one block -----------------------------------------------------------------------------

    def _read(self, mark: BlockMark) -> tuple[BlockMark, Chunk, Work | None]:
        """A block's bytes; also its words and moves, if it is known already that they will be edited."""
        chunk = mark.read(self._source)
        first, end = mark.first_line, mark.first_line + mark.lines
        scalers = self._scalers if mark.feeds is None else self._scalers[1:]
        touched = any(scaler.wants(first, end) for scaler in scalers)
        touched = touched or any(np.diff(np.searchsorted(lines, (first, end)))[0] for lines in self._touched)
        return mark, chunk, self._work(mark, chunk) if touched else None

    def _work(self, mark: BlockMark, chunk: Chunk) -> Work:
        """A block to be edited; the words and moves of a short file are known still."""
        kept = self._kept.get(mark.offset)
        if kept is not None:
            return Work(mark, kept.block, self._plan.config, kept)
        work = Work(mark, read_block(chunk), self._plan.config)
        _ = work.follower  # here, that is in the helper thread if there is one
        return work

    def _block(self, mark: BlockMark, chunk: Chunk, work: Work | None) -> None:
        end = mark.first_line + mark.lines
        if self._restart is not None and mark.first_line == self._restart.spot.line:
            self._edited.clear()  # of what is not written nothing is counted
        intentions = _take(self._intentions, end)
        silenced, self._silenced = self._silenced.cut(end)
        feeds, flows, shifts = (scaler.touches(mark.first_line, end) for scaler in self._scalers)
        own_waits = self._own.take(end)
        inserts = len(intentions) > 0 or self._own.rest(own_waits)
        only_feeds = not (inserts or len(silenced.line) or flows or shifts or self._owed.open)
        lines = mark.lines if chunk.data.endswith(b"\n") else None
        if only_feeds:
            before = self._out.next_line - mark.first_line
            if self._out.begun:
                self._own.stand(own_waits, before)
        if only_feeds and not feeds:
            self._out.write(chunk.data, lines)
            return
        if only_feeds and mark.feeds is not None:
            edited = self._feeds.edit_marked(mark, mark.feeds, chunk, self._edited)
            self._out.write(edited, lines)
            self._sample(mark, lambda: chunk.data, lambda: edited)
            return
        self._edit(work or self._work(mark, chunk), intentions, silenced, own_waits)

    def _edit(
        self,
        work: Work,
        intentions: Sequence[Insert],
        silenced: Silenced,
        own_waits: Sequence[int],
    ) -> None:
        """Write a block with all that is to be changed in it."""
        first, end = work.mark.first_line, work.mark.first_line + work.mark.lines
        if len(silenced.line):
            self._silence(work, silenced)
        if self._flows.touches(first, end):
            work.flow = self._flows.edit(work.follower, work.edits, self._edited)
        if self._shifts.touches(first, end):
            self._shifts.edit(work.follower, work.edits, self._edited)
            work.shift = self._shifts.axes
        if self._feeds.touches(first, end):
            work.feed = self._feeds.edit_read(work.mark, work.follower, work.edits, self._edited)
        self._settle(work, 0)
        blow_again, waits = self._own.around(work, own_waits)
        inserted = [*_resets(work), *self._made_up(work), *self._compiled(work, intentions)]
        self._assemble(work, sorted([*blow_again, *inserted, *waits], key=lambda item: item.at))

    def _silence(self, work: Work, silenced: Silenced) -> None:
        """Turn lines into comments; raises PlanError for one that later lines depend on."""
        lines = silenced.line - work.mark.first_line
        needed = lines[matters(work.follower, pushed=not self._dry)[lines]]
        if self._dry:
            moving, words = beside_moves(work.follower, needed)
            work.edits.drop(words)
            lines, needed = (each[~among(each, moving)] for each in (lines, needed))
        made_up_for = [line for line in needed.tolist() if work.mark.first_line + line in self._pushes]
        if made_up_for:
            pushes = work.follower.moves.line[alone(work.follower)]
            needed = np.setdiff1d(needed, np.intersect1d(made_up_for, pushes))
        if len(needed):
            why = "it also moves the machine or changes how later lines are read; put what is to be taken out"
            self._refuse_silencing(silenced, work.mark.first_line + int(needed[0]), why)
        beside = lines[beside_air(work.follower, dry=self._dry)[lines]]
        if len(beside):
            why = "another command stands on it beside the blower's; put each"
            self._refuse_silencing(silenced, work.mark.first_line + int(beside[0]), why)
        work.edits.silenced = lines.tolist()
        count_edits(silenced.by, self._edited)

    def _refuse_silencing(self, silenced: Silenced, line: int, why: str) -> NoReturn:
        step = self._plan.entries[silenced.by[np.searchsorted(silenced.line, line)]].step
        raise PlanError(
            f"{step}: line {line + 1} can't be taken out as a whole, because {why} on a line of its own"
        )

    def _made_up(self, work: Work) -> Iterator[Inserted]:
        """After each silenced push what the program relies on: E, feed and motion mode as it leaves them."""
        for line in work.edits.silenced:
            index = self._pushes.get(work.mark.first_line + line)
            if index is not None:
                before, after = work.state(line), work.state(line + 1)
                made = list(made_up(before, after))
                sent = [(at, what) for at, (_, what) in enumerate(made)]
                yield Inserted(work.at(line + 1), index, [text for text, _ in made], sent)

    def _compiled(self, work: Work, intentions: Sequence[Insert]) -> Iterator[Inserted]:
        """The blocks for the intentions, which are in order; those inside one move split it together."""
        for source_line, group in groupby(intentions, key=lambda intention: intention.spot.line):
            here = list(group)
            line = source_line - work.mark.first_line
            places = self._split_places(work, line, here)
            for intention in here:
                leading, place = places[intention.spot]
                script = self._script(intention, place)
                self._owed.owe(script, source_line)
                if intention.insertion is self._restart:
                    leading.clear()  # what leads there is laid already
                sent = [(len(leading) + at, what) for at, what in script.sent]
                yield Inserted(work.at(line), intention.index, [*leading, *script.lines], sent)
                leading.clear()
            self._settle(work, line)

    def _script(self, intention: Insert, place: Situation) -> Script:
        """The block for one intention. Raises PlanError that names its step."""
        try:
            return self._compiler.write(intention.insertion, place)
        except PlanError as error:
            raise PlanError(f"{self._plan.entries[intention.index].step}: {error}") from error

    def _split_places(
        self, work: Work, line: int, intentions: Sequence[Insert]
    ) -> dict[Spot, tuple[list[str], Situation]]:
        """For each spot on a line: the part of the move that leads to it, and the place reached."""
        spots = sorted({intention.spot for intention in intentions})
        inside = [spot for spot in spots if spot.fraction]
        # what only stands still asks nothing of the state but whether clay is switched on
        of_state = Insertion if self._compiler.auger.switched else Pause | LayClay
        asked = any(isinstance(intention.insertion, of_state) for intention in intentions)
        state = work.state(line) if inside or asked else work.mark.state
        feed = work.feed_before(line)
        found: dict[Spot, tuple[list[str], Situation]]
        found = {spot: ([], Situation(state, self._top_before(spot), spot, feed)) for spot in spots}
        restarts = self._restart is not None and self._restart.spot in inside[:1]
        fractions = [spot.fraction for spot in inside]
        parts = split_parts(work, line, fractions, state, self._plan.config, arcs=restarts)
        for spot, part in zip(inside, parts, strict=False):
            place = Situation(part.state, self._top_before(spot), spot, work.feed_before(line + 1))
            found[spot] = ([part.text], place)
        for spot in inside[len(parts) :]:
            found[spot][0].append(NOT_SPLIT)
        return found

    def _top_before(self, spot: Spot) -> float:
        """Highest clay at the spot: all of its own layer counts as laid, to be safe."""
        layers = self._plan.survey.layers
        first = layers["first_line"]
        if not len(layers) or spot <= Spot(int(first[0])):
            return -np.inf
        top_mm = float(layers["height_mm"][: np.searchsorted(first, spot.line, side="right")].max())
        return top_mm + max(self._plan.shift_mm[2], 0.0)

    def _settle(self, work: Work, line: int) -> None:
        if self._owed.open:
            self._owed.settle(work.follower, work.edits, line)

    def _assemble(self, work: Work, inserted: Sequence[Inserted]) -> None:
        """Write the block with its edits, and the insertions in their places."""
        end = len(work.block.bytes) - PAD
        parts = work.edits.parts([PAD, *(item.at for item in inserted), end])
        for item, part in zip(inserted, parts, strict=False):
            if part:
                self._out.write(part)
            if item.lines is None:
                if self._out.begun:
                    self._own.stand([item.index], self._out.next_line - item.index)
            else:
                self._insert(item.index, item.lines, item.sent)
        # no edit adds a line, or takes one away
        lines = None if inserted or not work.block.chunk.data.endswith(b"\n") else work.mark.lines
        self._out.write(parts[-1], lines)
        self._sample(
            work.mark,
            lambda: work.block.bytes[PAD:end].tobytes(),
            lambda: b"".join(parts),
        )

    def _sample(self, mark: BlockMark, before: Callable[[], bytes], after: Callable[[], bytes]) -> None:
        if self._out.begun:
            self._samples.edited(self._edited, mark.first_line, before, after)

    def _insert(self, index: int, lines: Sequence[str], sent: Sequence[tuple[int, Sent]]) -> None:
        intention = self._plan.entries[index].intention
        restarts = self._restart is not None and intention is self._restart
        self._out.begun = self._out.begun or restarts
        if lines and self._out.begun:
            self._places[index] = self._out.insert(lines)
            if isinstance(intention, Insertion):
                self._samples.inserted(index, intention.spot.line, lines)
            ends = self._plan.config.machine.pause.commands[-1:]
            for at, what in sent:
                if what.command in ends:
                    self._waits.setdefault(index, self._places[index][0] + at)
            self._sent.add(self._plan.entries[index].step, self._places[index][0], sent)
        if restarts and self._restart is not None and self._restart.look_mm is not None:
            self._out.begun = False

    def _at_end(self) -> None:
        """What is to be inserted after the last line."""
        survey = self._plan.survey
        shifts = [axis.last[:2] for axis in self._shifts.axes]
        state = moved(advanced(survey.end_state, self._flows.ahead_mm), shifts)
        top_mm = survey.height_mm + max(self._plan.shift_mm[2], 0.0)
        for intention in self._intentions:
            feed = self._feeds.in_force if self._feeds.changed else None
            place = Situation(state, top_mm, intention.spot, feed)
            script = self._script(intention, place)
            self._insert(intention.index, script.lines, script.sent)


def _resets(work: Work) -> Iterator[Inserted]:
    """Where scaled clay ends: the E register is set back to the source's."""
    if work.flow is not None:
        for line, index in work.flow.resets.items():
            state = work.state(line)
            yield Inserted(work.at(line), index, [e_register(state)], [(0, REGISTER)])


def _take(intentions: list[Insert], end: int) -> list[Insert]:
    """Remove and return those before a line."""
    count = bisect_left(intentions, end, key=lambda intention: intention.spot.line)
    taken, intentions[:count] = intentions[:count], []
    return taken
