"""What clays weigh: each by its own density and water, as far as the studio says them."""

from __future__ import annotations

from collections.abc import Mapping

from gpost.clay.water import Masses, masses
from gpost.config.model import Config


def weigh(config: Config, amounts_ml: Mapping[str, float]) -> Masses:
    """Wet and dry mass, and water, of so many ml of some clays together, g."""
    clay, named = config.clay, {known.name: known for known in config.clays}
    found = [Masses(0.0, 0.0, 0.0)]
    for name, amount_ml in amounts_ml.items():
        own = named.get(name)
        density = own.wet_density_g_ml if own is not None else None
        water = own.water_percent if own is not None else None
        found.append(
            masses(
                amount_ml,
                clay.wet_density_g_ml if density is None else density,
                clay.water_percent if water is None else water,
            )
        )
    return Masses(*map(sum, zip(*found, strict=True)))
