"""What to load into each cartridge so that the wished colours show: the way back through the hose.

Clay that is to be at the nozzle after m ml of net clay has to leave the cartridge earlier, by what the line
needs to bring it there (`gpost.clay.mixing`). Net clay counts all that the plan adds: purges, primes of
refills. A cartridge gives the most that the plan asks of it, and keeps its reserve; the hose is full before
the first line of the file is run, and full at the end.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gpost.clay.mixing import BEGINS, FULL, HALF, Hose
from gpost.errors import PlanError
from gpost.plan.plan import Plan
from gpost.supply.bands import Bands, ColourWish, Mix, above_top, below_top, name_of, same, too_thin, wishes
from gpost.supply.cartridges import cartridges, owed_ml
from gpost.supply.heights import LEAST_ML, Floats, Heights
from gpost.supply.names import alike, doubt
from gpost.supply.reach import Reach, reach
from gpost.supply.slugs import Slug, bore, several_in_the_hose, too_thin_slugs, with_fewer_steps

SAMPLES = 2000
"""Places at which a band is looked at for where it is purest."""


@dataclass(frozen=True, slots=True)
class Edge:
    """Where one mixture follows another on the piece."""

    wish: ColourWish
    outlet_ml: float
    """Net clay at which it begins to leave the cartridge; below 0: it lies in the line from the start."""
    start_mm: float
    """Nozzle height at which it begins to show (5 %)."""
    half_mm: float
    full_mm: float


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True)
class LoadingSheet:
    """The loading sheet."""

    slugs: tuple[Slug, ...]
    """The line's first, then cartridge by cartridge, each in the order in which it leaves."""
    edges: tuple[Edge, ...]
    """One for each mixture after the first."""
    first: Mix
    line: Hose
    total_ml: float
    """Net clay of the job."""
    loaded_from: str
    warnings: tuple[str, ...]
    due: tuple[Due, ...]
    """One for each cartridge."""

    def of(self, cartridge: int) -> list[Slug]:
        """The slugs of one cartridge (0: the line) in the order in which they GO IN."""
        found = [slug for slug in self.slugs if slug.cartridge == cartridge]
        return found[::-1] if cartridge and self.loaded_from == "outlet" else found

    @property
    def cartridges(self) -> list[int]:
        """Numbers of the cartridges."""
        return sorted({slug.cartridge for slug in self.slugs} - {0})

    @property
    def clays(self) -> list[str]:
        """Names of all clays, in the order of showing."""
        return list(dict.fromkeys(clay for mix in self._mixes for clay in mix))

    @property
    def _mixes(self) -> list[Mix]:
        return [self.first, *(edge.wish.mix for edge in self.edges)]

    def shares(self, clay_ml: ArrayLike) -> dict[str, Floats]:
        """Share of each clay at the nozzle at those net clays, shape of `clay_ml`; they add up to 1."""
        at_ml = np.asarray(clay_ml, dtype=np.float64)
        arrived = [self.line.new_share(at_ml - edge.outlet_ml) for edge in self.edges]
        return self._weighted([np.ones_like(at_ml), *arrived, np.zeros_like(at_ml)])

    def laid_ml(self) -> dict[str, float]:
        """ml of each clay that leave the nozzle in the whole job, purges and primes included."""
        span = np.array([0.0, self.total_ml])
        past = [np.diff(self.line.new_ml(span - edge.outlet_ml)) for edge in self.edges]
        found = self._weighted([np.diff(span), *past, np.zeros(1)])
        return {clay: float(amount[0]) for clay, amount in found.items()}

    def loaded_ml(self) -> dict[str, float]:
        """ml of each clay that go into line and cartridges."""
        found = dict.fromkeys(self.clays, 0.0)
        for slug in self.slugs:
            for clay, share in slug.mix.items():
                found[clay] += share * slug.clay_ml
        return found

    def _weighted(self, arrived: list[Floats]) -> dict[str, Floats]:
        found = {clay: np.zeros_like(arrived[0]) for clay in self.clays}
        for mix, own, following in zip(self._mixes, arrived[:-1], arrived[1:], strict=True):
            for clay, share in mix.items():
                found[clay] = found[clay] + share * (own - following)
        return found


