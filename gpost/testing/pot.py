"""A survey of a plain pot with exact numbers and without a file, and a step asked about it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.common.frozen import locked
from gpost.config.model import Config
from gpost.motion.follow import COMMAND_DTYPE
from gpost.motion.state import MachineState
from gpost.plan.plan import Plan
from gpost.spot import START, Spot
from gpost.steps.step import Step, refuse_unfit
from gpost.survey.inside import Place, Pushes
from gpost.survey.layerrows import LAYER_DTYPE, bounds_of
from gpost.survey.model import Survey
from gpost.survey.stands import Stand

Floats: TypeAlias = NDArray[np.float64]
NOWHERE = (0.0, 0.0, 0.0)
TAIL_LINES = 5
"""Lines after the last layer; they lay no clay."""


def make_survey(
    *,
    layer_ml: Sequence[float] | None = None,
    layers: int = 10,
    ml_per_layer: float = 10.0,
    layer_mm: float | Sequence[float] = 2.0,
    rising: bool = False,
    radius_mm: float = 40.0,
    centre_mm: tuple[float, float] = (140.0, 140.0),
    lines_per_layer: int = 36,
    lead_in_lines: int = 10,
    lead_in_ml: float = 0.0,
    drawn_back_ml: float = 0.0,
    time_per_layer_s: float | Sequence[float] = 60.0,
    travel_s: float = 0.0,
    corner_s: float = 0.0,
    commands: Iterable[tuple[str, int, int]] = (),
    pieces: int = 1,
) -> Survey:
    """Survey of a round pot whose every line lays the same clay as its neighbours in the layer.

    Clay is given per layer (`layer_ml`) or as `layers` times `ml_per_layer`; `rising` makes each layer one
    turn of a wall that rises evenly; `layer_mm` is what every layer rises by, or each. Of a layer's
    `time_per_layer_s`, `travel_s` goes to travel and `corner_s` to speeding up and slowing down while laying.
    `commands` are (letter, code times ten, line counted from 0). The lead-in's clay is spread over its lines,
    and `drawn_back_ml` over those after the last layer. What is asked of lines and spots is answered exactly.
    """
    per_layer_ml = np.array([ml_per_layer] * layers if layer_ml is None else layer_ml, dtype=float)
    table = np.zeros(len(per_layer_ml), dtype=LAYER_DTYPE)
    table["first_line"] = lead_in_lines + np.arange(len(table)) * lines_per_layer
    table["clay_ml"] = table["laid_ml"] = per_layer_ml
    _shape(table, layer_mm, rising, radius_mm, centre_mm)
    _times(table, time_per_layer_s, travel_s, corner_s)
    lines = lead_in_lines + len(table) * lines_per_layer + TAIL_LINES
    return Survey(
        name="pot.gcode",
        size_bytes=lines * 30,
        lines=lines,
        layers=table,
        marks=(),
        commands=np.array([(c.encode(), code, line) for c, code, line in commands], dtype=COMMAND_DTYPE),
        bounds_mm=bounds_of(table),
        clay_ml=float(lead_in_ml + per_layer_ml.sum() - drawn_back_ml),
        time_s=float(table["time_s"].sum()),
        lead_in_s=0.0,
        lead_in_ml=lead_in_ml,
        laid_path_mm=float(table["path_mm"].sum()),
        travel_path_mm=0.0,
        pieces=pieces,
        end_state=MachineState(),
        laid_until=lines - TAIL_LINES,
        newline=b"\n",
        numbered=False,
        lookup=_PotLookup(table, lines, lead_in_ml, drawn_back_ml),
    )


def with_layers(survey: Survey, **columns: Any) -> Survey:
    """The survey with other values in columns of its table of layers, which can't be changed itself."""
    table = survey.layers.copy()
    for name, values in columns.items():
        table[name] = values
    lookup = survey.lookup
    if isinstance(lookup, _PotLookup):
        lookup = replace(lookup, layers=table)
    return replace(survey, layers=table, lookup=lookup)


def layer_start(survey: Survey, layer: int) -> Spot:
    """Where a layer, counted from 1, starts."""
    return Spot(int(survey.layers["first_line"][layer - 1]))


def made_step(
    step_class: type[Step[Any]], settings: Mapping[str, Any], config: Config | Mapping[str, Any] | None
) -> tuple[Step[Any], Config]:
    """The step with these settings, and the config, both checked as a config file is.

    Raises pydantic.ValidationError when they are wrong, ConfigError where the config rules the step out.
    """
    checked = config if isinstance(config, Config) else Config.model_validate(config or {})
    step = step_class(step_class.Settings.model_validate(dict(settings)))
    refuse_unfit(step, checked)
    return step, checked


