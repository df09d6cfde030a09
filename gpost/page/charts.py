"""Two charts of a job as static SVG: clay left by height, and time, feed and air by layer, before and after.

They are drawn by `vl-convert-python` (the extra `page`), loaded for this alone: without it there are none.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator, Mapping, Sequence
from importlib.util import find_spec
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.page.svg import (
    FONT,
    HEAD,
    LINE,
    SIZE,
    WIDTH,
    Drawing,
    Part,
    block,
    drawing,
    px,
    stroke,
    text,
    wrap,
)
from gpost.plan.plan import Plan
from gpost.report.air import air_percents
from gpost.report.model import CartridgeRecord, Summary
from gpost.report.toload import what_to_load
from gpost.words import listed, say

Floats = NDArray[np.float64]
BLUE = "#0072b2"
"""The blue of M. Okabe and K. Ito's colours for all eyes (2008, from memory), for light and dark ground."""
TALL, PANEL_TALL, AXIS = 260.0, 124.0, 48.0
SAME = 1e-3
"""Values that differ by less are as sliced."""


class End(NamedTuple):
    """Where a cartridge ends."""

    cartridge: CartridgeRecord
    height_mm: float

    reserve_ml: float

    @property
    def held_ml(self) -> float:
        """Clay to count on when the piece begins to take from it, loaded as it is told, or as it is on.

        Never more than that, however much it holds; if even a full one doesn't do, what a full one gives.
        """
        cartridge = self.cartridge
        if what_to_load(cartridge).too_little:
            return cartridge.usable_ml
        whole_ml = float(what_to_load(cartridge).ml) if cartridge.begins_ml is None else cartridge.begins_ml
        return whole_ml - self.reserve_ml

    @property
    def spare_ml(self) -> float:
        """Clay that may be counted on and is not asked for; below 0 there is too little."""
        return self.held_ml - self.cartridge.need_ml


class Panel(NamedTuple):
    """One quantity by layer."""

    name: str
    unit: str
    layer: NDArray[np.int64]
    after: Floats
    before: Floats | None = None
    """None: not known, or as it is printed."""


def charts(summary: Summary, plan: Plan) -> tuple[Drawing, ...]:
    """Those there are for a job; none without `vl-convert-python`, and none for a file that lays no clay."""
    if find_spec("vl_convert") is None or summary.layer_table is None:
        return ()
    found = [clay_chart(summary, plan), layers_chart(summary, plan)]
    return tuple(chart for chart in found if chart is not None)


def clay_chart(summary: Summary, plan: Plan) -> Drawing | None:
    """Clay left in each cartridge by height, and what is to spare where it ends; None: no clay is counted."""
    rows, ends = list(clay_rows(summary, plan)), list(cartridge_ends(summary, plan))
    if not rows:
        return None
    said = [_end(end, summary.sure.taken_percent) for end in ends]
    wrapped = [wrap(each, WIDTH - 24) for each in said]
    parts = [
        heading(say("pictures.clay_chart")),
        Part(text(12, 14, say("pictures.clay_left_axis"), bold=True), 20, ""),
        Part(_picture(clay_spec(rows, ends), TALL), TALL, ""),
        *(Part("".join(block(12, 0, lines)), LINE * len(lines) + 8, "") for lines in wrapped),
    ]
    alt = say("pictures.clay_chart_alt", ends=listed(said, "names.semicolon"))
    return drawing([*parts, Part("", 0.0, alt)], title=say("pictures.clay_chart"))


def clay_rows(summary: Summary, plan: Plan) -> Iterator[dict[str, float]]:
    """What is left to count on in the cartridge that is on: by layer, and where each begins and ends."""
    if summary.layer_table is None or summary.rehearsal_mm is not None:
        return
    rows = np.array(summary.layer_table.layer, np.int64) - 1
    used_ml = np.append(plan.layer_clay_ml[1:], plan.total_ml)[rows]
    height_mm = np.array(summary.layer_table.height_mm)
    start_ml, low_mm = 0.0, 0.0
    for end in cartridge_ends(summary, plan):
        number, held_ml = end.cartridge.number, end.held_ml
        end_ml = start_ml + end.cartridge.clay_ml
        yield {"cartridge": number, "height": low_mm, "left": held_ml}
        inside = (used_ml > start_ml) & (used_ml < end_ml)
        for height, ml in zip(height_mm[inside].tolist(), used_ml[inside].tolist(), strict=True):
            yield {"cartridge": number, "height": height, "left": held_ml - (ml - start_ml)}
        yield {"cartridge": number, "height": end.height_mm, "left": held_ml - end.cartridge.clay_ml}
        start_ml, low_mm = end_ml, end.height_mm


