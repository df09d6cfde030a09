"""The pauses of a job as records: why, what goes in, where the new clay shows, how long each may last."""

from __future__ import annotations

import math
from typing import Any

from gpost.plan.intentions import Ask, Pause
from gpost.plan.plan import Plan
from gpost.plan.resume import is_written
from gpost.report.model import PauseRecord
from gpost.report.places import Places
from gpost.spot import Spot
from gpost.supply.cartridges import air_spot, clay_at, front_spot
from gpost.supply.display import Messages
from gpost.supply.fronts import shown_between
from gpost.supply.loads import loads
from gpost.supply.sure import front_span
from gpost.supply.working import Waits, rim_wait_s
from gpost.survey.model import OwnPause
from gpost.words import say
from gpost.write.output import Written


class _Pauses:
    """What is asked of a plan for each of its pauses."""

    def __init__(self, plan: Plan, places: Places) -> None:
        self.plan, self.places = plan, places
        self.waits, self.messages = Waits(plan), Messages(plan)
        self.start_s = {id(stop.intention): stop.start_s for stop in plan.stops}
        """When each begins, after what is inserted before it at the same spot."""
        items = plan.insertions
        self.numbers = {id(items[load.place].intention): load.number for load in loads(plan)[1:]}
        """Which cartridge each pause puts on."""


def pauses(plan: Plan, written: Written, places: Places) -> tuple[PauseRecord, ...]:
    """All pauses in printing order, the file's own too. Raises KeyError if one was not written."""
    found = [
        (index, entry.step, entry.intention)
        for index, entry in enumerate(plan.entries)
        if isinstance(entry.intention, Pause) and is_written(plan, index)
    ]
    asked = _Pauses(plan, places)
    records = [
        (pause.spot, _pause(asked, pause, step=step, output_line=written.places[index][0]))
        for index, step, pause in found
    ]
    records += [
        (entry.intention.spot, _ask(asked, entry.intention, entry.step, written.places[index][0]))
        for index, entry in enumerate(plan.entries)
        if isinstance(entry.intention, Ask) and is_written(plan, index)
    ]
    records += [
        (Spot(own.line), _own_pause(asked, own, output_line=written.own_pauses[own.line]))
        for own in plan.own_pauses
        if plan.restart is None or own.line in written.own_pauses
    ]
    return tuple(record for _, record in sorted(records, key=lambda item: item[0]))


def _own_pause(asked: _Pauses, own: OwnPause, *, output_line: int) -> PauseRecord:
    said = {"step": "", "kind": "own", "reason": say("waits.own", command=own.command), "message": ""}
    timed = {"goes_on_after_s": own.goes_on_after_s}
    return _plain(asked, Spot(own.line), output_line=output_line, **said, **timed)


def _ask(asked: _Pauses, ask: Ask, step: str, output_line: int) -> PauseRecord:
    said = {"step": step, "kind": "ask", "reason": ask.reason, "message": ask.text}
    return _plain(asked, ask.spot, output_line=output_line, **said)


def _plain(asked: _Pauses, spot: Spot, **said: Any) -> PauseRecord:
    """A wait for which nothing is put on or run out."""
    plan, places, waits = asked.plan, asked.places, asked.waits
    return PauseRecord(
        **said,
        layer=places.layer(spot.line),
        height_mm=plan.survey.height_at(spot),
        clay_ml=plan.clay_before(spot),
        clock_s=plan.clock_at(spot),
        new_cartridge=False,
        colour=None,
        load_ml=None,
        prime_ml=0.0,
        shows_at_layer=None,
        shows_at_height_mm=None,
        **_lasts(waits.hose_s(plan.clay_before(spot)), rim_wait_s(plan, spot)),
    )


def _lasts(hose_s: float, rim_s: float | None) -> dict[str, Any]:
    """How long a wait may last, by the hose and by the wall's rim; inf where nothing hangs on it."""
    return {
        "hose_min": None if hose_s == math.inf else hose_s / 60,
        "rim_min": None if rim_s is None or rim_s == math.inf else rim_s / 60,
        "joins": rim_s != math.inf,
    }


def _pause(asked: _Pauses, pause: Pause, *, step: str, output_line: int) -> PauseRecord:
    plan, places, waits = asked.plan, asked.places, asked.waits
    shows, air = _shows(plan, pause), air_spot(plan, pause)
    low_mm, high_mm = _shows_between(plan, pause) if shows is not None else (None, None)
    return PauseRecord(
        step=step,
        kind=pause.kind,
        reason=pause.reason,
        message=asked.messages.of(pause),
        layer=places.layer(pause.spot.line),
        height_mm=plan.survey.height_at(pause.spot),
        output_line=output_line,
        clay_ml=clay_at(plan, pause),
        clock_s=asked.start_s[id(pause)],
        new_cartridge=pause.new_cartridge,
        cartridge=asked.numbers.get(id(pause)),
        waits=1 + (pause.hold_again or plan.config.machine.pause.hold_again),
        colour=pause.colour,
        load_ml=pause.load_ml,
        prime_ml=pause.prime_ml,
        lay_ml=0.0 if pause.lay is None else pause.lay.clay_ml,
        shows_at_layer=None if shows is None else places.layer(shows.line),
        shows_at_height_mm=None if shows is None else plan.survey.height_at(shows),
        shows_low_mm=low_mm,
        shows_high_mm=high_mm,
        air_at_layer=None if air is None else places.layer(air.line),
        air_at_height_mm=None if air is None else plan.survey.height_at(air),
        **_lasts(waits.longest_s(pause), waits.rim_s(pause)),
    )


def _shows_between(plan: Plan, pause: Pause) -> tuple[float | None, float | None]:
    """The heights between which the new clay shows in 95 prints of 100."""
    span = front_span(plan, pause)
    return (None, None) if span is None else shown_between(plan, span)


def _shows(plan: Plan, pause: Pause) -> Spot | None:
    """Where the new clay reaches the nozzle; None if there is none, or it never does."""
    if not pause.new_cartridge:
        return None
    front = front_spot(plan, pause)
    return front if front.line < plan.survey.lines else None
