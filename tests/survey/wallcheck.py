"""Holds a survey against the truth of a wall: layers, seams, clay, boxes, pieces, and what is odd."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

from gpost.config.model import Clay, Config
from gpost.read.source import Source
from gpost.survey.build import survey_source
from gpost.survey.model import Survey
from tests.reference.walls import Layer, Wall

Verdict = Literal["right", "odd said", "wrong"]
MOST_OF_A_TURN = 0.05
"""A seam may be two strokes off, but never more than this share of its turn."""
TINY_MM = 1e-6
ROUNDING_MM = 0.02
"""What rounded words of E, and arcs seen as steps, may add."""
TAIL_STEP_MM = 4.0
KINDS = ("level", "turn")
"""By the number that the survey's table has."""


def config_of(wall: Wall) -> Config:
    """The config that says what E is."""
    return Config(clay=Clay.model_validate({"metering": wall.metering}))


def survey_wall(wall: Wall, path: Path) -> Survey:
    """The survey of a wall, by way of a file."""
    path.write_bytes(wall.program)
    return survey_source(Source(path), config_of(wall))


def odd_ranges(survey: Survey) -> list[tuple[int, int]]:
    """Lines from which to which (exclusive) the survey can't tell layers."""
    return [(stretch.first_line, stretch.end_line) for stretch in survey.odd]


def judge(survey: Survey, wall: Wall) -> Verdict:
    """Right: all as known, and nothing called odd that is not. Else odd said, or silently wrong."""
    said = odd_ranges(survey)
    if not differences(survey, wall) and (wall.odd is not None or not said):
        return "right"
    return "odd said" if said else "wrong"


def differences(survey: Survey, wall: Wall) -> list[str]:
    """What the survey has otherwise than the truth, in words; empty if it is right."""
    known, found = wall.layers, survey.layers
    if wall.odd is not None:
        if not any(first < wall.odd[1] and wall.odd[0] < end for first, end in odd_ranges(survey)):
            return [f"odd in lines {wall.odd}, said: {odd_ranges(survey)}"]
        found = found[: len(known)]
    if len(found) != len(known):
        return [f"{len(found)} layers where there are {len(known)}"]
    out = [f"{survey.pieces} pieces, not {wall.pieces}"] if survey.pieces != wall.pieces else []
    for number, layer in enumerate(known):
        near = known[max(number - 1, 0) : number + 2]
        out += [f"layer {number + 1}: {text}" for text in of_layer(found[number], layer, near, wall)]
    return out


def seam_allowance(layer: Layer) -> float:
    """How far off a turn's seam may be, mm of path: three strokes, and no more than 5 % of the turn."""
    return min(3 * layer.stride_mm, MOST_OF_A_TURN * layer.path_mm) if layer.kind == "turn" else 0.0


def of_layer(found: Any, layer: Layer, near: tuple[Layer, ...], wall: Wall) -> Iterator[str]:
    """What one layer has otherwise. `near`: it and its neighbours, with whom it may share an end's strokes."""
    if KINDS[found["kind"]] != layer.kind:
        yield f"kind {KINDS[found['kind']]}, not {layer.kind}"
    off_mm = max(seam_allowance(n) for n in near)
    turn = layer.kind == "turn"
    # a seam that is some strokes off is as much higher or lower
    strokes = max(1.0, off_mm / max(n.stride_mm for n in near)) if turn else 1.0
    grain, climb = 2 * wall.grain_mm, strokes * max(n.climb_mm for n in near)
    last = layer is wall.layers[-1]
    if abs(found["height_mm"] - layer.height_mm) > grain + (climb if turn else 0):
        yield f"height {found['height_mm']}, not {layer.height_mm}"
    if abs(found["low_mm"] - layer.low_mm) > grain + climb:
        yield f"low {found['low_mm']}, not {layer.low_mm}"
    first = wall.flat_mm(int(found["first_line"])) - wall.flat_mm(layer.first_line)
    if abs(first) > off_mm + TINY_MM:
        yield f"seam {first:.3f} mm off, {off_mm:.3f} allowed"
    tails = tail_mm(wall) if last else 0.0
    grains = grain + climb + off_mm + ROUNDING_MM
    if not -grains <= found["path_mm"] - layer.path_mm <= grains + tails:
        yield f"path {found['path_mm']}, not {layer.path_mm}"
    share = layer.laid_e / layer.path_mm
    clay = found["laid_ml"] * 1000 / wall.mm3_per_e
    if not -grains <= (clay - layer.laid_e) / share <= grains + tails:
        yield f"clay {clay}, not {layer.laid_e} by E"
    lows, highs = (found["x_min_mm"], found["y_min_mm"]), (found["x_max_mm"], found["y_max_mm"])
    for axis, low, high, bounds in zip("XY", lows, highs, layer.bounds_mm, strict=True):
        if max(abs(low - bounds[0]), abs(high - bounds[1])) > grains + tails:
            yield f"{axis} from {low} to {high}, not {bounds}"


def tail_mm(wall: Wall) -> float:
    """How much lies on the rim after the last layer: whether that is the layer's or nobody's is left open.

    What is laid straight up is no more than `TAIL_STEP_MM`.
    """
    return sum(
        TAIL_STEP_MM + wall.flat_mm(stroke.last_line + 1) - wall.flat_mm(stroke.first_line)
        for stroke in wall.outside("tail")
    )
