"""What each row of layers is coloured by: clay, cartridge, feed, air, time, margin."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gpost.page.looks import blend
from gpost.page.stills import mixes_at
from gpost.plan.intentions import Bearing
from gpost.plan.plan import Plan
from gpost.report.air import air_percents
from gpost.report.model import Summary
from gpost.words import say

NO_SWATCH = ("#b9b4ab", "#8d887f", "#d8d4cc", "#6c675f", "#a39d93", "#7c776e")
"""Greys of their own for clays whose colour nobody has said: no colour is guessed."""
MARGIN_STEPS = (1.0, 1.5, 2.5)
"""Where the colours of margins change, times the safety factor."""
MARGINS = ("#7a0c0c", "#f07f13", "#e8ecef", "#8fbbd9", "#2b6ca3")
"""Dark red and orange for what bears too little, then paler to darker blue, told apart by all eyes."""
CARTRIDGES = ("#d5c39a", "#5f86a8", "#b06f4e", "#7d9a6a", "#8a76a0", "#c9a13f")


def rows_of(summary: Summary) -> NDArray[np.int64]:
    """Index of the last layer of each row: of those that the layer table has, or the top alone."""
    table = summary.layer_table
    return np.array([summary.layers - 1] if table is None else [n - 1 for n in table.layer], np.int64)


def coloured(summary: Summary, plan: Plan) -> Iterator[dict[str, Any]]:
    """Each way of colouring: its name, and a colour or a number for each row."""
    rows = rows_of(summary)
    layers = plan.survey.layers
    if not len(layers):
        return
    swatches = swatches_of(summary, plan)
    if swatches:
        colours = _mixed(summary, rows + 1, swatches)
        yield {"name": say("page.by_clay"), "colours": colours, "legend": list(swatches.items())}
    cartridges = _cartridges(summary, rows + 1)
    legend = {say("names.cartridge", number=n): CARTRIDGES[(n - 1) % len(CARTRIDGES)] for n in cartridges}
    if len(legend) > 1:
        colours = [CARTRIDGES[(n - 1) % len(CARTRIDGES)] for n in cartridges]
        yield {"name": say("page.by_cartridge"), "colours": colours, "legend": list(legend.items())}
    feed = (plan.layer_factors * layers["feed_mm_min"])[rows]
    if feed.any():
        yield _scale(say("page.by_feed"), "mm/min", feed, 0)
    air, _ = air_percents(plan)
    if air is not None and air.any():
        yield _scale(say("page.by_air"), "%", air[rows], 0)
    yield _scale(say("page.by_time"), "s", (plan.layer_times_s + plan.layer_waits_s)[rows], 1)
    table = summary.layer_table
    if table is not None and table.margin is not None:
        yield _margins(np.array(table.margin), _safety(plan))


def _safety(plan: Plan) -> float:
    """The safety factor that the margins were judged by: of several, the last one counts, as for them."""
    return [said.clay.safety for said in plan.of(Bearing) if said.clay is not None][-1]


def _margins(margin: NDArray[np.float64], safety: float) -> dict[str, Any]:
    """What bears too little stands out; beyond some times the safety factor more is no news."""
    ends = [*([1.0] if safety > 1 else []), *(safety * times for times in MARGIN_STEPS)]
    names = [say("page.margin_gives_way")] if safety > 1 else []
    names.append(say("page.margin_under", safety=f"{safety:g}"))
    names += [
        say("page.margin_between", low=f"{low:g}", high=f"{high:g}")
        for low, high in itertools.pairwise(safety * times for times in MARGIN_STEPS)
    ]
    names.append(say("page.margin_above", low=f"{ends[-1]:g}"))
    colours = MARGINS[-len(names) :]
    found = [colours[step] for step in np.searchsorted(ends, margin, side="right").tolist()]
    return {"name": say("page.by_margin"), "colours": found, "legend": list(zip(names, colours, strict=True))}


def swatches_of(summary: Summary, plan: Plan) -> dict[str, str]:
    """The colour of each clay that shows: the studio's swatch, or a grey."""
    known = {clay.name: clay.swatch for clay in plan.config.clays}
    names = dict.fromkeys(name for record in summary.shares for name in record.clays)
    names |= dict.fromkeys(record.colour for record in summary.colours)
    greys = iter([name for name in names if not known.get(name)])
    grey = {name: NO_SWATCH[k % len(NO_SWATCH)] for k, name in enumerate(greys)}
    return {name: known.get(name) or grey[name] for name in names}


def _mixed(summary: Summary, layers: NDArray[np.int64], swatches: Mapping[str, str]) -> list[str]:
    """The colour of each layer, counted from 1: that of its clays by their shares."""
    if not summary.shares:
        return [next(iter(swatches.values()))] * len(layers)
    mixes = mixes_at(summary, layers)
    return [blend([(share, swatches[clay]) for clay, share in mix.items()]) for mix in mixes]


def _cartridges(summary: Summary, layers: NDArray[np.int64]) -> list[int]:
    """The cartridge whose clay shows in each layer."""
    shows = [
        (pause.shows_at_layer, pause.cartridge)
        for pause in summary.pauses
        if pause.cartridge is not None and pause.shows_at_layer is not None
    ]
    first = summary.cartridges[0].number if summary.cartridges else 1
    return [max([first, *(n for at, n in shows if at <= layer)]) for layer in layers.tolist()]


def _scale(name: str, unit: str, values: NDArray[np.float64], decimals: int) -> dict[str, Any]:
    found = np.round(values, decimals)
    return {"name": name, "unit": unit, "decimals": decimals, "values": found.tolist()}
