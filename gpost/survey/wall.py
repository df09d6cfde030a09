"""The path of all laid clay as points in space: what a drawing of the piece is made from."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion.arcbox import places_mm
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
SAME_MM = 1e-6


class Wall(NamedTuple):
    """k points that the nozzle goes through while it lays clay, in the order of printing."""

    places_mm: Floats
    """Machine mm as the source has them, shape (3, k)."""
    layer: NDArray[np.int64]
    """Index of the layer of the clay that leads to each point, from 0; shape (k,)."""
    begins: NDArray[np.bool_]
    """Whether no clay leads to it from the point before; shape (k,)."""
    stray_mm: float
    """How far the path strays at most from the straight lines between the points."""


def laid_wall(survey: Survey, most: int) -> Wall:
    """The wall of a piece in about `most` points, and those at which a bead begins or ends.

    Points are left out evenly along the path. Clay before the first layer is left out. Reads the whole file
    again, block by block. Raises SourceError if it has changed.
    """
    every_mm = survey.laid_path_mm / most
    first = survey.layers["first_line"]
    parts, before, along_mm, stray_mm = [_NONE], np.full((3, 1), np.inf), 0.0, 0.0
    for index in range(len(survey.marks)):
        follower = survey.follow(index)
        line = follower.moves.line + follower.block.chunk.first_line
        laying = follower.moves.laying & (line >= (first[0] if len(first) else survey.lines))
        if not laying.any():
            continue
        places, owner = places_mm(follower, laying)
        step_mm = np.linalg.norm(np.diff(places, axis=1, prepend=before), axis=0)
        starts = np.append(True, owner[1:] != owner[:-1])
        begins = starts & (step_mm > SAME_MM)
        needed = begins | ~starts
        before = places[:, -1:]
        places, begins, step_mm = places[:, needed], begins[needed], step_mm[needed]
        if not places.shape[1]:
            continue
        layer = np.searchsorted(first, line[owner[needed]], side="right") - 1
        way_mm = along_mm + np.cumsum(np.where(begins, 0.0, step_mm))
        kept = begins | (np.floor(way_mm / every_mm) > np.floor(np.append(along_mm, way_mm[:-1]) / every_mm))
        kept[:-1] |= begins[1:]
        kept[-1] = True
        along_mm = float(way_mm[-1])
        stray_mm = max(stray_mm, _stray_mm(places, kept))
        parts.append((places[:, kept], layer[kept], begins[kept]))
    all_places, all_layers, all_begins = (np.concatenate(some, axis=-1) for some in zip(*parts, strict=True))
    return Wall(all_places, all_layers, all_begins, stray_mm)


_NONE = (np.zeros((3, 0)), np.zeros(0, np.int64), np.zeros(0, np.bool_))


def _stray_mm(places: Floats, kept: NDArray[np.bool_]) -> float:
    """The farthest of the points left out from the line between the kept ones beside it."""
    out = np.flatnonzero(~kept)
    which = np.flatnonzero(kept)
    after = np.searchsorted(which, out)
    out, after = out[after > 0], after[after > 0]
    if not len(out):
        return 0.0
    low, high = places[:, which[after - 1]], places[:, which[after]]
    way, aside = high - low, places[:, out] - low
    share = np.clip((way * aside).sum(axis=0) / np.maximum((way**2).sum(axis=0), 1e-300), 0, 1)
    return float(np.linalg.norm(aside - share * way, axis=0).max())
