"""Where the nozzle stands when the rest of a stopped print begins, and where a rehearsal of its way ends."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gpost.errors import PlanError
from gpost.plan.around import ground_under
from gpost.plan.blocktime import CLEAR_MM
from gpost.plan.intentions import Ground
from gpost.plan.plan import Plan
from gpost.plan.restart import Found
from gpost.plan.resume import PAPER_MM, begun_near, highest_mm

if TYPE_CHECKING:
    from gpost.supply.stopped import Stopped

HAND_MM = 90.0
"""A hand's width: so far above the place its way is looked at first at most; common practice, no source."""

SHOWN = 20
"""Letters that a small display shows: common practice, no source."""


class Manner(NamedTuple):
    """How the rest begins, by which its file is told from one that begins in another way."""

    shown: str
    """On a display of `SHOWN` letters, while it waits."""
    said: str
    """In the first comment of the file."""


def begins(plan: Plan, stopped: Stopped, *, is_set: bool) -> Manner:
    """In words. `is_set`: whether the potter sets the nozzle."""
    homes = plan.config.machine.home_with_piece
    homing = {"none": "", "xy": "homes X and Y", "all_up": "homes all axes"}[homes]
    if is_set:
        on = _set_on(plan, stopped)
        shown, said = f"Tip on {on}: {'homes XY' if homing else 'go on'}", [f"the tip must be on the {on}"]
    elif homing:
        shown, said = {"xy": "Homes XY, goes on", "all_up": "Homes all, goes on"}[homes], []
    else:
        shown, said = "Not moved: go on", ["the machine must know its place"]
    said += [f"it {homing}"] if homing else []
    if stopped.look:
        shown, said = f"REHEARSAL tip on {on}" if is_set else "REHEARSAL: look", ["REHEARSAL", *said]
    if len(shown) > SHOWN:
        shown = shown.replace(":", "").replace(" tip", "")
    return Manner(shown, ", ".join(said))


def _set_on(plan: Plan, stopped: Stopped) -> str:
    """Over what the nozzle is set, in a word."""
    if stopped.set_on != "bed":
        return "rim"
    return "bed" if park_ground(plan) is None else "slab"


def check_nozzle(plan: Plan, stopped: Stopped, found: Found) -> None:
    """What is said of where the nozzle stands can be meant. Raises PlanError for what would not count."""
    below_mm, homes_up = stopped.nozzle_below_mm, plan.config.machine.home_with_piece == "all_up"
    if stopped.set_on is not None and stopped.lost == "nothing":
        raise PlanError(
            "--set-on goes with --lost z or all; a machine that knows its height needs no setting"
        )
    if stopped.set_on is not None and homes_up:
        raise PlanError(
            "--set-on would not count: by the studio's word all axes are homed, Z upwards "
            "(machine: home_with_piece: all_up), so leave it out"
        )
    if below_mm is None:
        return
    if stopped.lost != "nothing" and not homes_up:
        raise PlanError(
            f"--nozzle-below goes with a height that is known; with --lost {stopped.lost} the nozzle stands "
            "where you set it, so leave it out"
        )
    top_mm = found.end_mm[2]
    if below_mm < top_mm:
        raise PlanError(
            f"--nozzle-below {below_mm:g} mm lies under the top, which stands at {top_mm:.2f} mm; say how "
            "high the nozzle stands at most, the top's height at least"
        )
    if stopped.look and below_mm < top_mm + CLEAR_MM:
        raise PlanError(
            f"a rehearsal ends no higher than its rest may begin, and --nozzle-below {below_mm:g} mm would "
            f"end it on the top, which stands at {top_mm:.2f} mm; say --nozzle-below "
            f"{math.ceil(10 * (top_mm + CLEAR_MM)) / 10:g} or more, for both"
        )


def stands_below_mm(plan: Plan, stopped: Stopped, found: Found) -> float:
    """How high the nozzle stands at most when the rest is let go, machine mm.

    Where nobody says it, that is as high as the file sends it, and clear of the place in any case: a
    rehearsal ends there. Each rest that may have stopped on its way has lifted it once more.
    """
    if stopped.nozzle_below_mm is not None:
        return stopped.nozzle_below_mm
    lift_mm, ceiling_mm = lift_of(plan), plan.config.machine.ceiling_mm
    highest = max(highest_mm(plan), min(found.end_mm[2] + lift_mm, ceiling_mm - lift_mm))
    return min(highest + lift_mm * begun_near(plan, found.spot), max(ceiling_mm, highest))


def look_mm(plan: Plan, found: Found, below_mm: float) -> float:
    """Where a rehearsal of the way ends, machine mm: above the place, and where the rest may begin.

    Who goes on from there is lifted first, and may not be lifted over the ceiling. `below_mm`: how high the
    nozzle may stand then.
    """
    top_mm = found.end_mm[2]
    highest = min(below_mm, plan.config.machine.ceiling_mm - lift_of(plan))
    return max(min(top_mm + HAND_MM, highest), top_mm + CLEAR_MM)


def lift_of(plan: Plan) -> float:
    """By how much it goes straight up before all else, mm."""
    return max(plan.config.machine.pause.lift_mm, CLEAR_MM)


def set_at(plan: Plan, stopped: Stopped, found: Found) -> tuple[float, float, float] | None:
    """Where the potter sets the nozzle; None where the machine needs nobody for it."""
    homes = plan.config.machine.home_with_piece
    if stopped.lost == "nothing" or homes == "all_up":
        return None
    x, y, z = found.end_mm
    if stopped.set_on != "bed":
        return x, y, z + PAPER_MM
    if stopped.lost == "all" and homes == "none":
        raise PlanError(
            "where the machine knows none of its places the nozzle is set over the end of the last bead "
            "(--set-on rim), or X and Y are homed by the studio's word (machine: home_with_piece)"
        )
    park, ground = plan.config.machine.park, park_ground(plan)
    return park.x_mm, park.y_mm, PAPER_MM + (0.0 if ground is None else ground.top_mm)


def park_ground(plan: Plan) -> Ground | None:
    """What lies on the bed at the park, such as the slab; None: the bed is bare there."""
    park = plan.config.machine.park
    return ground_under(plan, np.array([[park.x_mm], [park.y_mm]]))
