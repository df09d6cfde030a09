"""How long what is inserted takes: the way to the park or to the beads, all that is done there, the way back.

An estimate: each move is taken to start and end at rest: path / feed, and feed / acceleration to get under
way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import takewhile
from typing import TYPE_CHECKING, NamedTuple

from gpost.config.commands import may_wait, stands_s
from gpost.plan.intentions import Ground, LayClay, Pause, Rehearse, Restart, Stroke, Wait
from gpost.spot import Spot

if TYPE_CHECKING:
    from gpost.config.machine import Machine
    from gpost.plan.plan import Plan

LAST_MM = 1.0
"""In the last of the straight descent over the restart the clay is given back that was drawn back."""
NEAR_WIDTHS = 3.0
"""A bead that begins so many widths from the end of the last one is gone to without a lift."""
CLEAR_MM = 2.0
"""Least free height over the piece while flying."""
Block = Pause | LayClay | Wait


class Lasting(NamedTuple):
    """How long a block takes of the machine's time; waiting for the potter not counted."""

    seconds: float
    wait_after_s: float
    """Those of it that pass before the potter is waited for; where nobody is, all."""


class Stop(NamedTuple):
    """Something that is inserted and takes time."""

    spot: Spot
    start_ml: float
    """Net clay metered before it."""
    clay_ml: float
    start_s: float
    """Machine time before it."""
    seconds: float
    """What it takes of the machine's time; waiting for the potter not counted."""
    intention: Block
    wait_after_s: float
    """Those of it that pass before the potter is waited for."""

    @property
    def end_s(self) -> float:
        """Machine time when it is done."""
        return self.start_s + self.seconds


def block_times(plan: Plan, blocks: Sequence[Block]) -> list[Lasting]:
    """Time of each of some blocks, which are in printing order."""
    highest_mm = max((ground.top_mm for ground in plan.of(Ground)), default=-math.inf)
    found = []
    for block in blocks:
        lay = block if isinstance(block, LayClay) else block.lay if isinstance(block, Pause) else None
        if lay is not None:  # later blocks fly over these beads too
            highest_mm = max(highest_mm, *(stroke.z_mm for stroke in lay.strokes), -math.inf)
        found.append(_lasting(plan, block, highest_mm))
    return found


def _lasting(plan: Plan, block: Block, highest_mm: float) -> Lasting:
    if isinstance(block, Wait):
        return Lasting(block.seconds, block.seconds)
    machine, start = plan.config.machine, _start_mm(plan, block)
    top_mm = max(start[2], highest_mm, _top_mm(plan, block))
    safe_z_mm = max(min(top_mm + max(machine.pause.lift_mm, CLEAR_MM), machine.ceiling_mm), start[2])
    has_e = plan.config.clay.metering.unit != "path"
    way = _Way(machine, start, machine.pause.relieve_ml if has_e else 0.0)
    way.seconds += _held_s(plan, block)
    way.relieve()
    way.rise_to(safe_z_mm)
    wait_after_s: float | None = None
    if isinstance(block, LayClay):
        _lay(way, block, safe_z_mm)
    else:
        way.fly(machine.park.x_mm, machine.park.y_mm)
        wait_after_s = 0.0 if isinstance(block, Restart) else way.seconds  # nothing moves before a restart's
        before_s, all_s = _standing_s(plan, block)
        wait_after_s += before_s
        way.seconds += all_s
        _pause(way, block, safe_z_mm)
    way.fly(start[0], start[1])
    way.come_down(start[2])
    if isinstance(block, Pause) and not isinstance(block, Restart) and machine.pause.retrace_mm:
        way.seconds += machine.pause.retrace_mm / _feed_mm_min(plan, block) * 60
    return Lasting(way.seconds, way.seconds if wait_after_s is None else wait_after_s)


def _held_s(plan: Plan, block: Block) -> float:
    """Dwells among what holds the motors in a step's pause."""
    machine, sent = plan.config.machine, _is_sent(plan, block)
    return sum(stands_s(command, machine.dwell_p) for command in machine.pause.hold) if sent else 0.0


def _standing_s(plan: Plan, block: Pause) -> tuple[float, float]:
    """Dwells beside what waits, as for a beep to end: before the wait, and all."""
    machine, commands = plan.config.machine, plan.config.machine.pause.commands
    if not _is_sent(plan, block):
        return 0.0, 0.0
    before = list(takewhile(lambda command: not may_wait(command), commands))
    said_s = [stands_s(command, machine.dwell_p) for command in commands]
    times = 1 + (block.hold_again or machine.pause.hold_again)
    return sum(said_s[: len(before)]), times * sum(said_s)


def _is_sent(plan: Plan, block: Block) -> bool:
    """Whether the machine waits there as the config says; how often at a rest's beginning isn't known."""
    return isinstance(block, Pause) and not isinstance(block, Restart) and not plan.of(Rehearse)


def _pause(way: _Way, pause: Pause, safe_z_mm: float) -> None:
    """What is done once the potter has been."""
    machine = way.machine
    if pause.prime_ml > 0:
        way.ready()
        way.push(pause.prime_ml)
        way.relieve()
        way.seconds += machine.pause.settle_s
        way.fly(way.x_mm, way.y_mm + machine.pause.wipe_mm)
    if pause.lay is not None:
        _lay(way, pause.lay, safe_z_mm)


