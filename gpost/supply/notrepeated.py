"""What isn't repeated where a stopped print goes on: pauses and beads that have been, and their purpose."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.common.plain import shown
from gpost.plan.intentions import LayClay, Pause, Restart
from gpost.plan.laidpath import LaidPath
from gpost.plan.plan import Plan
from gpost.plan.resume import blocks_at, due_at, is_among
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges
from gpost.supply.contents import LEAST_ML
from gpost.supply.loads import loads, on_from
from gpost.supply.sure import told_ml


def not_repeated(plan: Plan, spot: Spot, done: int | None) -> Iterator[str]:
    """A sentence for each pause and bead at a spot, and for the file's own pauses just before it."""
    for text in _pauses(plan, spot, done):
        yield f"The pause that is due there is not repeated ({shown(text)}): do now what it was for."
    due = due_at(plan, spot, done)
    for block in blocks_at(plan, spot):
        if isinstance(block, LayClay) and not is_among(block, due):
            what = f"{block.why}, {block.clay_ml:.4g} ml" if block.why else f"{block.clay_ml:.4g} ml"
            yield (
                f"What is due there beside the piece is not laid again ({shown(what)}); if it has not been "
                "laid yet, so much more is left in the cartridge (--left-ml)."
            )


def _pauses(plan: Plan, spot: Spot, done: int | None) -> Iterator[str]:
    """The pauses at a spot, and the file's own behind which nothing is laid before it."""
    due = due_at(plan, spot, done)
    for pause in (pause for pause in plan.pauses if pause.spot == spot and not is_among(pause, due)):
        if not isinstance(pause, Restart):
            yield f"{pause.kind}: {pause.reason}{_to_do(plan, pause)}"
        elif pause.clay_ml:
            yield f"{pause.kind}: {_to_run_out(pause)}"
    end_line = spot.line + (spot.fraction > 0)
    for own in plan.own_pauses:
        if own.line < spot.line and not LaidPath(plan.survey, own.line, end_line).length_mm:
            yield f"the file's own {own.command}, line {own.line + 1}"


def _to_do(plan: Plan, pause: Pause) -> str:
    """What of a pause that has been begun may still be missing: clay to load, and to run out."""
    later = list(enumerate(loads(plan)))[1:]
    put_on = [at for at, load in later if plan.insertions[load.place].intention is pause]
    if not put_on:
        return f"; {_clay(pause)}" if pause.clay_ml else ""
    to_do = [_to_run_out(pause)] if pause.clay_ml else []
    if put_on[0] > on_from(plan):  # else its load was told where the print went on there before
        to_do.insert(0, f"{told_ml(plan, cartridges(plan)[put_on[0]]):.0f} ml to load")
    return "".join(f"{sign} {what}" for sign, what in zip(";,", to_do, strict=False))


def _to_run_out(pause: Pause) -> str:
    """What to say if it has not run out yet, of a cartridge that has been put on there."""
    said = f"{_clay(pause)}; if they have not been yet, say --came-ml 0 --run-out {pause.clay_ml:.4g}"
    half = f"{pause.clay_ml / 2:.4g}"
    return said if pause.lay is None else f"{said}; if half of them have, --came-ml {half} --run-out {half}"


def _clay(pause: Pause) -> str:
    """Clay that runs where a pause is."""
    parts = [(pause.prime_ml, "to run out"), (pause.clay_ml - pause.prime_ml, "to lay on the bed")]
    return " and ".join(f"{ml:.4g} ml {what}" for ml, what in parts if ml > LEAST_ML)
