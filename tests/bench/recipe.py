"""The config and steps that the whole job is timed with: all seven stock steps, nothing left out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gpost.config.model import Config
    from gpost.steps.manager import StepRegistry
    from gpost.steps.step import Step

TEXT = """
machine: {nozzle_mm: 4}
cartridge: {volume_ml: 500, reserve_ml: 30, line_ml: 60}
steps:
  - cold
  - purge: {volume_ml: 15}
  - swap: {at_height_mm: 100, colour: blue, prime_ml: 10}
  - refill: {prime_ml: 15}
  - fan: {bands: [{from_layer: 1, level_percent: 0}, {from_layer: 4, level_percent: 20}]}
  - taper: {from_height_mm: 120, to_percent: 60, floor_mm_min: 600}
  - tally
"""


EVERY_LINE = """
machine: {nozzle_mm: 4}
steps:
  - place: {x_mm: 140, y_mm: 140}
  - slab: {thickness_mm: 6, gap_mm: 0.1, diameter_mm: 220, margin_mm: 10}
  - base: {layers: 100, flow_percent: 110}
  - taper: {from_height_mm: 0, to_percent: 60}
"""


def config_and_steps(registry: StepRegistry, text: str = TEXT) -> tuple[Config, list[Step[Any]]]:
    """The bench's config and its steps."""
    from gpost.steps.making import make_steps
    from tests.config_files import load_files

    loaded = load_files({"bench.yaml": text})
    names = [use.name for use in loaded.config.steps]
    return loaded.config, make_steps(loaded, registry.load(names))
