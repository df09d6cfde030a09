"""What to load into each cartridge so that the wished colours show.

A cartridge gives the most that the plan asks of it, and keeps its reserve; the hose is full before the first
line of the file is run, and full at the end.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from numpy.typing import ArrayLike

from gpost.clay.mixing import BEGINS, Hose
from gpost.common.records import record
from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.plan.plan import Plan
from gpost.spot import START
from gpost.supply.bands import Mix
from gpost.supply.cartridges import CartridgeUse, cartridges, contents, misfit_of_colours, mixes_of
from gpost.supply.contents import LEAST_ML, Contents
from gpost.supply.edges import Edge, edges_of
from gpost.supply.heights import Floats, Heights
from gpost.supply.loads import needs, on_from, since_ml
from gpost.supply.names import clay_doubts, names_of
from gpost.supply.reach import Reach, reach
from gpost.supply.slugs import Slug, bore, several_in_the_hose, too_thin_slugs
from gpost.supply.sure import told_ml
from gpost.supply.weights import weigh

__all__ = [
    "Due",
    "Edge",
    "LoadingSheet",
    "colour_doubts",
    "grams",
    "loading_sheet",
    "reach_of",
    "slug_of",
    "slugs_of",
]


@record(frozen=True, slots=True)
class Due:
    """When a cartridge is put on."""

    cartridge: int
    """Its number, counted from 1."""
    layer: int
    """The layer printed then, counted from 1; 0: before the first."""
    height_mm: float
    """Nozzle height at which printing goes on; 0 before the first layer."""
    clock_s: float
    """Machine time from the start; an estimate, waiting not counted."""
    first: bool = False
    """Whether it is on when the job begins."""


@record(frozen=True, slots=True)
class LoadingSheet:
    """The loading sheet."""

    slugs: tuple[Slug, ...]
    """The line's first, then cartridge by cartridge, each in the order in which it leaves."""
    edges: tuple[Edge, ...]
    """One for each mixture after the first."""
    contents: Contents
    total_ml: float
    """Net clay of the job."""
    loaded_from: str
    """Which end of the cartridges is filled; "": each holds one clay, and nothing hangs on it."""
    show: str
    """What of a mixed change is at a band's height: half or start."""
    warnings: tuple[str, ...]
    due: tuple[Due, ...]
    """One for each cartridge."""

    def of(self, cartridge: int) -> list[Slug]:
        """The slugs of one cartridge (0: the line) in the order in which they GO IN."""
        return going_in([slug for slug in self.slugs if slug.cartridge == cartridge], self.loaded_from)

    @property
    def first(self) -> Mix:
        """What leaves first."""
        return self.contents.first

    @property
    def line(self) -> Hose:
        """The hose that it goes through."""
        return self.contents.hose

    @property
    def cartridges(self) -> list[int]:
        """Numbers of the cartridges."""
        return sorted({slug.cartridge for slug in self.slugs} - {0})

    @property
    def clays(self) -> list[str]:
        """Names of all clays, in the order of showing."""
        return self.contents.clays

    def shares(self, clay_ml: ArrayLike) -> dict[str, Floats]:
        """Share of each clay at the nozzle at those net clays, shape of `clay_ml`; they add up to 1."""
        return self.contents.shares(clay_ml)

    def laid_ml(self) -> dict[str, float]:
        """ml of each clay that leave the nozzle in the whole job, purges and primes included."""
        return self.contents.left_ml(0.0, self.total_ml)

    def loaded_ml(self) -> dict[str, float]:
        """ml of each clay that go into line and cartridges."""
        found = dict.fromkeys(self.clays, 0.0)
        for slug in self.slugs:
            for clay, share in slug.mix.items():
                found[clay] += share * slug.clay_ml
        return found


def loading_sheet(plan: Plan) -> LoadingSheet:
    """What to load so that the bands of the plan's config show on the piece, or what its steps put in.

    Raises PlanError for a plan that asks a cartridge for more than it has; with bands for several pieces, and
    for a plan that changes the colour itself.
    """
    bands = plan.config.colours
    _check(plan)
    edges = None if bands is None else edges_of(plan, bands)
    inside = contents(plan) if edges is None else edges.contents
    return LoadingSheet(
        tuple(slugs_of(plan, inside)),
        () if edges is None else edges.edges,
        inside,
        plan.total_ml,
        "" if bands is None else bands.loaded_from,
        "half" if bands is None else bands.show,
        tuple(colour_doubts(plan)),
        tuple(_due(plan)),
    )


def colour_doubts(plan: Plan) -> list[str]:
    """What of the colours can't be as it is asked for, and which names of clays may be misspelt."""
    return [*clay_doubts([names_of(plan)]), *band_doubts(plan)]


