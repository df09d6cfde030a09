"""What is really in hose and cartridge where a stopped print goes on, and what leaves them from there on.

All of it is one column, from the nozzle to the plunger: it stays in its order, whatever is run out, and
more or less of it has passed than was planned if a knob was turned. Behind it comes what is still loaded.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from gpost.clay.byhand import came_ml
from gpost.plan.intentions import Behind, Restart
from gpost.plan.plan import Plan
from gpost.plan.starts import starts
from gpost.supply.bands import same
from gpost.supply.contents import LEAST_ML, Contents, Cut
from gpost.supply.loads import Load, clay_at, loads, on_from

Turns = Sequence[tuple[float, float]]
"""(net clay planned by then, share of what is planned that comes from there on) in rising order."""


def inside_now(
    inside: Contents,
    found: Sequence[Load],
    on: int,
    at_ml: float,
    turns: Turns = (),
    hose_holds: str | None = None,
) -> tuple[Behind, ...]:
    """What is in hose and cartridge after so much planned net clay, of a plan's contents.

    `found`: its cartridges, each of which was loaded as planned, so that behind what was asked of it its last
    mixture goes on. `on`: which of them is on. `hose_holds`: the clay that the potter says is in the hose.
    """
    column = [*_column(inside, [load.start_ml for load in found], on, at_ml, turns)]
    if hose_holds is None:
        return tuple(column)
    first = [part for part in column if part.after_ml <= LEAST_ML][-1]
    later = [part for part in column if part.after_ml > LEAST_ML]
    return Behind(-math.inf, {hose_holds: 1.0}), first._replace(after_ml=0.0), *later


def _column(
    inside: Contents, starts_ml: Sequence[float], on: int, at_ml: float, turns: Turns
) -> Iterator[Behind]:
    last, now_ml = Behind(-math.inf, inside.first), came_ml(at_ml, turns)
    yield last
    for number, low_ml in enumerate(starts_ml[: on + 1]):
        high_ml = starts_ml[number + 1] if number + 1 < len(starts_ml) else math.inf
        begins_ml = came_ml(low_ml, turns) - now_ml
        # what was left in a cartridge that came off went with that
        ends_ml = math.inf if number == on else came_ml(high_ml, turns) - now_ml
        # what is in the hose at the start goes with the first; a cut where one ends is the next one's start
        from_ml = low_ml + LEAST_ML if number else -math.inf
        parts = [
            Behind(begins_ml + cut.outlet_ml - low_ml, cut.mix, cut.wanted_mm)
            for cut in inside.cuts
            if from_ml < cut.outlet_ml < high_ml - LEAST_ML
        ]
        if number:
            first = [cut for cut in inside.cuts if cut.outlet_ml <= low_ml + LEAST_ML][-1:]
            parts[:0] = [Behind(begins_ml, cut.mix, cut.wanted_mm) for cut in first]
        for part in parts:
            if part.after_ml < ends_ml and not same(part.mix, last.mix):
                yield part
                last = part


def due(plan: Plan) -> list[Load]:
    """The cartridges that are still put on in a rest."""
    return list(loads(plan)[on_from(plan) + 1 :])


def rest_contents(plan: Plan, restart: Restart, later: Sequence[Cut]) -> Contents:
    """What leaves the cartridges of a plan that goes on with a stopped print.

    `later`: what is in the cartridges that are still put on.
    """
    at_ml, end_ml = clay_at(plan, restart), later[0].outlet_ml if later else math.inf
    first, *behind = restart.inside
    cuts = [Cut(at_ml + part.after_ml, part.mix, part.wanted_mm) for part in behind]
    cuts = [cut for cut in cuts if cut.outlet_ml < end_ml] + list(later)
    found = [cut for last, cut in pairwise([Cut(-math.inf, first.mix), *cuts]) if not same(last.mix, cut.mix)]
    return Contents(first.mix, tuple(found), plan.config.cartridge.hose, starts(plan))