def _lay(way: _Way, lay: LayClay, safe_z_mm: float) -> None:
    for index, stroke in enumerate(lay.strokes):
        if index == 0 or not _is_near(way, stroke):
            way.relieve()
            way.rise_to(safe_z_mm)
        way.fly(*stroke.points_mm[0])
        way.rise_to(stroke.z_mm)
        way.ready()
        for x, y in stroke.points_mm[1:]:
            way.fly(x, y, lay.feed_mm_min)
    way.relieve()
    if lay.strokes:
        way.fly(*wipe_end_mm(lay))
    way.rise_to(safe_z_mm)


def wipe_end_mm(lay: LayClay) -> tuple[float, float]:
    """Where the wipe back along the last bead ends, x and y."""
    before, end = lay.strokes[-1].points_mm[-2:]
    leg_mm = math.dist(before, end)
    part = min(1.0, lay.wipe_mm / leg_mm) if leg_mm else 0.0
    return end[0] + (before[0] - end[0]) * part, end[1] + (before[1] - end[1]) * part


def _is_near(way: _Way, stroke: Stroke) -> bool:
    far_mm = math.dist((way.x_mm, way.y_mm), stroke.points_mm[0])
    return abs(way.z_mm - stroke.z_mm) < 0.01 and far_mm <= NEAR_WIDTHS * stroke.width_mm


def _start_mm(plan: Plan, block: Pause | LayClay) -> tuple[float, float, float]:
    """Where the block begins, as printed: a layer's start, or where clay is laid at the spot inside it."""
    survey = plan.survey
    if not len(survey.layers):
        return 0.0, 0.0, 0.0
    index = min(max(survey.index_at(block.spot.line), 0), len(survey.layers) - 1)
    row, by_mm = survey.layers[index], plan.shift_mm
    place = (float(row["start_x_mm"]), float(row["start_y_mm"]), float(row["low_mm"]))
    if block.spot > survey.start_of(index):  # at its start the file needn't be read for it
        place = survey.laid_at(block.spot) or place
    return place[0] + by_mm[0], place[1] + by_mm[1], place[2] + by_mm[2]


def _top_mm(plan: Plan, block: Pause | LayClay) -> float:
    """Highest clay of the piece when the block begins; -inf before the first."""
    survey = plan.survey
    if not len(survey.layers) or block.spot <= survey.start_of(0):
        return -math.inf
    return float(plan.tops_mm[survey.index_at(block.spot.line)]) + max(plan.shift_mm[2], 0.0)


def _feed_mm_min(plan: Plan, block: Pause) -> float:
    """How fast the wall is laid there; as fast as the nozzle is lowered where the file has said no feed."""
    layers = plan.survey.layers
    index = max(plan.survey.index_at(block.spot.line), 0)
    feed_mm_min = float(layers["feed_mm_min"][index]) if len(layers) else 0.0
    return feed_mm_min or plan.config.machine.lift_feed_mm_min


class _Way:
    """The nozzle on its way, and the time that it has taken, s."""

    def __init__(self, machine: Machine, start_mm: tuple[float, float, float], relief_ml: float) -> None:
        self.machine, self.seconds = machine, 0.0
        self.x_mm, self.y_mm, self.z_mm = start_mm
        self._relief_ml, self._relieved = relief_ml, False

    def fly(self, x_mm: float, y_mm: float, feed_mm_min: float | None = None) -> None:
        """On the level."""
        self._go(math.dist((self.x_mm, self.y_mm), (x_mm, y_mm)), feed_mm_min)
        self.x_mm, self.y_mm = x_mm, y_mm

    def rise_to(self, z_mm: float) -> None:
        """Straight up or down."""
        self._go(abs(z_mm - self.z_mm), self.machine.lift_feed_mm_min)
        self.z_mm = z_mm

    def come_down(self, z_mm: float) -> None:
        """Down to the restart; what is drawn back is given again on the last of it."""
        self.rise_to(z_mm + (LAST_MM if self._relieved and self._relief_ml else 0.0))
        before_s = self.seconds
        self.rise_to(z_mm)
        own_s, self.seconds = self.seconds - before_s, before_s
        self.seconds += max(own_s, self._push_s(self._relief_ml) if self._relieved else 0.0)

    def push(self, clay_ml: float) -> None:
        """Clay in place."""
        self.seconds += self._push_s(clay_ml)

    def relieve(self) -> None:
        """Clay drawn back, unless it is already."""
        if not self._relieved:
            self.push(self._relief_ml)
        self._relieved = True

    def ready(self) -> None:
        """And given again."""
        if self._relieved:
            self.push(self._relief_ml)
        self._relieved = False

    def _push_s(self, clay_ml: float) -> float:
        return clay_ml / self.machine.prime_flow_ml_min * 60

    def _go(self, path_mm: float, feed_mm_min: float | None) -> None:
        if path_mm <= 0:
            return
        mm_s, mm_s2 = (feed_mm_min or self.machine.travel_feed_mm_min) / 60, self.machine.acceleration_mm_s2
        full = path_mm >= mm_s**2 / mm_s2
        self.seconds += path_mm / mm_s + mm_s / mm_s2 if full else 2 * math.sqrt(path_mm / mm_s2)
