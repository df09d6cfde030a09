"""Which figures of the summary rest on gpost's own defaults, not on the config."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from gpost.config.model import Config

_METERED, _DENSITY, _RESERVE = "clay.metering", "clay.wet_density_g_ml", "cartridge.reserve_ml"
LOAD_ML, LOAD_G = "cartridges.load_ml", "cartridges.load_g"
_LOAD, _FIRED = (_METERED, _RESERVE), ("clay.shrinkage_percent",)
RESTS_ON: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "clay_ml": (_METERED,),
        "piece.clay_ml": (_METERED,),
        "piece.wet_g": (_METERED, _DENSITY),
        "piece.dry_g": (_METERED, _DENSITY, "clay.water_percent"),
        "piece.fired_x_mm": _FIRED,
        "piece.fired_y_mm": _FIRED,
        "piece.fired_height_mm": _FIRED,
        **dict.fromkeys(("piece.outside_wet", "piece.outside_dry"), ("clay.bead_width_mm",)),
        "piece.outside_fired": ("clay.bead_width_mm", *_FIRED),
        "line.clay_ml": ("cartridge.line_ml",),
        "cartridges.clay_ml": (_METERED,),
        "cartridges.wet_g": (_METERED, _DENSITY),
        "cartridges.dry_g": (_METERED, _DENSITY, "clay.water_percent"),
        "cartridges.usable_ml": ("cartridge.volume_ml", _RESERVE),
        LOAD_ML: _LOAD,
        LOAD_G: (*_LOAD, _DENSITY),
        "pauses.shows_at_height_mm": (_METERED, "cartridge.line_ml"),
    }
)
"""Figures, by their place in the summary's JSON, and the keys that a trial of the potter's gives."""


def of_loads(config: Config) -> dict[str, tuple[str, ...]]:
    """The same of what cartridges are loaded with alone."""
    found = defaults(config)
    return {figure: found[figure] for figure in (LOAD_ML, LOAD_G) if figure in found}


def defaults(config: Config) -> dict[str, tuple[str, ...]]:
    """The figures that rest on a key which the config leaves to gpost, and on which."""
    left = {
        f"{part}.{key}"
        for part, model in (("clay", config.clay), ("cartridge", config.cartridge))
        for key in type(model).model_fields
        if key not in model.model_fields_set
    }
    if config.cartridge.hose_bore_mm is not None:
        left.discard("cartridge.line_ml")
    found = {figure: tuple(key for key in keys if key in left) for figure, keys in RESTS_ON.items()}
    return {figure: keys for figure, keys in found.items() if keys}
