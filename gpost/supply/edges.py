"""Where each band of colour has to leave its cartridge so that it shows at its height: the way back.

Clay that is to be at the nozzle after m ml of net clay has to leave the cartridge earlier, by what the line
needs to bring it there (`gpost.clay.mixing`). Net clay counts all that the plan adds: purges, primes of
refills.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Iterable, Iterator

import numpy as np

from gpost.clay.chances import front_sd_ml, reach_sds
from gpost.clay.mixing import BEGINS, FULL, HALF, Hose
from gpost.common.records import record
from gpost.config.colours import Bands
from gpost.plan.layers import find_layer, spread_words
from gpost.plan.plan import Plan
from gpost.plan.starts import starts
from gpost.supply.bands import ColourWish, Mix, above_top, below_top, name_of, same, too_thin, wishes
from gpost.supply.contents import LEAST_ML, Contents, Cut
from gpost.supply.heights import Heights
from gpost.supply.loads import loads, since_ml, spans
from gpost.supply.rest import due, rest_contents
from gpost.supply.slugs import with_fewer_steps

SAMPLES = 2000
"""Places at which a band is looked at for where it is purest."""


@record(frozen=True, slots=True)
class Edge:
    """Where one mixture follows another on the piece."""

    wish: ColourWish
    outlet_ml: float
    """Net clay at which it begins to leave the cartridge; below 0: it lies in the line from the start."""
    start_mm: float
    """Nozzle height at which it begins to show (5 %)."""
    half_mm: float
    full_mm: float
    low_mm: float | None = None
    """In 95 prints of 100 it counts as showing from here on at the earliest; None: no spread is known."""
    high_mm: float | None = None
    """And from here on at the latest."""
    risen_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """How high the wall has risen there, its waves left out: widths and distances go by that."""


@record(frozen=True, slots=True)
class Edges:
    """All of them, and what leaves the cartridges for them."""

    edges: tuple[Edge, ...]
    """One for each mixture after the first."""
    contents: Contents
    warnings: tuple[str, ...]


def edges_of(plan: Plan, bands: Bands) -> Edges:
    """Where the bands leave the cartridges of the planned piece; of one piece with layers."""
    line, heights = plan.config.cartridge.hose, Heights(plan)
    bands, fewer = with_fewer_steps(bands, heights, plan.config)
    wanted = wishes(bands, heights.top_mm)
    covered = _covered(wanted, heights)
    found = list(_placed([wish for wish in wanted if wish not in covered], heights))
    delay_ml = line.pushed_ml(HALF if bands.show == "half" else BEGINS)
    flow = starts(plan)
    outlets_ml = [flow.before(at_ml, delay_ml) for at_ml, _ in found[1:]]
    first = found[0][1].mix
    if plan.restart is not None and plan.restart.inside:
        asked = [Cut(-math.inf, first, 0.0)]
        asked += [
            Cut(at_ml, wish.mix, wish.from_mm) for at_ml, (_, wish) in zip(outlets_ml, found[1:], strict=True)
        ]
        return _of_rest(plan, rest_contents(plan, plan.restart, list(_loaded(plan, asked))), bands, heights)
    warnings = [*above_top(bands, heights.top_mm)]
    warnings += below_top(bands, heights.top_mm, heights.rise_mm)
    warnings += [
        *too_thin(bands, covered, heights.rise_mm),
        *fewer,
        *_spread(plan, (wish for _, wish in found[1:])),
    ]
    if bands.line_holds is not None:
        first, outlets_ml, found = _held(bands.line_holds, outlets_ml, found, warnings)
    edges = [
        _edge(plan, heights, wish, out_ml, delay_ml)
        for out_ml, (_, wish) in zip(outlets_ml, found[1:], strict=True)
    ]
    cuts = tuple(Cut(edge.outlet_ml, edge.wish.mix, edge.wish.from_mm) for edge in edges)
    contents = Contents(first, cuts, line, flow)
    warnings += [*_blurred(edges, line), *_thin(found, contents, heights, plan.total_ml)]
    return Edges(tuple(edges), contents, tuple(warnings))


def _loaded(plan: Plan, asked: list[Cut]) -> Iterator[Cut]:
    """What is in the cartridges that are still put on in a rest: what is asked for from there on."""
    for load in due(plan)[:1]:
        begins_ml = load.start_ml - load.owed_ml  # it gives again what was drawn back before
        yield [cut for cut in asked if cut.outlet_ml <= begins_ml][-1]._replace(outlet_ml=begins_ml)
        yield from (cut for cut in asked if cut.outlet_ml > begins_ml)


def _of_rest(plan: Plan, contents: Contents, bands: Bands, heights: Heights) -> Edges:
    """Those that are still to come where a stopped print goes on, as hose and cartridge are filled now."""
    hose = contents.hose
    delay_ml = hose.pushed_ml(HALF if bands.show == "half" else BEGINS)
    at_ml, full_ml = since_ml(plan), hose.pushed_ml(FULL)
    edges = [
        _edge(plan, heights, ColourWish(cut.wanted_mm or 0.0, cut.mix, None, False), cut.outlet_ml, delay_ml)
        for cut in contents.cuts
        if contents.starts.after(cut.outlet_ml, full_ml) > at_ml + LEAST_ML
    ]
    return Edges(tuple(edges), contents, tuple(_elsewhere(edges, bands, heights)))


def _elsewhere(edges: list[Edge], bands: Bands, heights: Heights) -> Iterator[str]:
    """Warn of edges that come by more than a layer lower or higher than asked for."""
    for edge in edges:
        half, wanted_mm = bands.show == "half", edge.wish.from_mm
        shows_mm = edge.half_mm if half else edge.start_mm
        if abs(edge.risen_mm[half] - wanted_mm) > heights.rise_mm(wanted_mm):
            yield (
                f"{name_of(edge.wish.mix)}, asked for from {wanted_mm:.1f} mm on, shows from "
                f"{shows_mm:.1f} mm on, as hose and cartridge are filled now"
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


def _spread(plan: Plan, wanted: Iterable[ColourWish]) -> Iterator[str]:
    """Warn of bands that begin in a turn which goes up and down by much."""
    for wish in wanted:
        there = find_layer(plan, None, wish.from_mm) if wish.plain else None
        words = spread_words(plan.survey, wish.from_mm, there.spot) if there is not None else ""
        if words:
            yield f"{name_of(wish.mix)}: {words}"


def _covered(wanted: list[ColourWish], heights: Heights) -> list[ColourWish]:
    """Wishes that end before a layer begins in them."""
    places = [heights.start_ml(wish.from_mm) for wish in wanted]
    pairs = zip(wanted, itertools.pairwise(places), strict=False)
    return [wish for wish, (start_ml, next_ml) in pairs if next_ml <= start_ml + LEAST_ML]


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


def _edge(plan: Plan, heights: Heights, wish: ColourWish, outlet_ml: float, delay_ml: float) -> Edge:
    line, flow = plan.config.cartridge.hose, starts(plan)
    at_ml = [flow.after(outlet_ml, line.pushed_ml(share)) for share in (BEGINS, HALF, FULL)]
    start, half, full = map(heights.of, at_ml)
    low, high = _between_mm(plan, heights, outlet_ml, delay_ml)
    begins, middle, end = map(heights.risen_mm, at_ml)
    return Edge(wish, outlet_ml, start, half, full, low, high, (begins, middle, end))


def _between_mm(
    plan: Plan, heights: Heights, outlet_ml: float, delay_ml: float
) -> tuple[float | None, float | None]:
    """Between which nozzle heights an edge shows in 95 prints of 100; None where no spread is known.

    What lies before it in its own cartridge is weighed in slug by slug; in the hose nothing does.
    """
    spreads = plan.config.spreads
    if not (spreads.of_fronts or spreads.density is not None):
        return None, None
    # a cartridge that stayed on was weighed in when it was loaded
    loaded = zip(loads(plan), spans(plan), strict=True)
    before_ml = [low_ml for load, (low_ml, _) in loaded if low_ml <= outlet_ml and not load.stays_on]
    behind_ml = outlet_ml - max(before_ml) if before_ml and outlet_ml > 0 else 0.0
    pushed_ml = delay_ml + min(outlet_ml, 0.0)
    off_ml = reach_sds() * front_sd_ml(behind_ml, pushed_ml, plan.config.cartridge.line_ml, spreads)
    middle_ml = starts(plan).after(outlet_ml, delay_ml)
    return heights.between(max(middle_ml - off_ml, 0.0), middle_ml + off_ml)


def _blurred(edges: list[Edge], hose: Hose) -> Iterator[str]:
    """Warn of edges that the mixing makes wider than wished."""
    for edge in edges:
        begins_mm, _, full_mm = edge.risen_mm
        width_mm = full_mm - begins_mm
        if edge.wish.edge_mm is not None and width_mm > edge.wish.edge_mm + 1e-9:
            yield (
                f"the edge at {edge.wish.from_mm:.1f} mm can't be as sharp as {edge.wish.edge_mm:g} mm: the "
                f"hose mixes over {hose.width_ml:.1f} ml, so the sharpest goes from {begins_mm:.1f} to "
                f"{full_mm:.1f} mm ({width_mm:.1f} mm); a shorter hose, or a pause and a purge (swap) "
                f"at that height, is sharper"
            )


def _thin(
    found: list[tuple[float, ColourWish]], contents: Contents, heights: Heights, total_ml: float
) -> Iterator[str]:
    """Warn of plain bands that end before they are pure.

    What counts is all that the piece shows of the clay from the first trace of the band to the last: some of
    it may come from a blend next to it.
    """
    if not contents.hose.mixes:
        return
    begins_ml, full_ml = contents.hose.pushed_ml(BEGINS), contents.hose.pushed_ml(FULL)
    cuts_ml = [cut.outlet_ml for cut in contents.cuts]
    starts_ml = [0.0, *(max(cut_ml + begins_ml, 0.0) for cut_ml in cuts_ml)]
    ends_ml = [*(min(cut_ml + full_ml, total_ml) for cut_ml in cuts_ml), total_ml]
    for (_, wish), start_ml, end_ml in zip(found, starts_ml, ends_ml, strict=True):
        at_ml = heights.laid(np.linspace(start_ml, end_ml, SAMPLES))
        if not wish.plain or not len(at_ml):
            continue
        best = float(contents.shares(at_ml)[name_of(wish.mix)].max())
        if best < FULL:
            yield (
                f"the band of {name_of(wish.mix)} from {wish.from_mm:.1f} mm on is never purer than "
                f"{best * 100:.0f} %: it is thinner than the hose mixes ({contents.hose.width_ml:.1f} ml "
                f"from first trace to full); make it higher"
            )
