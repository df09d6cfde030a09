"""What isn't repeated where a stopped print goes on: pauses and beads that have been, and their purpose."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from gpost.common.plain import shown
from gpost.plan.intentions import LayClay, Pause, Restart
from gpost.plan.laidpath import LaidPath
from gpost.plan.plan import Plan
from gpost.plan.resume import Block, due_at, is_among
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges
from gpost.supply.contents import LEAST_ML
from gpost.supply.loads import loads
from gpost.supply.sure import told_ml


def not_repeated(
    plan: Plan, spot: Spot, done: int | None, *, anew: bool = False, run_out_ml: float | None = None
) -> Iterator[str]:
    """A sentence for each pause and bead at a spot, and for the file's own pauses just before it.

    What had been there before an earlier rest began was told with that; `anew`: nobody has let that go, and
    it is told again. `run_out_ml`: what is said to be run out first, where it is said as well how much has
    come or is left; None: not both are said.
    """
    been = _been(plan, spot, done)
    starts = [at for at, block in enumerate(been) if isinstance(block, Restart)]
    known = starts[-1] if starts else 0
    for at, block in enumerate(been):
        if (at >= known or anew) and (not isinstance(block, Restart) or block.clay_ml):
            yield _said(plan, block, _Told(at < known, run_out_ml))
    end_line = spot.line + (spot.fraction > 0)
    for own in plan.own_pauses:
        if own.line < spot.line and not LaidPath(plan.survey, own.line, end_line).length_mm:
            yield _no_pause(f"the file's own {own.command}, line {own.line + 1}")


def _been(plan: Plan, spot: Spot, done: int | None) -> list[Block]:
    """What has been at a spot, and where it has gone on there, in that order."""
    due = due_at(plan, spot, done)
    here = [item.intention for item in plan.insertions if item.spot == spot]
    return [block for block in here if not is_among(block, due)]


class _Told(NamedTuple):
    """What is known of a pause or a bead beside the plan."""

    before: bool
    """Whether it had been when an earlier rest began."""
    run_out_ml: float | None
    """As for `not_repeated`."""


def _said(plan: Plan, block: Block, told: _Told) -> str:
    if isinstance(block, LayClay):
        what = f"{block.why}, {block.clay_ml:.4g} ml" if block.why else f"{block.clay_ml:.4g} ml"
        return (
            f"What is due there beside the piece is not laid again ({shown(what)}); if it has not been "
            "laid yet, so much more is left in the cartridge (--left-ml)."
        )
    if isinstance(block, Restart):
        return _no_pause(f"{block.kind}: {_to_run_out(block, told)}")
    return _no_pause(f"{block.kind}: {block.reason}{_to_do(plan, block, told)}")


def _no_pause(what: str) -> str:
    return f"The pause that is due there is not repeated ({shown(what)}): do now what it was for."


def _to_do(plan: Plan, pause: Pause, told: _Told) -> str:
    """What of a pause that has been begun may still be missing: clay to load, and to run out."""
    later = list(enumerate(loads(plan)))[1:]
    put_on = [at for at, load in later if plan.insertions[load.place].intention is pause]
    if not put_on:
        return f"; {_clay(pause)}" if pause.clay_ml else ""
    to_do = [_to_run_out(pause, told)] if pause.clay_ml else []
    # in the plan of a rest nothing is known of what was to be loaded before it
    what = (
        "a cartridge to load"
        if told.before
        else f"{told_ml(plan, cartridges(plan)[put_on[0]]):.0f} ml to load"
    )
    return f"; {', '.join([what, *to_do])}"


def _to_run_out(pause: Pause, told: _Told) -> str:
    """What to say if it has not run out yet, of a cartridge that has been put on there."""
    if told.run_out_ml is not None:
        amount = f"{told.run_out_ml:.4g} ml are" if told.run_out_ml else "nothing is"
        return f"{_clay(pause)}; as you say, {amount} run out when it goes on"
    if told.before:  # nothing of it has come in the file of that rest
        missing = f"say --run-out {pause.clay_ml:.4g}, and what is left in the cartridge (--left-ml)"
        return f"{_clay(pause)}; if they have not been yet, {missing}"
    said = f"{_clay(pause)}; if they have not been yet, say --came-ml 0 --run-out {pause.clay_ml:.4g}"
    half = f"{pause.clay_ml / 2:.4g}"
    return said if pause.lay is None else f"{said}; if half of them have, --came-ml {half} --run-out {half}"


def _clay(pause: Pause) -> str:
    """Clay that runs where a pause is."""
    parts = [(pause.prime_ml, "to run out"), (pause.clay_ml - pause.prime_ml, "to lay on the bed")]
    return " and ".join(f"{ml:.4g} ml {what}" for ml, what in parts if ml > LEAST_ML)