def cartridge_ends(summary: Summary, plan: Plan) -> Iterator[End]:
    """Each cartridge with the height at which the next one is put on, or at which the piece is done."""
    on = {pause.cartridge: pause.height_mm for pause in summary.pauses if pause.cartridge is not None}
    for cartridge in summary.cartridges:
        height_mm = on.get(cartridge.number + 1, summary.height_mm)
        yield End(cartridge, height_mm, plan.config.cartridge.reserve_ml)


def _end(end: End, taken_percent: float) -> str:
    key = "pictures.clay_chart_end" if end.spare_ml >= 0 else "pictures.clay_chart_over"
    place = {"number": end.cartridge.number, "height": f"{end.height_mm:.0f}"}
    said = say(key, **place, load=f"{end.held_ml + end.reserve_ml:.0f}", spare=f"{abs(end.spare_ml):.0f}")
    if end.cartridge.begins_ml is not None or end.cartridge.dry_percent is None:
        return said
    if what_to_load(end.cartridge).sure:
        dry = say("pictures.dry_at_most", percent=f"{taken_percent:g}")
    else:
        dry = say("pictures.dry_percent", percent=_percent(end.cartridge.dry_percent))
    return say("pictures.clay_chart_dry", end=said, dry=dry)


def _percent(percent: float) -> str:
    """Chances to the digits they deserve."""
    return f"{percent:.1f}" if percent < 10 else f"{percent:.0f}"


def layers_chart(summary: Summary, plan: Plan) -> Drawing | None:
    """Time, feed and air by layer, as sliced and as printed; None for a file that lays no clay."""
    found = list(panels(summary, plan))
    if not found:
        return None
    last = len(found) - 1
    parts = [heading(say("pictures.layers_chart")), _legend()]
    for place, panel in enumerate(found):
        tall = PANEL_TALL + (34 if place == last else 0)
        said = text(12, 14, say("pictures.panel", name=panel.name, unit=panel.unit), bold=True)
        below = _picture(_panel_spec(panel, axis=place == last), tall)
        parts.append(Part(f"{said}<g transform='translate(0 20)'>{below}</g>", tall + 24, ""))
    alt = say("pictures.layers_chart_alt", panels=listed(map(_panel_alt, found), "names.semicolon"))
    return drawing([*parts, Part("", 6.0, alt)], title=say("pictures.layers_chart"))


def panels(summary: Summary, plan: Plan) -> Iterator[Panel]:
    """The quantities by layer, for the rows of the summary's table."""
    if summary.layer_table is None:
        return
    layer, layers = np.array(summary.layer_table.layer, np.int64), plan.survey.layers
    feed_mm_min = layers["feed_mm_min"].astype(float)
    time_s = plan.layer_times_s + plan.layer_waits_s
    yield _panel(say("pictures.time"), "s", layer, time_s, layers["time_s"])
    if feed_mm_min.any():
        yield _panel(say("pictures.feed"), "mm/min", layer, feed_mm_min * plan.layer_factors, feed_mm_min)
    after, before = air_percents(plan)
    if after is not None and before is not None and (after.any() or before.any()):
        yield _panel(say("pictures.air"), "%", layer, after, before)


def _panel(name: str, unit: str, layer: NDArray[np.int64], after: Floats, before: Floats) -> Panel:
    same = bool(np.allclose(after, before, rtol=SAME, atol=SAME))
    return Panel(name, unit, layer, after[layer - 1], None if same else before[layer - 1])


def _panel_alt(panel: Panel) -> str:
    said = {"name": panel.name, "unit": panel.unit}
    said |= {"after_low": f"{panel.after.min():.0f}", "after_high": f"{panel.after.max():.0f}"}
    if panel.before is None:
        return say("pictures.panel_alt_same", **said)
    said |= {"before_low": f"{panel.before.min():.0f}", "before_high": f"{panel.before.max():.0f}"}
    return say("pictures.panel_alt", **said)


def heading(words: str) -> Part:
    lines = wrap(words, (WIDTH - 24) / 1.06, HEAD)
    return Part("".join(block(12, 8, lines, bold=len(lines), size=HEAD)), LINE * len(lines) + 16, "")


def _legend() -> Part:
    """Dashes as sliced, a full line as printed."""
    after, before = say("pictures.after"), say("pictures.before")
    body = (
        f"<g color='{BLUE}'>{stroke('M12 10 h28', 2.5)}</g>{text(46, 14.5, after)}"
        f"{stroke('M166 10 h28', 1.5, '6 3')}{text(200, 14.5, before)}"
    )
    return Part(body, 28.0, "")


# ---- for the library --------------------------------------------------------------------------


