"""The plan so far: what each step wants, and the clay and time that follow from it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable
from dataclasses import field
from functools import cached_property
from operator import itemgetter
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.common.frozen import locked
from gpost.common.records import record
from gpost.config.metering import bead_width_mm
from gpost.config.model import Config
from gpost.plan.blocktime import Block, Lasting, Stop, block_times
from gpost.plan.feeds import mean_factors, times_s
from gpost.plan.flows import Flows
from gpost.plan.intentions import (
    Intention,
    LayClay,
    MovePause,
    Pause,
    Restart,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Wait,
    piece_moved_mm,
)
from gpost.plan.intime import in_time, moved, pushes_on
from gpost.spot import START, Spot
from gpost.survey.inside import NO_PUSHES, Pushes
from gpost.survey.model import OwnPause, Survey

T = TypeVar("T")
W = TypeVar("W", bound=Intention)
JUST_BEFORE_ITS_END = 1 - 1e-12
"""Fraction of a move."""


@record(frozen=True, slots=True)
class Entry:
    """One intention and the step that wants it."""

    step: str
    intention: Intention


class Insertion(NamedTuple):
    """Clay that the plan adds at one spot: a pause's prime and lay, or a purge."""

    spot: Spot
    start_ml: float
    """Net clay metered before it."""
    clay_ml: float
    intention: Pause | LayClay