def loading_sheet(plan: Plan, bands: Bands) -> LoadingSheet:
    """What to load so that the bands show on the planned piece.

    Raises PlanError for several pieces, for a plan that changes the colour itself or asks a cartridge for
    more than it has.
    """
    _check(plan)
    line, heights = plan.config.cartridge.hose, Heights(plan)
    bands, fewer = with_fewer_steps(bands, heights, plan.config)
    wanted = wishes(bands, heights.top_mm)
    covered = _covered(wanted, heights)
    found = list(_placed([wish for wish in wanted if wish not in covered], heights))
    delay_ml = line.pushed_ml(HALF if bands.show == "half" else BEGINS)
    outlets_ml = [at_ml - delay_ml for at_ml, _ in found[1:]]
    first = found[0][1].mix
    warnings = [*_misspelt(plan, bands), *above_top(bands, heights.top_mm)]
    warnings += below_top(bands, heights.top_mm, heights.rise_mm)
    warnings += [*too_thin(bands, covered, heights.rise_mm), *fewer]
    if bands.line_holds is not None:
        first, outlets_ml, found = _held(bands.line_holds, outlets_ml, found, warnings)
    edges = [
        Edge(wish, out_ml, *(heights.of(out_ml + line.pushed_ml(share)) for share in (BEGINS, HALF, FULL)))
        for out_ml, (_, wish) in zip(outlets_ml, found[1:], strict=True)
    ]
    slugs = tuple(_slugs(plan, first, edges))
    due = tuple(_due(plan))
    sheet = LoadingSheet(slugs, tuple(edges), first, line, plan.total_ml, bands.loaded_from, (), due)
    warnings += [*_blurred(edges, line), *_thin(found, sheet, heights), *too_thin_slugs(slugs, plan.config)]
    warnings += several_in_the_hose(slugs, heights.of(line.pushed_ml(BEGINS)))
    return dataclasses.replace(sheet, warnings=tuple(warnings))


def reach_of(plan: Plan, sheet: LoadingSheet) -> Reach:
    """Share of each clay in each layer of the piece that is loaded by the sheet."""
    return reach(plan, sheet.shares)


def _check(plan: Plan) -> None:
    if plan.survey.pieces != 1 or not len(plan.survey.layers):
        raise PlanError("a loading sheet needs one piece with layers; slice one piece a file")
    coloured = [pause.colour for pause in plan.pauses if pause.colour is not None]
    if coloured:
        raise PlanError(
            f"the steps change to {coloured[0]} in a pause, which the loading sheet would do without; "
            f"leave swap out of the config"
        )
    for use in cartridges(plan):
        if use.over_ml > LEAST_ML:
            raise PlanError(
                f"cartridge {use.number} is asked for {use.need_ml:.1f} ml, and {use.usable_ml:.1f} ml of it "
                f"can be counted on; add refill to the steps"
            )


def _placed(wanted: list[ColourWish], heights: Heights) -> Iterator[tuple[float, ColourWish]]:
    """(net clay at which it is to show, wish) of those in which a layer begins.

    One that goes on with the mixture before it is a part of that.
    """
    last: tuple[float, ColourWish] | None = None
    for wish in wanted:
        if last is not None and same(last[1].mix, wish.mix):
            last = (last[0], dataclasses.replace(last[1], plain=last[1].plain or wish.plain))
            continue
        if last is not None:
            yield last
        last = (heights.start_ml(wish.from_mm), wish)
    if last is not None:
        yield last


def _covered(wanted: list[ColourWish], heights: Heights) -> list[ColourWish]:
    """Wishes that end before a layer begins in them."""
    places = [heights.start_ml(wish.from_mm) for wish in wanted]
    pairs = zip(wanted, itertools.pairwise(places), strict=False)
    return [wish for wish, (start_ml, next_ml) in pairs if next_ml <= start_ml + LEAST_ML]


def _misspelt(plan: Plan, bands: Bands) -> Iterator[str]:
    """Warn of clays whose names are nearly alike: those of the bands, the line and the config."""
    clay = plan.config.clay
    names = [clay.colour] if "colour" in clay.model_fields_set else []
    names += [] if bands.line_holds is None else [bands.line_holds]
    yield from (doubt(*pair) for pair in alike([*names, *bands.clays]))


def _due(plan: Plan) -> Iterator[Due]:
    survey = plan.survey
    for use in cartridges(plan):
        spot = use.from_spot
        layer = survey.index_at(spot.line) + 1
        height_mm = survey.height_at(spot) if layer else 0.0
        yield Due(use.number, layer, height_mm, plan.clock_at(spot))


def _held(
    clay: str, outlets_ml: list[float], found: list[tuple[float, ColourWish]], warnings: list[str]
) -> tuple[Mix, list[float], list[tuple[float, ColourWish]]]:
    """The same with a line that is full of a clay: nothing else can leave the cartridge before it starts."""
    first = found[0][1]
    late = [wish for out_ml, (_, wish) in zip(outlets_ml, found[1:], strict=True) if out_ml < -LEAST_ML]
    if set(first.mix) != {clay}:
        late, outlets_ml = [first, *late], [0.0, *outlets_ml]
        found = [(0.0, ColourWish(0.0, {clay: 1.0}, None, False)), *found]
    warnings += [
        f"{name_of(wish.mix)} from {wish.from_mm:.1f} mm on is impossible: the hose still holds {clay}; "
        f"empty it before, or purge more"
        for wish in late
    ]
    return {clay: 1.0}, [max(out_ml, 0.0) for out_ml in outlets_ml], found


