"""Numbers that fit and can hardly be meant, by their keys: mostly they are in another unit than the key's.

All limits, and the reasons for them, are our own choice, meant to be wide enough for whatever a studio does:
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from gpost.config.problem import KeyPath


class Doubt(NamedTuple):
    """What to ask of a value."""

    wrong: str
    """As the rest of a sentence that begins with it."""
    hint: str
    """What is probably meant; "" if nothing can be guessed."""


class Limit(NamedTuple):
    """From where on a key's number can hardly be meant."""

    keys: tuple[str, ...]
    """How the key's path ends, places in lists left out: in a step the key's name alone, whosever it is."""
    limit: float
    wrong: str
    hint: Callable[[float], str]
    above: bool = False
    """Whether what is above the limit is asked about; else what is below it."""
    none_too: bool = False
    """Whether 0 is asked about as well; else it is none, and meant so."""

    def doubts(self, path: KeyPath, value: float) -> bool:
        """Whether it asks about the value at a path."""
        names = tuple(part for part in path if isinstance(part, str))
        if names[-len(self.keys) :] != self.keys:
            return False
        if self.above:
            return value > self.limit
        return value < self.limit and (value > 0 or self.none_too)


def doubt_of(path: KeyPath, value: float) -> Doubt | None:
    """What to ask of a number at a path; None: it may be meant so."""
    found = (Doubt(one.wrong, one.hint(value)) for one in LIMITS if one.doubts(path, value))
    return next(found, None)


def _in(unit: str, factor: float) -> Callable[[float], str]:
    return lambda value: f"if {unit} are meant, write {value * factor:.4g}"


def _says(text: str) -> Callable[[float], str]:
    return lambda _value: text


def _of_the_dry(percent: float) -> str:
    return f"if it is of the dry mass, write {100 * percent / (100 + percent):.3g}"


def _on_top(percent: float) -> str:
    return f"if it comes on top of 100, write {100 + percent:g}"


_BORE, _LENGTH, _HELD = (("cartridge", key) for key in ("hose_bore_mm", "hose_length_mm", "volume_ml"))
_RIM, _WORKING, _LIFT = ("clay", "rim_min"), ("clay", "working_min"), ("machine", "pause", "lift_mm")
_LINE, _RESERVE = ("cartridge", "line_ml"), ("cartridge", "reserve_ml")
_TRAVEL, _RISE = ("machine", "travel_feed_mm_min"), ("machine", "lift_feed_mm_min")
_PRIME, _UNDER_WAY = ("machine", "prime_flow_ml_min"), ("machine", "acceleration_mm_s2")
_DENSITY, _WATER = ("wet_density_g_ml",), ("water_percent",)
_YIELD, _STIFFENING = ("yield_stress_pa",), ("stiffening_pa_s",)
_FLOW, _BY_LAYER = ("flow_percent",), ("by_layer_percent",)
_WEIGH = _says("fill a measure and weigh it (gpost calibrate --measure)")
_SECONDS, _LITRES, _PER_SECOND = _in("seconds", 1 / 60), _in("litres", 1000), _in("mm/s", 60)
_HALF = "percent is less than half of the clay"

LIMITS = (
    # what it takes to push clay grows with the length over the bore
    Limit(_BORE, 2, "mm is a hose that no clay goes through", _in("cm", 10)),
    # a cartridge right on the auger has no hose, and then the key is left out
    Limit(_LENGTH, 10, "mm is no hose", _in("metres", 1000)),
    # a pressure tank that feeds a printer stands on the floor, and holds some tens of litres
    Limit(_HELD, 50_000, "ml is more than a tank beside a printer holds", _in("mm³", 0.001), above=True),
    # a thimble holds more
    Limit(_HELD, 1, "ml is less than a thimble holds", _LITRES),
    # the cone of a clay nozzle alone holds more; 0 is no hose
    Limit(_LINE, 0.5, "ml is ten drops, and no hose", _LITRES),
    # it stays on the plunger and in the neck, also of a small syringe; 0 is a plunger that wipes clean
    Limit(_RESERVE, 0.5, "ml is ten drops, and less than stays on a plunger", _LITRES),
    # over a bed of 200 mm it would fly for a minute; in mm/s machines fly at 20 to 150
    Limit(_TRAVEL, 200, "mm per min is slower than clay is laid", _PER_SECOND),
    # a lift of 10 mm would take 20 s; in mm/s a screw lifts by 5 to 20
    Limit(_RISE, 30, "mm per min is slow even for a screw", _PER_SECOND),
    # a prime of a few ml would take ten minutes; in ml/s pumps give a tenth to 2
    Limit(_PRIME, 0.5, "ml per min is a drop every few seconds", _in("ml/s", 60)),
    # the machine would need seconds to get to the speed at which it lays; in m/s² 0.1 to 3 are usual
    Limit(_UNDER_WAY, 10, "mm/s² hardly gets a machine under way", _in("m/s²", 1000)),
    # a rim in the air is leather-hard within hours; the key is for what comes long before that
    Limit(_RIM, 120, "min is long for a rim in the air", _SECONDS, above=True),
    # who leaves clay in the hose over night runs it out anyway
    Limit(_WORKING, 1440, "min is more than a day in the hose", _SECONDS, above=True),
    # half of water makes 1.44 g per ml without any air
    Limit(_DENSITY, 1.3, "g per ml is hardly more than water", _WEIGH),
    # the dry mineral itself has 2.5 to 2.6
    Limit(_DENSITY, 2.4, "g per ml is nearly dry stone", _WEIGH, above=True),
    # printing clay has 20 to 30, a slip up to 45
    Limit(_WATER, 50, "percent of the wet mass is no clay that stands", _of_the_dry, above=True),
    # less is within the ripple of a wall's top
    Limit(_LIFT, 1, "mm of lift drags the nozzle over the rim", _says("10 is usual"), none_too=True),
    # soft printing clay is said to have 1000 to 10000
    Limit(_YIELD, 50, "Pa is a slip that bears nothing", _in("kPa", 1000)),
    # stiff clay for throwing up to ten times as much
    Limit(_YIELD, 200_000, "Pa is dry clay", _in("mPa", 0.001), above=True),
    # 0 to 1 is said to be usual
    Limit(_STIFFENING, 20, "Pa/s is plaster, and no clay", _in("mPa/s", 0.001), above=True),
    # beads of less than half the clay don't join
    Limit(_FLOW, 50, _HALF, _on_top),
    Limit(_BY_LAYER, 50, _HALF, _on_top),
)
"""Each with its reason above it."""