def _picture(spec: Mapping[str, Any], height: float) -> str:
    """A chart as an SVG element of its own, as wide as the picture."""
    import vl_convert

    found: str = vl_convert.vegalite_to_svg(json.dumps(spec), allowed_base_urls=[])
    begin = found.index("<svg")
    return f"<svg width='{px(WIDTH)}' height='{px(height)}'{found[found.index(' viewBox', begin) :]}"


def _frame(height: float, layer: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    return {
        "width": WIDTH,
        "height": height,
        "autosize": {"type": "fit", "contains": "padding"},
        "padding": {"left": 8, "right": 14, "top": 8, "bottom": 4},
        "background": None,
        "layer": list(layer),
        "config": {
            "aria": False,  # its words are English; the picture's own stand in its description
            "font": FONT,
            "view": {"stroke": None},
            "axis": {
                "labelColor": "currentColor",
                "titleColor": "currentColor",
                "domainColor": "currentColor",
                "tickColor": "currentColor",
                "gridColor": "currentColor",
                "gridOpacity": 0.18,
                "labelFontSize": SIZE,
                "titleFontSize": SIZE,
                "titleFontWeight": "normal",
            },
        },
    }


def _axis(field: str, title: str | None, **more: Any) -> dict[str, Any]:
    axis = {"title": title, "tickCount": 5, **more}
    return {"field": field, "type": "quantitative", "axis": axis}


def clay_spec(rows: Sequence[Mapping[str, float]], ends: Sequence[End]) -> dict[str, Any]:
    """The chart of clay, for the library."""
    x, y = _axis("height", say("pictures.height_axis")), _axis("left", None)
    each = {"field": "cartridge", "type": "nominal"}
    spots = [
        {
            "height": end.height_mm,
            "left": end.held_ml - end.cartridge.clay_ml,
            "name": str(end.cartridge.number),
        }
        for end in ends
    ]
    changes = [{"height": end.height_mm} for end, _ in itertools.pairwise(ends)]
    rule = {"type": "rule", "color": "currentColor", "strokeWidth": 1.5}
    circle = {"type": "point", "shape": "circle", "size": 380, "filled": True, "fill": "#ffffff"}
    encoding = {"x": x, "y": y, "detail": each}
    layers: list[dict[str, Any]] = [
        # each on its own: one that ends where another begins is not laid upon it
        {
            "mark": {"type": "area", "color": BLUE, "opacity": 0.18},
            "encoding": {**encoding, "y": {**y, "stack": None}},
        },
        {"mark": {"type": "line", "color": BLUE, "strokeWidth": 2.5}, "encoding": encoding},
        {"data": {"values": [{"left": 0}]}, "mark": {**rule, "strokeWidth": 2}, "encoding": {"y": y}},
        {"data": {"values": changes}, "mark": {**rule, "strokeDash": [5, 3]}, "encoding": {"x": x}},
        {
            "data": {"values": spots},
            "encoding": {"x": x, "y": y},
            "layer": [
                {"mark": {**circle, "stroke": "#26221d", "strokeWidth": 1.25, "opacity": 1}},
                {
                    "mark": {"type": "text", "fontSize": SIZE, "fontWeight": "bold", "color": "#26221d"},
                    "encoding": {"text": {"field": "name"}},
                },
            ],
        },
    ]
    return {**_frame(TALL, layers), "data": {"values": list(rows)}}


def _panel_spec(panel: Panel, *, axis: bool) -> dict[str, Any]:
    low, high = int(panel.layer[0]), max(int(panel.layer[-1]), int(panel.layer[0]) + 1)
    extent = {"minExtent": AXIS, "maxExtent": AXIS}
    x = _axis("layer", say("pictures.layer_axis") if axis else None, labels=axis, format="d")
    x["scale"] = {"domain": [low, high], "nice": False}
    y = {**_axis("value", None, **extent, titlePadding=0), "scale": {"zero": True}}
    y["axis"]["tickCount"] = 3
    layers = []
    if panel.before is not None:
        dashed = {"type": "line", "color": "currentColor", "strokeWidth": 1.5, "strokeDash": [6, 3]}
        layers.append({"data": _values(panel.layer, panel.before), "mark": {**dashed, "interpolate": "step"}})
    full = {"type": "line", "color": BLUE, "strokeWidth": 2.5, "interpolate": "step"}
    layers.append({"data": _values(panel.layer, panel.after), "mark": full})
    return _frame(
        PANEL_TALL + (34 if axis else 0), [{**layer, "encoding": {"x": x, "y": y}} for layer in layers]
    )


def _values(layer: NDArray[np.int64], values: Floats) -> dict[str, Any]:
    pairs = zip(layer.tolist(), np.round(values, 3).tolist(), strict=True)
    return {"values": [{"layer": number, "value": value} for number, value in pairs]}
