"""A change of colour in a printed piece: from the heights where it began and ended to ml pushed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from gpost.clay.mixing import HoseFit
from gpost.clay.spread import NORMAL_REACH
from gpost.clay.water import Measured as When
from gpost.clay.water import wet_size_mm
from gpost.config.model import Clay, Config
from gpost.errors import ConfigError
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.plan.starts import starts
from gpost.supply.cartridges import clay_at
from gpost.workbook.sure import MOST_OFF_PERCENT, loose

Pair = tuple[float, float]
DOUBT = 0.1
"""Share by which a hose that comes out too small, or trials that miss it, make one ask whether it shrank."""
SAY_WHEN = "--measured dry or --measured fired"


@dataclass(frozen=True, slots=True)
class Measured:
    """When the heights of a piece were measured."""

    when: When | None = None
    """None: not said, so that they are taken as wet."""
    drying_percent: float | None = None
    """Of height, if they were measured dry."""

    def printed_mm(self, heights_mm: Sequence[Pair], clay: Clay) -> list[Pair]:
        """The heights as they were printed."""
        upwards = clay.shrinkage_percent if clay.shrinkage_z_percent is None else clay.shrinkage_z_percent
        percent = {"dry": self.drying_percent, "fired": upwards}.get(self.when or "wet") or 0.0
        return [(wet_size_mm(began, percent), wet_size_mm(ended, percent)) for began, ended in heights_mm]

    def words(self, clay: Clay) -> str:
        """How the heights were taken."""
        if self.when == "dry":
            return (
                f"the heights are taken as dry: the piece lost {self.drying_percent:g} % of its height in "
                "drying"
            )
        if self.when == "fired":
            key = "shrinkage_percent" if clay.shrinkage_z_percent is None else "shrinkage_z_percent"
            known = "" if key in clay.model_fields_set else ", which your config doesn't say: it is a guess"
            return (
                f"the heights are taken as fired: the piece shrank by {getattr(clay, key):g} % upwards "
                f"(clay: {key}{known})"
            )
        if self.when == "wet":
            return "the heights are taken as wet, as printed"
        return (
            "the heights are taken as wet, as printed; off a dry or fired piece they would make the hose up "
            f"to a third too small: then say {SAY_WHEN}"
        )

    @property
    def hint(self) -> str:
        """What is likely where heights make no sense; empty if it was said when they were measured."""
        return "" if self.when else f". Was the piece dry or fired when you measured it? Then say {SAY_WHEN}"


@dataclass(frozen=True, slots=True)
class Changes:
    """What changes of colour say of the hose."""

    fit: HoseFit
    trials: tuple[Pair, ...]
    """Clay pushed when each began and was complete, ml."""
    config: Config
    measured: Measured | None = None
    """None: the trials were given in ml."""

    @property
    def doubtful(self) -> bool:
        """Whether the hose comes out as if the piece had shrunk, and nobody said when it was measured."""
        if self.measured is None or self.measured.when is not None:
            return False
        cartridge, holdup_ml = self.config.cartridge, self.fit.line.holdup_ml
        known = cartridge.model_fields_set & {"line_ml", "hose_bore_mm"}
        small = bool(known) and holdup_ml < (1 - DOUBT) * cartridge.line_ml
        return small or self.fit.off_ml > DOUBT * holdup_ml

    @property
    def reach_ml(self) -> float | None:
        """Half of the 95 % interval of what the hose holds; None for one change."""
        return None if self.fit.spread_ml is None else NORMAL_REACH * self.fit.spread_ml

    @property
    def no_line(self) -> str:
        """Why they give no lines; empty if they do."""
        holdup_ml = self.fit.line.holdup_ml
        if self.doubtful:
            return "first make sure when the piece was measured"
        if self.reach_ml is None:
            return "one change says nothing of its own error; give two or more"
        limit_ml = holdup_ml * MOST_OFF_PERCENT / 100
        known_ml = self.config.cartridge.line_spread_ml
        return loose(self.reach_ml, "ml", limit=limit_ml, of="what the hose holds", known=known_ml)


AS_PRINTED = Measured()
READ_OFF_MM = 0.5
"""How far a height read on a piece may be off, as a standard deviation (common practice, no source)."""


def read_off_ml(trials_ml: Sequence[Pair], heights_mm: Sequence[Pair]) -> float:
    """How far the clay in the hose may be off by reading the two heights of a change, ml; on average."""
    per_mm = [
        (ended_ml - began_ml) / (ended_mm - began_mm)
        for (began_ml, ended_ml), (began_mm, ended_mm) in zip(trials_ml, heights_mm, strict=True)
    ]
    return READ_OFF_MM * sum(per_mm) / len(per_mm) / math.sqrt(2)


def pushed_ml(plan: Plan, heights_mm: Sequence[Pair], measured: Measured = AS_PRINTED) -> list[Pair]:
    """Clay pushed from each change of colour to the heights where it began to show and was complete.

    `plan` is the piece as it was printed; one pair of heights for each of its changes, in order, as they were
    `measured`. Raises ConfigError when their numbers differ, or a height is not in the piece.
    """
    changes = [pause for pause in plan.pauses if pause.new_cartridge and pause.colour is not None]
    if len(changes) != len(heights_mm):
        raise ConfigError(
            f"the recipe changes the colour {len(changes)} times, but {len(heights_mm)} pairs of heights are "
            "given; name one --colour for each change, in order, and the config the piece was printed with"
        )
    printed_mm = measured.printed_mm(heights_mm, plan.config.clay)
    try:
        return [_pushed(plan, pause, pair) for pause, pair in zip(changes, printed_mm, strict=True)]
    except ConfigError as error:
        raise ConfigError(f"{error}{measured.hint}") from error


def _pushed(plan: Plan, pause: Pause, heights_mm: Pair) -> Pair:
    come_ml = starts(plan).come_ml
    loaded_ml = float(come_ml(clay_at(plan, pause)))
    began_ml, ended_ml = (float(come_ml(clay_at_height(plan, height))) - loaded_ml for height in heights_mm)
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