def _slugs(plan: Plan, first: Mix, edges: list[Edge]) -> Iterator[Slug]:
    """The hose's clay, then each cartridge's, in the order in which they leave."""
    density, bore_mm = plan.config.clay.wet_density_g_ml, bore(plan.config)
    cuts = [(-math.inf, first), *((edge.outlet_ml, edge.wish.mix) for edge in edges)]
    for number, low_ml, high_ml in _spans(plan):
        last = first
        for mix, amount_ml in _between(cuts, low_ml, high_ml):
            last = mix
            yield _slug(number, mix, amount_ml, density, bore_mm)
        if number and plan.config.cartridge.reserve_ml > 0:
            last = last if high_ml > low_ml else _mix_at(cuts, low_ml)
            yield _slug(number, last, plan.config.cartridge.reserve_ml, density, bore_mm, reserve=True)


def _spans(plan: Plan) -> Iterator[tuple[int, float, float]]:
    """(number, net clay from which and up to which it is asked for) of the line, 0, and each cartridge.

    What is drawn back has passed before, so a cartridge's clay is asked for beyond where the next one starts.
    """
    yield 0, -plan.config.cartridge.line_ml, 0.0
    start_ml = 0.0
    for use in cartridges(plan):
        low_ml = start_ml - (owed_ml(plan) if use.number > 1 else 0.0)
        yield use.number, low_ml, low_ml + use.need_ml
        start_ml += use.clay_ml


def _between(cuts: list[tuple[float, Mix]], low_ml: float, high_ml: float) -> Iterator[tuple[Mix, float]]:
    ends = [*(cut for cut, _ in cuts[1:]), math.inf]
    for (cut_ml, mix), end_ml in zip(cuts, ends, strict=True):
        amount_ml = min(end_ml, high_ml) - max(cut_ml, low_ml)
        if amount_ml > LEAST_ML:
            yield mix, amount_ml


def _mix_at(cuts: list[tuple[float, Mix]], at_ml: float) -> Mix:
    return next(mix for cut_ml, mix in reversed(cuts) if cut_ml <= at_ml)


def _slug(
    number: int, mix: Mix, clay_ml: float, density: float, bore_mm: float | None, *, reserve: bool = False
) -> Slug:
    length_mm = None
    if bore_mm is not None and number:
        length_mm = clay_ml * 1000 / (math.pi / 4 * bore_mm**2)
    return Slug(number, mix, clay_ml, clay_ml * density, length_mm, reserve)


def _blurred(edges: list[Edge], hose: Hose) -> Iterator[str]:
    """Warn of edges that the mixing makes wider than wished."""
    for edge in edges:
        width_mm = edge.full_mm - edge.start_mm
        if edge.wish.edge_mm is not None and width_mm > edge.wish.edge_mm + 1e-9:
            yield (
                f"the edge at {edge.wish.from_mm:.1f} mm can't be as sharp as {edge.wish.edge_mm:g} mm: the "
                f"hose mixes over {hose.width_ml:.1f} ml, so the sharpest goes from {edge.start_mm:.1f} to "
                f"{edge.full_mm:.1f} mm ({width_mm:.1f} mm); a shorter hose, or a pause and a purge (swap) "
                f"at that height, is sharper"
            )


def _thin(found: list[tuple[float, ColourWish]], sheet: LoadingSheet, heights: Heights) -> Iterator[str]:
    """Warn of plain bands that end before they are pure.

    What counts is all that the piece shows of the clay from the first trace of the band to the last: some of
    it may come from a blend next to it.
    """
    if not sheet.line.mixes:
        return
    begins_ml, full_ml = sheet.line.pushed_ml(BEGINS), sheet.line.pushed_ml(FULL)
    cuts_ml = [edge.outlet_ml for edge in sheet.edges]
    starts_ml = [0.0, *(max(cut_ml + begins_ml, 0.0) for cut_ml in cuts_ml)]
    ends_ml = [*(min(cut_ml + full_ml, sheet.total_ml) for cut_ml in cuts_ml), sheet.total_ml]
    for (_, wish), start_ml, end_ml in zip(found, starts_ml, ends_ml, strict=True):
        at_ml = heights.laid(np.linspace(start_ml, end_ml, SAMPLES))
        if not wish.plain or not len(at_ml):
            continue
        best = float(sheet.shares(at_ml)[name_of(wish.mix)].max())
        if best < FULL:
            yield (
                f"the band of {name_of(wish.mix)} from {wish.from_mm:.1f} mm on is never purer than "
                f"{best * 100:.0f} %: it is thinner than the hose mixes ({sheet.line.width_ml:.1f} ml from "
                f"first trace to full); make it higher"
            )