@record(frozen=True)
class Plan:
    """What the steps so far want, read-only. `adding` makes the next plan from this one."""

    survey: Survey
    config: Config
    entries: tuple[Entry, ...] = ()
    moved: tuple[tuple[str, MovePause], ...] = field(default=())
    """(step, intention) of pauses that a later step has put elsewhere, for the summary."""
    steps: tuple[str, ...] = ()
    """Names of the steps asked so far, in the order they were asked, for the summary."""
    allowed: frozenset[str] = frozenset()
    """Names of findings that stop nothing."""

    def adding(self, step: str, intentions: Iterable[Intention], *, keeping: bool = True) -> Plan:
        """The plan with one more step's intentions. A MovePause replaces the pause it names.

        What takes clay or time, and is to stand inside a move that can't be split, such as an arc, stands
        before it. Pauses that are to be in time are put where they are, if what is added changes the clay on
        the way; not without `keeping`, for trials. Raises ValueError if it names a pause that is not in the
        plan.
        """
        intentions = list(intentions)
        entries, moves = list(self.entries), list[tuple[int, MovePause]]()
        for intention in intentions:
            if isinstance(intention, MovePause):
                places = [i for i, entry in enumerate(entries) if entry.intention is intention.old]
                if not places:
                    raise ValueError("moves a pause that is not in the plan")
                intention = dataclasses.replace(intention, new=self._standing(intention.new))
                entries[places[0]] = Entry(entries[places[0]].step, intention.new)
                if _without_words(intention.old) != _without_words(intention.new):
                    moves.append((places[0], intention))
            else:
                entries.append(Entry(step, intention))
        for place, entry in enumerate(entries):
            there = self._standing(entry.intention)
            if there is not entry.intention:
                entries[place] = Entry(entry.step, there)
        asked = dataclasses.replace(self, entries=tuple(entries), steps=(*self.steps, step))
        losing = self.config.cartridge.start_loss_ml > 0
        why = pushes_on(intentions, losing=losing) if keeping else ""
        made = in_time(asked) if why else asked
        known = len(self.entries)
        moves += [(at, MovePause(old, new, why)) for at, old, new in moved(asked, made) if at < known]
        moves.sort(key=itemgetter(0))
        return dataclasses.replace(made, moved=(*self.moved, *((step, move) for _, move in moves)))

    def _standing(self, intention: W) -> W:
        """The intention at the spot where it will stand, if clay or time hangs on it."""
        if not isinstance(intention, Pause | LayClay | Wait) or isinstance(intention, Restart):
            return intention
        spot = self.survey.stands_at(intention.spot)
        return intention if spot == intention.spot else dataclasses.replace(intention, spot=spot)

    def of(self, kind: type[T]) -> list[T]:
        """All intentions of one kind, in the order in which they were asked for."""
        found = self._kinds.get(kind)
        if found is None:
            found = [entry.intention for entry in self.entries if isinstance(entry.intention, kind)]
            self._kinds[kind] = found
        return found.copy()

    @cached_property
    def _kinds(self) -> dict[type, list[Any]]:
        """What `of` has found: the same kinds are asked for some two hundred times."""
        return {}

    @property
    def pauses(self) -> list[Pause]:
        """All pauses in printing order."""
        return sorted(self.of(Pause), key=lambda pause: pause.spot)

    @cached_property
    def restart(self) -> Restart | None:
        """Where a stopped print goes on, if this is the plan of one: nothing before it is written."""
        found = self.of(Restart)
        return found[-1] if found else None

    @property
    def since(self) -> int:
        """The line of the source, from 0, from which on it is written: where a stopped print goes on."""
        return 0 if self.restart is None else self.restart.spot.line

    @property
    def own_pauses(self) -> list[OwnPause]:
        """Where the file itself makes the machine wait, but for what is silenced."""
        own = self.survey.own_pauses
        stays = self.stays(np.array([pause.line for pause in own], np.int64))
        return [pause for pause, there in zip(own, stays, strict=True) if there]

    def stays(self, lines: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Whether each of some lines of the source is one that no step silences."""
        left = np.ones(len(lines), np.bool_)
        for silence in self.of(Silence) if len(lines) else ():
            left &= ~among(lines, silence.lines)
        return left

    @property
    def bead_width_mm(self) -> float:
        """Width of the piece's beads, mm."""
        return bead_width_mm(self.config)

    @cached_property
    def shift_mm(self) -> tuple[float, float, float]:
        """How far the piece is moved from where the source has it, x, y, z."""
        return piece_moved_mm(self.of(Shift))

    @property
    def bounds_mm(self) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
        """Bounds of the laid clay as printed: those of the survey, moved."""
        x, y, z = (
            (low + by, high + by)
            for (low, high), by in zip(self.survey.bounds_mm, self.shift_mm, strict=True)
        )
        return x, y, z

    def clay_before(self, spot: Spot) -> float:
        """Net clay in ml metered before the spot, with what the plan adds at earlier spots."""
        added = sum(ml for at, ml in self._added if at < spot)
        return self._flows.scaled_ml(self._source_ml(spot)) + added

    @cached_property
    def insertions(self) -> tuple[Insertion, ...]:
        """All that adds clay, in printing order; at one spot in the order in which it was asked for."""
        asked = [entry.intention for entry in self.entries if isinstance(entry.intention, Pause | LayClay)]
        found: list[Insertion] = []
        for intention in sorted(asked, key=lambda intention: intention.spot):
            start_ml = self.clay_before(intention.spot)
            if found and found[-1].spot == intention.spot:
                start_ml = found[-1].start_ml + found[-1].clay_ml
            found.append(Insertion(intention.spot, start_ml, intention.clay_ml, intention))
        return tuple(found)

    def most_clay(self, start: Spot, end: Spot) -> float:
        """The highest that net clay gets, in ml, at any spot from `start` to `end`, though it fall again.

        What the plan adds at `start` is in it, what it adds at `end` is not.
        """
        added = sum(ml for at, ml in self._added if at <= start)
        most_ml, place = -math.inf, start
        for at, ml in [*(item for item in self._added if start < item[0] < end), (end, 0.0)]:
            most_ml = max(most_ml, self._flows.scaled_ml(self.survey.most_clay(place, at)) + added)
            added, place = added + ml, at
        return most_ml

    def find_clay(self, clay_ml: float, since: Spot = START) -> Spot:
        """The first spot from `since` on where net clay, with what the plan adds, reaches clay_ml.

        Inside something inserted, the spot of the insertion. If it never does, the end of the file.
        """
        added, place = sum(ml for at, ml in self._added if at < since), since
        for at, ml in [item for item in self._added if item[0] >= since]:
            found = self.survey.find_clay(self._flows.source_ml(clay_ml - added), place, at)
            if found < at or self._flows.scaled_ml(self._source_ml(at)) + added + max(ml, 0.0) >= clay_ml:
                return found
            added, place = added + ml, at
        return self.survey.find_clay(self._flows.source_ml(clay_ml - added), place)

    @property
    def total_ml(self) -> float:
        """Net clay of the whole job, in ml."""
        return self._flows.scaled_ml(self.survey.clay_ml) + sum(ml for _, ml in self._added)

    def clock_before(self, line: int) -> float:
        """Machine time in s before a line, with changed feeds, inserted clay and `Wait`s.

        Waiting for the potter is not counted. Inside a layer it goes by lines: `clock_at` goes by moves.
        """
        return self._clocked(line, self.survey.clock_before(line))

    def clock_at(self, spot: Spot) -> float:
        """`clock_before` at a spot, by the times of the moves of its layer, which is read again for it, s."""
        clock_s = self._clocked(spot.line, self.survey.clock_at(spot))
        if spot.fraction:
            clock_s += sum(s for at, s in self._insertion_times if at.line == spot.line and at < spot)
        return clock_s

    def _clocked(self, line: int, own_s: float) -> float:
        """The plan's clock for that of the source."""
        index = int(np.searchsorted(self._layer_ml[0], line, side="right")) - 1
        if index >= 0:
            starts_s, extra_s = self._clock
            edges = slice(index, index + 2)
            own_s += float(np.interp(own_s, starts_s[edges], extra_s[edges]))
        return own_s + float(self._inserted_s(line))

    @property
    def total_s(self) -> float:
        """Machine time of the whole job in s; waiting for the potter not counted."""
        lines = self.survey.lines
        return self.clock_before(lines) + float(self._inserted_s(lines + 1) - self._inserted_s(lines))

    @cached_property
    def layer_clock_s(self) -> NDArray[np.float64]:
        """`clock_before` at each layer's start and at the end of the file, shape (layers + 1,), s."""
        edges = np.append(self._layer_ml[0], self.survey.lines)
        return locked(np.add(*self._clock) + self._inserted_s(edges))

    @cached_property
    def layer_waits_s(self) -> NDArray[np.float64]:
        """How long the plan's `Wait`s last in each layer, those at its start included, shape (layers,), s."""
        waits, whole_s = self.of(Wait), np.zeros(len(self.survey.layers) + 1)
        layer = np.searchsorted(self._layer_ml[0], [wait.spot.line for wait in waits], side="right")
        np.add.at(whole_s, layer, [wait.seconds for wait in waits])
        return locked(whole_s[1:])

    @cached_property
    def layer_clay_ml(self) -> NDArray[np.float64]:
        """`clay_before` at each layer's start, shape (layers,), ml."""
        first, own_ml = self._layer_ml
        clay_ml = self._flows.scaled_all_ml(own_ml)
        for at, ml in self._added:
            clay_ml[first > at.line] += ml
        return locked(clay_ml)

    @cached_property
    def _clock(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Source's clock at each layer's start, and what changed feeds add by then; both (layers + 1,)."""
        time_s = self.survey.layers["time_s"]
        own = self.survey.lead_in_s + np.concatenate([[0.0], np.cumsum(time_s)])
        return own, np.concatenate([[0.0], np.cumsum(self.layer_times_s - time_s)])

    @cached_property
    def layer_times_s(self) -> NDArray[np.float64]:
        """Time of each layer under the plan's feeds, shape (layers,), s; inserted blocks not counted."""
        return locked(times_s(self.survey.layers, self.layer_factors))

    @cached_property
    def layer_factors(self) -> NDArray[np.float64]:
        """Mean feed factor of each layer under the plan, shape (layers,)."""
        return locked(mean_factors(self.survey, self.of(ScaleFeed)))

    def _source_ml(self, spot: Spot) -> float:
        """Net clay of the source before the spot; at a layer's start from the table, which reads no file."""
        first, before_ml = self._layer_ml
        index = int(np.searchsorted(first, spot.line))
        if spot.fraction == 0 and index < len(first) and first[index] == spot.line:
            return float(before_ml[index])
        return self.survey.clay_before(spot)

    @cached_property
    def _layer_ml(self) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """(first line, net clay of the source before it) of each layer."""
        layers = self.survey.layers
        before_ml = self.survey.lead_in_ml + np.cumsum(layers["clay_ml"]) - layers["clay_ml"]
        # a column of a table is read anew for each look-up, unless it is copied once
        return np.ascontiguousarray(layers["first_line"]), before_ml

    @cached_property
    def silenced_pushes(self) -> Pushes:
        """The source's pushes in place that the plan takes out."""
        lines = np.array(sorted({intention.line for intention in self.of(SilencePush)}), np.int64)
        if not len(lines):
            return NO_PUSHES
        found = self.survey.pushes(int(lines[0]), int(lines[-1]) + 1)
        return found.some(among(found.line, lines))

    @cached_property
    def _added(self) -> list[tuple[Spot, float]]:
        """(spot, ml) of all clay that the plan adds, in printing order; below 0 what it takes out."""
        found = [(pause.spot, pause.clay_ml) for pause in self.of(Pause)]
        found += [(lay.spot, lay.clay_ml) for lay in self.of(LayClay)]
        for line, ml in zip(*(column.tolist() for column in self.silenced_pushes[:2]), strict=True):
            # where the sum is lower, so that nothing is taken for the highest that never was
            found.append((Spot(line, 0.0 if ml > 0 else JUST_BEFORE_ITS_END), -ml))
        return sorted(found, key=lambda item: item[0])

    @cached_property
    def _timed(self) -> list[tuple[Block, Lasting]]:
        """What is inserted and takes time, in printing order, and how long it takes."""
        asked = [
            entry.intention for entry in self.entries if isinstance(entry.intention, Pause | LayClay | Wait)
        ]
        blocks = sorted(asked, key=lambda block: block.spot)
        return list(zip(blocks, block_times(self, blocks), strict=True))

    @cached_property
    def tops_mm(self) -> NDArray[np.float64]:
        """Highest clay up to each layer, as the source has it, shape (layers,), mm."""
        return locked(np.maximum.accumulate(self.survey.layers["height_mm"]))

    @cached_property
    def stops(self) -> tuple[Stop, ...]:
        """When what is inserted begins, and how long it takes, in printing order."""
        found: list[Stop] = []
        for block, lasts in self._timed:
            start_ml, start_s = self.clay_before(block.spot), self.clock_at(block.spot)
            if found and found[-1].spot == block.spot:
                start_ml = found[-1].start_ml + found[-1].clay_ml
                start_s = found[-1].end_s
            clay_ml = 0.0 if isinstance(block, Wait) else block.clay_ml
            stop = Stop(block.spot, start_ml, clay_ml, start_s, lasts.seconds, block, lasts.wait_after_s)
            found.append(stop)
        return tuple(found)

    @cached_property
    def _insertion_times(self) -> list[tuple[Spot, float]]:
        found = [(block.spot, lasts.seconds) for block, lasts in self._timed]
        gone = self.silenced_pushes
        found += zip(map(Spot, gone.line.tolist()), (-gone.time_s).tolist(), strict=True)
        return found

    @cached_property
    def _inserted_time(self) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """(lines of what takes time, ascending; the time taken in all before the first, second ... of it)."""
        line = np.array([at.line for at, _ in self._insertion_times], np.int64)
        order = np.argsort(line, kind="stable")
        taken_s = np.array([s for _, s in self._insertion_times], np.float64)[order]
        return line[order], np.concatenate([[0.0], np.cumsum(taken_s)])

    def _inserted_s(self, line: int | NDArray[np.int64]) -> NDArray[np.float64]:
        """Time that all takes that is inserted before a line, or before each of some, s."""
        lines, taken_s = self._inserted_time
        return np.asarray(taken_s[np.searchsorted(lines, line)])

    @cached_property
    def _flows(self) -> Flows:
        return Flows(self.survey, self.of(ScaleFlow), self._source_ml)


def _without_words(pause: Pause) -> Pause:
    """The pause as it is moved: what it shows, and who keeps it in time, makes it no other."""
    return dataclasses.replace(pause, message=None, in_time=False)