def run_step(
    step_class: type[Step[Any]],
    settings: Mapping[str, Any],
    survey: Survey,
    config: Config | Mapping[str, Any] | None = None,
    before: Iterable[Step[Any]] = (),
) -> Plan:
    """The plan after the steps in `before`, in that order, and then this one with these settings.

    Settings and config are checked as those of a config file are. Raises pydantic.ValidationError when
    they are wrong, and what the steps raise.
    """
    last, checked = made_step(step_class, settings, config)
    plan = Plan(survey, checked)
    for step in (*before, last):
        refuse_unfit(step, checked)
        plan = plan.adding(step.name, step.plan(survey, plan))
    return plan


@dataclass(frozen=True)
class _PotLookup:
    """Lookup of a pot that has no file: clay and height go straight from edge to edge of its layers.

    The edges are those of the lead-in, the layers and the tail. Each line is one straight move.
    """

    layers: NDArray[np.void]
    lines: int
    lead_in_ml: float
    drawn_back_ml: float

    @cached_property
    def _edges(self) -> Floats:
        """Lines at which one part ends and the next begins, shape (layers + 3,)."""
        return np.array([0, *self.layers["first_line"], self.lines - TAIL_LINES, self.lines], np.float64)

    @cached_property
    def _clay_ml(self) -> Floats:
        """Net clay before each edge."""
        laid_ml = self.lead_in_ml + np.concatenate([[0.0], np.cumsum(self.layers["clay_ml"])])
        return np.concatenate([[0.0], laid_ml, laid_ml[-1:] - self.drawn_back_ml])

    def _index_at(self, line: int) -> int:
        return int(np.searchsorted(self.layers["first_line"], line, side="right")) - 1

    def _on(self, first_line: int, end_line: int) -> NDArray[np.intp]:
        """Indices of the layers that these lines belong to."""
        first, end = self._edges[1:-2], self._edges[2:-1]
        return np.flatnonzero((first < end_line) & (end > first_line))

    def clay_before(self, spot: Spot) -> float:
        return float(np.interp(spot.line + spot.fraction, self._edges, self._clay_ml))

    def most_clay(self, start: Spot, end: Spot) -> float:
        """At one of the two, or where the last layer ends."""
        top = Spot(min(max(int(self._edges[-2]), start.line), end.line))
        return max(self.clay_before(spot) for spot in (start, top, end))

    def find_clay(self, clay_ml: float, since: Spot = START, until: Spot | None = None) -> Spot:
        """What rounding makes of whole lines is undone."""
        last = Spot(self.lines) if until is None else until
        if self.clay_before(since) >= clay_ml - 1e-9:
            return since
        right = int(np.searchsorted(self._clay_ml[:-1], clay_ml - 1e-9))
        if right == len(self._edges) - 1:
            return last
        low_ml, high_ml = self._clay_ml[right - 1 : right + 1]
        low, high = self._edges[right - 1 : right + 1]
        found = _spot(float(low + (high - low) * (clay_ml - low_ml) / (high_ml - low_ml)))
        return min(found, last) if found >= since else last

    def stands_at(self, spot: Spot, *, arcs: bool = False) -> Spot:
        return spot

    def laid_at(self, spot: Spot) -> Place | None:
        """Once round each layer's bounds, and straight up from its lowest place to its highest."""
        if not len(self.layers) or spot.line >= self._edges[-2]:
            return None
        index = max(self._index_at(spot.line), 0)
        first, end = self._edges[index + 1 : index + 3].tolist()
        share = max((spot.line + spot.fraction - first) / (end - first), 0.0)
        row, turn = self.layers[index], 2 * math.pi * float(share)
        x_mm, y_mm = (
            float(row[f"{axis}_min_mm"] + row[f"{axis}_max_mm"]) / 2
            + float(row[f"{axis}_max_mm"] - row[f"{axis}_min_mm"]) / 2 * part
            for axis, part in (("x", math.cos(turn)), ("y", math.sin(turn)))
        )
        return x_mm, y_mm, float(row["low_mm"] + (row["height_mm"] - row["low_mm"]) * share)

    def rises_to(self, first_line: int, end_line: int, height_mm: float) -> Spot | None:
        for index in self._on(first_line, end_line).tolist():
            low_mm, high_mm = float(self.layers["low_mm"][index]), float(self.layers["height_mm"][index])
            if height_mm <= high_mm:
                first, end = self._edges[index + 1 : index + 3].tolist()
                share = max(height_mm - low_mm, 0.0) / (high_mm - low_mm) if height_mm > low_mm else 0.0
                found = max(_spot(first + (end - first) * share), Spot(first_line))
                return found if found < Spot(end_line) else None
        return None

    def laid_points(self, first_line: int, end_line: int) -> Floats:
        """A ring in the bounds of each layer."""
        rows, angle = self.layers[self._on(first_line, end_line), None], np.linspace(0, 2 * np.pi, 145)
        ring = [
            (rows[f"{axis}_min_mm"] + rows[f"{axis}_max_mm"]) / 2
            + (rows[f"{axis}_max_mm"] - rows[f"{axis}_min_mm"]) / 2 * turn
            for axis, turn in (("x", np.cos(angle)), ("y", np.sin(angle)))
        ]
        return locked(np.stack(ring).reshape(2, -1))

    def laid_path(self, first_line: int, end_line: int) -> tuple[NDArray[np.int64], Floats]:
        """The layers' lines among these, each with an even share of its layer's path."""
        edges = self._edges[1:-1].astype(np.int64)
        share_mm = np.repeat(self.layers["path_mm"] / np.diff(edges), np.diff(edges))
        line = np.arange(edges[0], edges[-1])
        pick = (line >= first_line) & (line < end_line)
        return locked(line[pick]), locked(share_mm[pick])

    def laid_way(self, spot: Spot, length_mm: float) -> tuple[NDArray[np.int64], Floats]:
        """There is no file that says where each line lays: none."""
        return locked(np.zeros(0, np.int64)), locked(np.zeros((3, 0)))

    def pushes(self, first_line: int, end_line: int) -> Pushes:
        """Each line of the lead-in pushes an even share of its clay."""
        count = int(self._edges[1]) if self.lead_in_ml else 0
        line = np.arange(max(first_line, 0), min(end_line, count))
        share_ml = np.full(len(line), self.lead_in_ml / max(count, 1))
        return Pushes(*map(locked, (line, share_ml, np.zeros(len(line)), np.ones(len(line), np.bool_))))

    def stands(self, lines: Sequence[int]) -> tuple[Stand, ...]:
        """The nozzle never leaves the wall: none."""
        return ()

    def time_share(self, first_line: int, end_line: int, spot: Spot) -> float:
        """Each line takes as long as the others."""
        return (spot.line + spot.fraction - first_line) / max(end_line - first_line, 1)

    def lifted_from(self, line: int, height_mm: float) -> int:
        """The nozzle rises with the wall, and stands above all of it when the last layer is done."""
        done = int(self._edges[-2])
        lines = np.arange(max(line, 1), max(done, line) + 1).tolist()
        above = (
            at for at in lines if at >= done or (self.laid_at(Spot(at - 1, 1.0)) or NOWHERE)[2] > height_mm
        )
        return next(above, line)


