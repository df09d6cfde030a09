"""Coloured clay: grams of each colourant for a batch, and ladders from one clay to another.

Colour is given as percent of the DRY mass of the clay: m = m_wet (1 - w) p / 100. Some makers count on
the moist clay; `of_dry_percent` turns that round. Colourants are added dry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from gpost.clay.poison import dust_cautions
from gpost.clay.water import dry_mass_g, water_to_add_g
from gpost.common.records import record

Recipe = Mapping[str, float]
"""Colourants by name, in percent of the dry mass."""
USUAL_MOST_PERCENT = 10.0
"""More than this of any colourant is rarely meant: common practice, no source."""
COBALT, CARBON, OXYGEN = 58.933, 12.011, 15.999
"""Atomic masses."""
CAUTIONS = (
    "Percent is of the dry mass of the clay. If your recipe counts on the moist clay, its numbers are lower "
    "for the same colour.",
    "Weigh and mix colourants where there is no draught, with a dust mask that fits and gloves, keep them "
    "off skin and mouth, wet them before you wedge, and wipe up wet.",
    "Fire a test tile of each batch: colour hangs on the clay, the glaze and the fire. Coloured clay is not "
    "food-safe unless somebody who may test it has tested it.",
)


@record(frozen=True, slots=True)
class Batch:
    """One batch of coloured clay."""

    wet_g: float
    """Wet clay to weigh out, with the allowance for loss."""
    dry_g: float
    """Dry mass of that clay."""
    percent: Recipe
    grams: Recipe
    """Grams of each colourant."""
    water_g: float
    """Water that keeps the clay as soft as it was, for the dry powder."""

    @property
    def total_g(self) -> float:
        """All that is in the batch, g."""
        return self.wet_g + sum(self.grams.values()) + self.water_g


@record(frozen=True, slots=True)
class Rung:
    """One step of a ladder: two ready clays blended by mass, or a batch coloured directly.

    Both ways hold the same plain clay, the same colourants and the same water.
    """

    share: float
    """Part of the second clay, 0 to 1, by the dry mass of plain clay, of which colourants are a percent."""
    first_g: float
    """Ready first clay, as it is weighed: with its colourants, and the water for them."""
    second_g: float
    batch: Batch
    """The same colour made from plain clay."""


def of_dry_percent(of_moist_percent: float, water_percent: float) -> float:
    """Percent of the dry mass, from percent of the moist clay: p / (1 - w)."""
    return 100 * of_moist_percent / dry_mass_g(100.0, water_percent)


def oxide_percent(carbonate_percent: float) -> float:
    """Percent of cobalt oxide (Co3O4) that brings as much cobalt as that of the carbonate (CoCO3).

    Masses for one atom of cobalt: (3 Co + 4 O) / 3 over Co + C + 3 O, from the atomic masses.
    """
    return carbonate_percent * (COBALT + 4 / 3 * OXYGEN) / (COBALT + CARBON + 3 * OXYGEN)


def is_cobalt_carbonate(name: str) -> bool:
    """Whether a colourant's name is that, in words or as formula."""
    small = name.lower()
    return "coco3" in small or ("cobalt" in small and "carbonate" in small)


def batch(wet_g: float, water_percent: float, colourants: Recipe, loss_percent: float = 0.0) -> Batch:
    """What to weigh so that `wet_g` of clay are left after the loss: wet / (1 - loss).

    Raises ValueError for a mass, a percentage or a loss that can't be.
    """
    if not 0 < wet_g < float("inf"):
        raise ValueError("the wet mass must be above 0 g")
    if not 0 <= loss_percent < 100:
        raise ValueError(f"the loss must be from 0 to below 100 %, not {loss_percent:g} %")
    for name, percent in colourants.items():
        if not 0 <= percent <= 100:
            raise ValueError(f"{name} must be from 0 to 100 % of the dry mass, not {percent:g} %")
    whole_g = wet_g / (1 - loss_percent / 100)
    dry_g = dry_mass_g(whole_g, water_percent)
    grams = {name: dry_g * percent / 100 for name, percent in colourants.items()}
    powder_g = sum(grams.values())
    water_g = water_to_add_g(powder_g, 0.0, water_percent)
    return Batch(whole_g, dry_g, dict(colourants), grams, water_g)


def ladder(
    steps: int,
    wet_g: float,
    water_percent: float,
    first: Recipe,
    second: Recipe,
    loss_percent: float = 0.0,
) -> list[Rung]:
    """From the first clay to the second in so many steps, both ends counted; each gives `wet_g`.

    The share rises evenly, 0 to 1, as does each colourant. A ready clay weighs more than the plain clay in
    it, by its colourants and their water: m (1 + p) for p of all its colourants together, since the water is
    the same share of all. Raises ValueError for fewer than 2 steps, and as `batch` does.
    """
    if steps < 2:
        raise ValueError("a ladder has 2 steps at least: its two ends")
    found = []
    for number in range(steps):
        share = number / (steps - 1)
        made = batch(wet_g, water_percent, blend(first, second, share), loss_percent)
        found.append(
            Rung(
                share,
                made.wet_g * (1 - share) * _ready(first),
                made.wet_g * share * _ready(second),
                made,
            )
        )
    return found


def ends(rungs: Sequence[Rung], water_percent: float) -> list[Batch]:
    """Batches of the two clays, first and second, that blend all rungs; the loss is in the rungs already."""
    first, second = rungs[0].batch.percent, rungs[-1].batch.percent
    totals_g = (sum(rung.first_g for rung in rungs), sum(rung.second_g for rung in rungs))
    return [
        batch(total_g / _ready(recipe), water_percent, recipe)
        for total_g, recipe in zip(totals_g, (first, second), strict=True)
    ]


def _ready(recipe: Recipe) -> float:
    """What a ready clay weighs for each g of the plain wet clay in it."""
    return 1 + sum(recipe.values()) / 100


def blend(first: Recipe, second: Recipe, share: float) -> dict[str, float]:
    """The colourants of a blend that holds that share of the second clay."""
    names = dict.fromkeys([*first, *second])
    return {name: (1 - share) * first.get(name, 0.0) + share * second.get(name, 0.0) for name in names}


def cautions(recipes: Sequence[Recipe]) -> list[str]:
    """What to mind: of these colourants by name, of unusual amounts, and of every colourant."""
    most: dict[str, float] = {}
    for recipe in recipes:
        for name, percent in recipe.items():
            most[name] = max(most.get(name, 0.0), percent)
    found = dust_cautions(most)
    found += [
        f"{percent:g} % of {name} colours as much as {oxide_percent(percent):.3g} % of cobalt oxide (Co3O4): "
        "they bring the same cobalt."
        for name, percent in most.items()
        if is_cobalt_carbonate(name)
    ]
    found += [
        f"{percent:g} % of {name} is a lot: up to {USUAL_MOST_PERCENT:g} % is usual. Is it of the dry mass?"
        for name, percent in most.items()
        if percent > USUAL_MOST_PERCENT
    ]
    return [*found, *CAUTIONS]
