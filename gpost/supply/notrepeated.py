"""What isn't repeated where a stopped print goes on: pauses that have been, and what they were for."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.plan.intentions import Pause, Restart
from gpost.plan.laidpath import LaidPath
from gpost.plan.plan import Plan
from gpost.plan.resume import due_at, is_among
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges
from gpost.supply.loads import loads
from gpost.supply.sure import told_ml


def not_repeated(plan: Plan, spot: Spot, done: int | None) -> Iterator[str]:
    """The pauses at a spot, and the file's own behind which nothing is laid before it."""
    due = due_at(plan, spot, done)
    for pause in (pause for pause in plan.pauses if pause.spot == spot and not is_among(pause, due)):
        if not isinstance(pause, Restart):
            yield f"{pause.kind}: {pause.reason}{_to_do(plan, pause)}"
        elif pause.prime_ml:
            yield f"{pause.kind}: {_to_run_out(pause, f'{pause.load_ml or 0.0:.4g}')}"
    end_line = spot.line + (spot.fraction > 0)
    for own in plan.own_pauses:
        if own.line < spot.line and not LaidPath(plan.survey, own.line, end_line).length_mm:
            yield f"the file's own {own.command}, line {own.line + 1}"


def _to_do(plan: Plan, pause: Pause) -> str:
    """What of a pause that has been begun may still be missing: clay to load, and to run out."""
    put_on = [at for at, load in enumerate(loads(plan)) if load.spot == pause.spot]
    if not (pause.new_cartridge and put_on):
        return f"; {pause.prime_ml:.4g} ml to run out" if pause.prime_ml else ""
    load_ml = f"{told_ml(plan, cartridges(plan)[put_on[-1]]):.0f}"
    run_out = f", {_to_run_out(pause, load_ml)}" if pause.prime_ml else ""
    return f"; {load_ml} ml to load{run_out}"


def _to_run_out(pause: Pause, left_ml: str) -> str:
    """What to say if it has not run out yet; `left_ml`: what is in the cartridge then."""
    said = f"{pause.prime_ml:.4g}"
    return f"{said} ml to run out; if they have not been yet, say --left-ml {left_ml} --run-out {said}"
