"""Going on with a stopped print: the plan of the rest, in which all that has been stays as it was."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias

import numpy as np

from gpost.plan.blocktime import CLEAR_MM
from gpost.plan.intentions import Command, Ground, Intention, LayClay, Pause, Restart, Shift
from gpost.plan.plan import Entry, Plan
from gpost.spot import Spot

Key: TypeAlias = tuple[str, str, str | None, Spot | None]
Block: TypeAlias = Pause | LayClay
"""What is inserted and takes clay, of steps."""
NAME = "resume"
PAPER_MM = 0.1
"""A sheet of paper: common practice, no source."""


def begun(before: Plan, restart: Restart, shift_mm: float) -> Plan:
    """The plan of the rest before any step is asked: what has been, and where and how much higher it goes on.

    `before`: the plan that was printed until then. Its changes of colour, and its beads beside the piece,
    come in with their steps.
    """
    been = [block for _, block in _past(before, restart) if not _comes_with_its_step(block)]
    entries = [*_been(before, been), Entry(NAME, restart)]
    if shift_mm:
        lines = (last_rise(before), before.survey.lines)
        entries.append(Entry(NAME, Shift(*lines, (0.0, 0.0, shift_mm), "the measured top")))
    # a refill that is due just there is no new one: its step looks for places behind what is on
    refills = [pause for pause in due_at(before, restart.spot, restart.done) if _is_refill(pause)]
    entries.extend(entry for entry in before.entries if is_among(entry.intention, refills))
    return Plan(before.survey, before.config, tuple(entries), steps=(NAME,), allowed=before.allowed)


def last_rise(plan: Plan) -> int:
    """The last line before the first bead on which the nozzle rises or comes down without clay; else 0."""
    survey = plan.survey
    for index in range(len(survey.marks) - 1, -1, -1):
        mark = survey.marks[index]
        if mark.first_line >= survey.first_bead:
            continue
        moves = survey.follow(index).moves
        line = moves.line + mark.first_line
        rises = (line < survey.first_bead) & (moves.start[2] != moves.end[2]) & ~moves.laying
        if rises.any():
            return int(line[rises][-1])
    return 0


def with_past(plan: Plan, before: Plan) -> Plan:
    """The plan after one more step was asked, with the pauses and beads that have been where they were.

    What a step wants before the place where it goes on is left out; clay of another colour that was still to
    come is due there at once.
    """
    restart = plan.restart
    if restart is None:
        return plan
    asked = {id(block): key for key, block in _blocks(plan)}
    had = [
        (key, block)
        for key, block in _past(before, restart)
        # one of these only once its own step has been asked: the same step may come twice
        if not _comes_with_its_step(block) or key in asked.values()
    ]
    been, done = [block for _, block in had], {key for key, _ in had}
    again = {at for at, key in asked.items() if key in done}
    # what stands in front of it is the past that was put there after the step before
    at = next(at for at, entry in enumerate(plan.entries) if entry.intention is restart)
    asked_for = _as_before(plan, at, before, been)
    to_come = _still_to_come(asked_for, restart, done, _joined_at(before, restart))
    rest = (
        entry
        for entry in to_come
        if not (isinstance(entry.intention, LayClay) and id(entry.intention) in again)
    )
    moved = [(step, move) for step, move in plan.moved if move.new.spot > restart.spot]
    return dataclasses.replace(plan, entries=(*_been(before, been), *rest), moved=tuple(moved))


def _been(before: Plan, had: Sequence[Block]) -> Iterator[Entry]:
    """What has been, in its order: each earlier restart at its place among the pauses and beads of steps."""
    for entry in before.entries:
        if entry.step == NAME or (isinstance(entry.intention, LayClay) and is_among(entry.intention, had)):
            yield entry
        elif isinstance(entry.intention, Pause) and is_among(entry.intention, had):
            yield Entry(entry.step, dataclasses.replace(entry.intention, in_time=False))


def _past(plan: Plan, restart: Restart) -> Iterator[tuple[Key, Block]]:
    """The pauses and beads of steps that have been where it goes on."""
    due = due_at(plan, restart.spot, restart.done)
    for key, block in _blocks(plan):
        if not isinstance(block, Restart) and block.spot <= restart.spot and not is_among(block, due):
            yield key, block


def _comes_with_its_step(block: Block) -> bool:
    """Whether a step may not see what of it has been before it has asked anew: it would keep clear of it."""
    return isinstance(block, LayClay) or block.shows_at is not None


def _joined_at(plan: Plan, restart: Restart) -> dict[Key, Pause]:
    """The changes of colour still due where it goes on that came there for another reason than their height.

    Such a one is joined with a refill: by then the cartridge has nothing left for later.
    """
    due = due_at(plan, restart.spot, restart.done)
    changes = (one for one in _pauses(plan) if one[1].shows_at is not None and not one[1].in_time)
    return {_key(step, pause): pause for step, pause in changes if is_among(pause, due)}


def due_at(plan: Plan, spot: Spot, done: int | None) -> list[Block]:
    """What of `blocks_at` is still due where it stopped there; `done`: how many have been."""
    return [] if done is None else blocks_at(plan, spot)[done:]


def blocks_at(plan: Plan, spot: Spot) -> list[Block]:
    """The pauses, and the beads beside the piece, of steps at a spot, in the order in which they come."""
    return [block for _, block in _blocks(plan) if block.spot == spot and not isinstance(block, Restart)]


def is_among(intention: Intention, blocks: Iterable[Block]) -> bool:
    """Whether it is one of these very pauses or beads: two at one spot may be equal."""
    return any(intention is block for block in blocks)


def _as_before(plan: Plan, at: int, before: Plan, had: Sequence[Block]) -> Iterator[Entry]:
    """The restart, at that index, and what the steps ask for: plain pauses where the plan before had them.

    A step that keeps clear of other pauses would put one elsewhere that is near the place where it goes on.
    Where cartridges are changed goes by what is in them, and colours by where they show.
    """
    told = set[str]()
    theirs: dict[str, list[Entry]] = {}
    for entry in before.entries:
        if _is_plain(entry.intention) and entry.step in plan.steps and not is_among(entry.intention, had):
            theirs.setdefault(entry.step, []).append(entry)
    for entry in plan.entries[at:]:
        if is_among(entry.intention, had):
            continue
        if not _is_plain(entry.intention):
            yield entry
        elif entry.step not in told:
            told.add(entry.step)
            yield from theirs.get(entry.step, ())
    for step, entries in theirs.items():
        yield from entries if step not in told else ()


def _is_refill(block: Block) -> bool:
    return isinstance(block, Pause) and block.new_cartridge and block.shows_at is None


def _pauses(plan: Plan) -> Iterator[tuple[str, Pause]]:
    """All pauses with their steps, in the order in which they were asked for."""
    for entry in plan.entries:
        if isinstance(entry.intention, Pause):
            yield entry.step, entry.intention


def _blocks(plan: Plan) -> Iterator[tuple[Key, Block]]:
    """All that is inserted and takes clay, in the order in which it was asked for."""
    same = Counter[Key]()
    for entry in plan.entries:
        if isinstance(entry.intention, Pause):
            yield _key(entry.step, entry.intention), entry.intention
        elif isinstance(entry.intention, LayClay):
            key = (entry.step, "", entry.intention.why, entry.intention.spot)
            same[key] += 1
            yield (
                (entry.step, f"beads {same[key]}", entry.intention.why, entry.intention.spot),
                entry.intention,
            )


def _is_plain(intention: Intention) -> bool:
    """Whether it is a pause that changes no cartridge."""
    return isinstance(intention, Pause) and not (intention.new_cartridge or intention.shows_at is not None)


def _key(step: str, pause: Pause) -> Key:
    """By which a pause that was planned twice is known."""
    return step, pause.kind, pause.colour, pause.shows_at


def _still_to_come(
    entries: Iterable[Entry], restart: Restart, done: set[Key], here: Mapping[Key, Pause]
) -> Iterable[Entry]:
    """`here`: changes of colour that are due where it goes on, whatever the steps ask for."""
    spot = restart.spot
    for entry in entries:
        pause = entry.intention
        if not isinstance(pause, Pause) or isinstance(pause, Restart):
            yield entry
        elif pause.shows_at is None:
            if pause.spot > spot or (pause.spot == spot and restart.done is not None):
                yield entry
        elif _key(entry.step, pause) in here:
            yield Entry(entry.step, here[_key(entry.step, pause)])
        elif _key(entry.step, pause) not in done:
            due = pause if pause.spot > spot else dataclasses.replace(pause, spot=spot, in_time=False)
            yield Entry(entry.step, due)


def is_written(plan: Plan, index: int) -> bool:
    """Whether an entry that is inserted stands in the output: not so before the place where it goes on."""
    restart = plan.restart
    if restart is None:
        return True
    intention = plan.entries[index].intention
    if not hasattr(intention, "spot"):
        return True
    if restart.look_mm is not None:
        return intention is restart
    spot: Spot = intention.spot
    if spot == restart.spot:
        first = next(at for at, entry in enumerate(plan.entries) if entry.intention is restart)
        return index >= first
    return spot > restart.spot


def set_up_commands(plan: Plan, spot: Spot) -> tuple[list[str], list[str]]:
    """Commands that steps had sent before a spot: (those before the first bead, the others)."""
    first = plan.survey.first_bead
    found: tuple[list[str], list[str]] = ([], [])
    for command in sorted(plan.of(Command), key=lambda command: command.spot):
        if command.spot < spot:
            found[command.spot.line > first].extend(command.codes)
    return list(dict.fromkeys(found[0])), list(dict.fromkeys(found[1]))


def highest_mm(plan: Plan) -> float:
    """The highest place to which the whole job sends the nozzle after the first bead, machine mm.

    The way to where a stopped print has gone on is none of it.
    """
    survey, manner = plan.survey, plan.config.machine.pause
    found = [survey.height_mm]
    for index, mark in enumerate(survey.marks):
        if mark.first_line + mark.lines > survey.first_bead:
            moves = survey.follow(index).moves
            since = moves.line + mark.first_line >= survey.first_bead
            found.append(float(np.max(moves.end[2], where=since, initial=0.0)))
    highest = max(found) + max(plan.shift_mm[2], 0.0)
    beads = [stroke.z_mm for lay in _lays(plan) for stroke in lay.strokes]
    top_mm = max([plan.bounds_mm[2][1], *beads, *(ground.top_mm for ground in plan.of(Ground))])
    lift_mm = max(manner.lift_mm, CLEAR_MM)
    parks = any(not isinstance(pause, Restart) for pause in plan.of(Pause))
    flown = max(highest, top_mm + lift_mm) if parks or beads else highest
    return min(flown, max(plan.config.machine.ceiling_mm, highest))


def begun_near(plan: Plan, spot: Spot) -> int:
    """How many stopped prints have gone on so near before a spot that the nozzle may still be on its way.

    Who has laid a layer since has come down.
    """
    layer = plan.survey.index_at(spot.line)
    return sum(plan.survey.index_at(one.spot.line) >= layer - 1 for one in plan.of(Restart))


def _lays(plan: Plan) -> Iterable[LayClay]:
    yield from plan.of(LayClay)
    yield from (pause.lay for pause in plan.of(Pause) if pause.lay is not None)
