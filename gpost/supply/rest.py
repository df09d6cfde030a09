"""What is really in hose and cartridge where a stopped print goes on, and what leaves them from there on.

All of it is one column, from the nozzle to the plunger: it stays in its order, whatever is run out, and
more or less of it has passed than was planned if a knob was turned.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from gpost.clay.byhand import came_ml
from gpost.plan.intentions import Behind, Restart
from gpost.plan.plan import Plan
from gpost.plan.starts import starts
from gpost.supply.bands import same
from gpost.supply.contents import LEAST_ML, Contents, Cut
from gpost.supply.loads import Load, clay_at, loads

Turns = Sequence[tuple[float, float]]
"""(net clay planned by then, share of what is planned that comes from there on) in rising order."""


def inside_now(
    inside: Contents, found: Sequence[Load], at_ml: float, turns: Turns = (), hose_holds: str | None = None
) -> tuple[Behind, ...]:
    """What is in hose and cartridge after so much planned net clay, of a plan's contents.

    `found`: its cartridges up to there, each of which was loaded as planned. What was to follow in later ones
    follows. `hose_holds`: the clay that the potter says is in the hose.
    """
    column = [*_column(inside, found, at_ml, turns)]
    if hose_holds is None:
        return tuple(column)
    on = [part for part in column if part.after_ml <= LEAST_ML][-1]
    later = [part for part in column if part.after_ml > LEAST_ML]
    return Behind(-math.inf, {hose_holds: 1.0}), on._replace(after_ml=0.0), *later


def _column(inside: Contents, found: Sequence[Load], at_ml: float, turns: Turns) -> Iterator[Behind]:
    last = Behind(-math.inf, inside.first)
    yield last
    starts_ml = [load.start_ml for load in found]
    now_ml = came_ml(at_ml, turns)
    for number, low_ml in enumerate(starts_ml):
        high_ml = starts_ml[number + 1] if number + 1 < len(starts_ml) else math.inf
        begins_ml = came_ml(low_ml, turns) - now_ml
        # what was left in the cartridge before it went with that
        ends_ml = math.inf if math.isinf(high_ml) else came_ml(high_ml, turns) - now_ml
        from_ml = low_ml if number else -math.inf  # what is in the hose at the start goes with the first
        own = [cut for cut in inside.cuts if from_ml < cut.outlet_ml < high_ml]
        parts = [Behind(begins_ml + cut.outlet_ml - low_ml, cut.mix, cut.wanted_mm) for cut in own]
        if number:
            on = [cut for cut in inside.cuts if cut.outlet_ml <= low_ml][-1:]
            parts[:0] = [Behind(begins_ml, cut.mix, cut.wanted_mm) for cut in on]
        for part in parts:
            if part.after_ml < ends_ml and not same(part.mix, last.mix):
                yield part
                last = part


def rest_contents(plan: Plan, restart: Restart, *, follows: bool) -> Contents:
    """What leaves the cartridges of a plan that goes on with a stopped print.

    `follows`: what comes after is loaded in that order, too; else as the pauses that are still due load it.
    """
    at_ml = clay_at(plan, restart)
    first, *behind = restart.inside
    cuts = [Cut(at_ml + part.after_ml, part.mix, part.wanted_mm) for part in behind]
    if not follows:
        place = next(at for at, item in enumerate(plan.insertions) if item.intention is restart)
        due = [load for load in loads(plan) if load.place > place]
        cuts = [cut for cut in cuts if cut.outlet_ml <= at_ml + LEAST_ML]
        cuts += [Cut(load.start_ml, {load.colour: 1.0}) for load in due]
    return Contents(first.mix, tuple(cuts), plan.config.cartridge.hose, starts(plan))
