"""Jobs whose pictures can be worked out by hand: a pot of 80 layers of 10 ml, 2 mm and 80 mm across."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from typing import Any

from gpost.api import Config, Pause, Plan
from gpost.report.model import Summary
from gpost.report.summary import summarise
from gpost.testing import layer_start, make_survey
from gpost.write.output import Written

POT = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10, radius_mm=40)
SVG = "{http://www.w3.org/2000/svg}"
SWATCHES = ({"name": "white", "swatch": "#eeeae0"}, {"name": "cobalt blue", "swatch": "#2c4f8f"})
BLEND = ({"to_mm": 60, "clay": "white"}, {"blend": ["white", "cobalt blue"], "steps": 3})


def written(plan: Plan) -> Written:
    """As if each entry of the plan were written on lines of its own."""
    return Written(10, 5, {place: (10 * place + 1, 10 * place + 9) for place in range(len(plan.entries))}, {})


def told(plan: Plan, source: str = "pot.gcode") -> Summary:
    """The summary of a plan."""
    return summarise(plan, written(plan), source=source, output="out.gcode")


def banded(
    *bands: dict[str, Any], clays: Iterable[dict[str, Any]] = SWATCHES, cartridge: Any = None, **more: Any
) -> tuple[Summary, Plan]:
    """The pot with bands; line 60 ml, bore 60 mm."""
    config = {
        "cartridge": {"line_ml": 60, "bore_mm": 60, **(cartridge or {})},
        "colours": {"bands": list(bands or BLEND), **more},
        "clays": list(clays),
    }
    plan = Plan(POT, Config.model_validate(config))
    return told(plan), plan


def refilled(*layers: int, spread: float | None = None) -> tuple[Summary, Plan]:
    """The pot in one clay, with new cartridges before some layers."""
    metering = {"unit": "filament", "diameter_mm": 1.75}
    config = Config.model_validate(
        {
            "cartridge": {"volume_ml": 600, "reserve_ml": 50, "line_ml": 20},
            "clay": {"metering": {**metering, "spread_percent": spread} if spread else metering},
        }
    )
    pauses = [Pause(layer_start(POT, layer), "refill", "empty", "", new_cartridge=True) for layer in layers]
    plan = Plan(POT, config).adding("refill", pauses)
    return told(plan), plan


def elements(svg: str, name: str) -> list[ET.Element]:
    """All elements of a kind, in the order of drawing."""
    return list(ET.fromstring(svg).iter(f"{SVG}{name}"))


def texts(svg: str) -> list[str]:
    """All that is written, line by line."""
    return [element.text or "" for element in elements(svg, "text")]


def placed(svg: str, name: str = "text") -> list[tuple[float, float, ET.Element]]:
    """(x, y, element) of all elements of a kind in the whole picture, moved as the groups they stand in."""
    found: list[tuple[float, float, ET.Element]] = []

    def look(element: ET.Element, x: float, y: float) -> None:
        for child in element:
            move = re.fullmatch(r"translate\(([-\d.]+) ([-\d.]+)\)", child.get("transform", ""))
            to_x, to_y = (x + float(move[1]), y + float(move[2])) if move else (x, y)
            if child.tag == f"{SVG}{name}":
                found.append((to_x + float(child.get("x", 0)), to_y + float(child.get("y", 0)), child))
            look(child, to_x, to_y)

    look(ET.fromstring(svg), 0.0, 0.0)
    return found