def band_doubts(plan: Plan) -> list[str]:
    """What of the config's bands can't be as it is asked for."""
    bands = plan.config.colours
    if bands is None or misfit_of_colours(plan):
        return []
    edges = edges_of(plan, bands)
    slugs = list(slugs_of(plan, edges.contents))
    if plan.restart is not None:  # what is in already can't be loaded otherwise
        on = cartridges(plan)[on_from(plan)].number
        later = [slug for slug in slugs if slug.cartridge > on]
        return [*edges.warnings, *too_thin_slugs(later, plan.config)]
    lowest_mm = Heights(plan).of(edges.contents.hose.pushed_ml(BEGINS))
    thin = too_thin_slugs(slugs, plan.config)
    return [*edges.warnings, *thin, *several_in_the_hose(slugs, lowest_mm)]


def going_in(leaving: list[Slug], loaded_from: str) -> list[Slug]:
    """The slugs of one cartridge, or of the hose, in the order in which they GO IN."""
    return leaving[::-1] if leaving and leaving[0].cartridge and loaded_from == "outlet" else leaving


def reach_of(plan: Plan, sheet: LoadingSheet) -> Reach:
    """Share of each clay in each layer of the piece that is loaded by the sheet."""
    return reach(plan, sheet.shares)


def _check(plan: Plan) -> None:
    wrong = misfit_of_colours(plan)
    if wrong:
        raise PlanError(wrong)
    for use in cartridges(plan):
        if use.over_ml > LEAST_ML:
            raise PlanError(
                f"cartridge {use.number} is asked for {use.need_ml:.1f} ml, and {use.usable_ml:.1f} ml of it "
                f"can be counted on; add refill to the steps"
            )


def _due(plan: Plan) -> Iterator[Due]:
    survey = plan.survey
    for use in cartridges(plan):
        spot = use.from_spot
        layer = survey.index_at(spot.line) + 1
        height_mm = survey.height_at(spot) if layer else 0.0
        yield Due(use.number, layer, height_mm, plan.clock_at(spot), spot == START)


def slugs_of(plan: Plan, inside: Contents) -> Iterator[Slug]:
    """The hose's clay, then each cartridge's, in the order in which they leave; of a rest what is there yet.

    Behind what is asked of a cartridge comes what is not counted on: the reserve, the margin that the
    config's spreads give, and the rest of the last ml, so that all of them add up to what is told to load.
    """
    config = plan.config
    begins_ml = since_ml(plan)
    for mix, amount_ml in inside.between(begins_ml - config.cartridge.line_ml, begins_ml):
        yield slug_of(config, 0, mix, amount_ml)
    for need in needs(plan)[on_from(plan) :]:
        load, need_ml = need.load, need.need_ml
        # what is drawn back before it, and given again out of it, counts as of its own clay
        mixes = mixes_of(inside, load, need_ml) if config.colours else [({load.colour: 1.0}, need_ml)]
        for mix, amount_ml in mixes:
            if amount_ml > 0:
                yield slug_of(config, load.number, mix, amount_ml)
        behind_ml = told_ml(plan, need) - need_ml
        if behind_ml > LEAST_ML:
            yield slug_of(config, load.number, mixes[-1][0], behind_ml, reserve=True)


def grams(config: Config, use: CartridgeUse, slugs: Iterable[Slug], ml: float) -> float:
    """What so many ml in a cartridge weigh: what is asked of it, and behind that the last slug's clay.

    `slugs`: of a plan, or none where each cartridge holds one clay.
    """
    own = [slug for slug in slugs if slug.cartridge == use.number]
    if not own:
        return weigh(config, use.parts_of(ml)).wet_g
    asked = [slug for slug in own if not slug.reserve]
    behind = next((slug.mix for slug in own if slug.reserve), asked[-1].mix if asked else {})
    more_ml = ml - sum(slug.clay_ml for slug in asked)
    weight = weigh(config, {clay: share * more_ml for clay, share in behind.items()}).wet_g
    return sum(slug.wet_g for slug in asked) + weight


def slug_of(config: Config, number: int, mix: Mix, clay_ml: float, *, reserve: bool = False) -> Slug:
    """So much of a mixture in a cartridge (0: in the hose), with its mass and length."""
    bore_mm, length_mm = bore(config), None
    if bore_mm is not None and number:
        length_mm = clay_ml * 1000 / (math.pi / 4 * bore_mm**2)
    wet_g = weigh(config, {clay: share * clay_ml for clay, share in mix.items()}).wet_g
    return Slug(number, mix, clay_ml, wet_g, length_mm, reserve)
