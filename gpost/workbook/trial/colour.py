"""A change of colour in a printed piece: from the heights where it began and ended to ml pushed."""

from __future__ import annotations

from collections.abc import Sequence

from gpost.errors import ConfigError
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.supply.cartridges import clay_at

Pair = tuple[float, float]


def pushed_ml(plan: Plan, heights_mm: Sequence[Pair]) -> list[Pair]:
    """Clay pushed from each change of colour to the heights where it began to show and was complete.

    `plan` is the piece as it was printed; one pair of heights for each of its changes, in order. Raises
    ConfigError when their numbers differ, or a height is not in the piece.
    """
    changes = [pause for pause in plan.pauses if pause.new_cartridge and pause.colour is not None]
    if len(changes) != len(heights_mm):
        raise ConfigError(
            f"the recipe changes the colour {len(changes)} times, but {len(heights_mm)} pairs of heights are "
            "given; name one --colour for each change, in order, and the config the piece was printed with"
        )
    return [_pushed(plan, pause, pair) for pause, pair in zip(changes, heights_mm, strict=True)]


def _pushed(plan: Plan, pause: Pause, heights_mm: Pair) -> Pair:
    loaded_ml = clay_at(plan, pause)
    began_ml, ended_ml = (clay_at_height(plan, height) - loaded_ml for height in heights_mm)
    if not 0 < began_ml < ended_ml:
        raise ConfigError(
            f"between {heights_mm[0]:g} and {heights_mm[1]:g} mm a change can't begin and end: its clay "
            "was loaded only later, or both lie in one layer"
        )
    return began_ml, ended_ml


def clay_at_height(plan: Plan, height_mm: float) -> float:
    """Net clay in ml metered when the piece has grown to a height. Raises ConfigError for one above it."""
    spot = plan.survey.spot_at(height_mm) if height_mm > 0 else None
    if spot is None:
        raise ConfigError(
            f"the piece has no height of {height_mm:g} mm; it ends at {plan.survey.height_mm:g} mm"
        )
    return plan.clay_before(spot)
