"""The loading sheet in words and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any

from gpost import __version__
from gpost.common.layout import Paragraph, Part, apart, laid_out
from gpost.common.plain import shown, storable
from gpost.plan.plan import Plan
from gpost.report.defaults import of_loads
from gpost.report.digits import rounded
from gpost.report.slugs import ORDER, amount, slug_record, slugs_lines, slugs_total
from gpost.report.summary import CAUTIONS
from gpost.report.wording import Stars, clock, dashed, indented, wrapped
from gpost.supply.bands import name_of
from gpost.supply.fronts import heights_text
from gpost.supply.loading import Due, Edge, LoadingSheet, reach_of
from gpost.supply.reach import joined
from gpost.supply.sure import taken_chance


def loading_json(plan: Plan, sheet: LoadingSheet, *, name: str) -> str:
    """The sheet as a JSON document; slugs are in the order in which they go in.

    `layers` has each layer's shares of the clays, on the middle of its clay.
    """
    found = reach_of(plan, sheet) if _has_heights(plan) else None
    document = {
        "version": 1,
        "gpost_version": __version__,
        "source": storable(name),
        "loaded_from": sheet.loaded_from or None,
        "line": [slug_record(slug) for slug in sheet.of(0)],
        "cartridges": [
            {
                "number": due.cartridge,
                **slugs_total(sheet.of(due.cartridge)),
                "due": {"layer": due.layer, "height_mm": due.height_mm, "clock_s": due.clock_s},
                "slugs": [slug_record(slug) for slug in sheet.of(due.cartridge)],
            }
            for due in sheet.due
        ],
        "edges": [_edge_record(edge) for edge in sheet.edges],
        "layers": [
            {"layer": index + 1, "height_mm": round(float(height_mm), 3), "clays": found and found.mix(index)}
            for index, height_mm in enumerate(found.height_mm if found else ())
        ],
        "loaded_ml": sheet.loaded_ml(),
        "laid_ml": sheet.laid_ml(),
        "warnings": list(sheet.warnings),
        "cautions": [*_handling(sheet), *CAUTIONS],
    }
    return json.dumps(rounded(document), indent=1, ensure_ascii=True) + "\n"


def _has_heights(plan: Plan) -> bool:
    """Whether a clay shows at one height: of several pieces it does at none."""
    return plan.survey.pieces == 1 and len(plan.survey.layers) > 0


def _edge_record(edge: Edge) -> dict[str, Any]:
    return {
        "clays": edge.wish.mix,
        "wanted_mm": edge.wish.from_mm,
        "start_mm": edge.start_mm,
        "half_mm": edge.half_mm,
        "full_mm": edge.full_mm,
        "low_mm": edge.low_mm,
        "high_mm": edge.high_mm,
        "outlet_ml": edge.outlet_ml,
    }


def loading_text(plan: Plan, sheet: LoadingSheet, *, name: str, width: int | None = None) -> str:
    """The sheet for the bench, laid out as `laid_out` does."""
    return laid_out(apart(_sections(plan, sheet, name)), width)


def _sections(plan: Plan, sheet: LoadingSheet, name: str) -> Iterator[Iterable[Part]]:
    star, sure = Stars(of_loads(plan.config)), ""
    if plan.config.spreads.of_cartridges:
        sure = f", to be {100 * (1 - taken_chance(plan)):g} % sure"
    yield indented(f"Loading sheet for {shown(name)}")
    if sheet.of(0):
        head = "The line, before the cartridge is put on; what goes in first comes out first"
        yield [*indented(head), *slugs_lines(sheet.of(0))]
    for due in sheet.due:
        order = f", {ORDER[sheet.loaded_from]}" if sheet.loaded_from else ""
        slugs = sheet.of(due.cartridge)
        title = indented(f"Cartridge {due.cartridge}{order}")
        yield [*title, *_due(due), *slugs_lines(slugs), f"  in all {amount(slugs, star)}{sure}"]
    yield _edges(sheet)
    yield _heights(plan, sheet)
    yield [part for text in star.explained() for part in indented(text)]
    if sheet.warnings:
        yield ["Warnings", *dashed(sheet.warnings)]
    yield ["Take care", *dashed((*_handling(sheet), *CAUTIONS))]


HANDLING = (
    "Press the slugs tight onto each other, flat and without air: a bubble shifts every edge behind it.",
    "All slugs must be as soft as each other, or the stiffer one is passed by the softer.",
    "The heights are estimates; where a change really shows, a trial in two colours tells.",
)


def _handling(sheet: LoadingSheet) -> tuple[str, ...]:
    """What to mind where several clays lie in one cartridge."""
    return HANDLING if sheet.loaded_from else ()


def _due(due: Due) -> list[Paragraph]:
    """When a later cartridge is put on."""
    if due.first:
        return []
    place = f"layer {due.layer} ({due.height_mm:z.1f} mm)" if due.layer else "the start of layer 1"
    text = f"due at {place}, {clock(due.clock_s)} h (h:mm) after the start; an estimate, waiting not counted"
    return wrapped(text, indent="    ", first="  ")


def _edges(sheet: LoadingSheet) -> Iterator[Part]:
    if sheet.edges:
        yield "On the piece, from the bottom up"
        yield from dashed(_edge_texts(sheet))


def _edge_texts(sheet: LoadingSheet) -> Iterator[str]:
    yield f"{name_of(sheet.first)} at the start"
    for edge in sheet.edges:
        where = f"{edge.half_mm:.1f}" if edge.low_mm is None else f"about {edge.half_mm:.0f}"
        text = f"{name_of(edge.wish.mix)} from {where} mm on"
        if sheet.line.mixes:
            text += f" (half; a trace from {edge.start_mm:.1f}, full from {edge.full_mm:.1f} mm on)"
        if edge.low_mm is not None:
            what = "its first trace " if sheet.line.mixes and sheet.show == "start" else ""
            text += f"; in 95 prints of 100 {what}{heights_text(edge.low_mm, edge.high_mm)}"
        yield text


def _heights(plan: Plan, sheet: LoadingSheet) -> Iterator[Part]:
    """The shares at some heights across each change that the hose spreads out."""
    if not sheet.edges:
        return
    found = reach_of(plan, sheet)
    rows = [
        found.across(*span) for span in joined((edge.risen_mm[0], edge.risen_mm[2]) for edge in sheet.edges)
    ]
    if any(rows):
        yield "What shows at which height, as far as the hose's mixing is known"
        yield from dashed(map(found.words, dict.fromkeys(index for row in rows for index in row)))