def _spot(at: float) -> Spot:
    """The spot so many lines from the start; what rounding makes of whole lines is undone."""
    line = math.floor(at + 1e-9)
    return Spot(line, max(at - line, 0.0) if at - line > 1e-9 else 0.0)


def _shape(
    table: NDArray[np.void],
    layer_mm: float | Sequence[float],
    rising: bool,
    radius_mm: float,
    centre_mm: tuple[float, float],
) -> None:
    """Fill in a cylinder: heights, bounds, start at its right, path."""
    table["kind"] = int(rising)
    rise_mm = np.broadcast_to(np.asarray(layer_mm, dtype=float), len(table))
    table["height_mm"] = np.cumsum(rise_mm).round(9)
    table["low_mm"] = (table["height_mm"] - (rise_mm if rising else 0.0)).round(9)
    for axis, middle_mm in zip("xy", centre_mm, strict=True):
        table[f"{axis}_min_mm"], table[f"{axis}_max_mm"] = middle_mm - radius_mm, middle_mm + radius_mm
    table["start_x_mm"], table["start_y_mm"] = centre_mm[0] + radius_mm, centre_mm[1]
    table["start_z_mm"] = table["low_mm"]
    table["path_mm"] = 2 * math.pi * radius_mm


def _times(
    table: NDArray[np.void], time_s: float | Sequence[float], travel_s: float, corner_s: float
) -> None:
    table["time_s"] = time_s
    table["laying_s"] = table["time_s"] - travel_s
    table["cruise_s"] = table["laying_s"] - corner_s
    table["feed_mm_min"] = table["path_mm"] / table["cruise_s"] * 60
