"""The layers as rows of a table, and what is known of them by their rows alone."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record

LAYER_DTYPE = np.dtype(
    [
        ("first_line", "i8"),  # 0-based source line from which on the layer counts
        ("kind", "u1"),  # 0 level, 1 one turn of a wall that rises or waves
        ("odd", "?"),  # whether it can't be told from the motion what layers there are here
        ("clay_ml", "f8"),  # net clay metered from first_line to the next layer's first_line
        ("laid_ml", "f8"),  # of that, clay metered by moves that lay clay
        ("path_mm", "f8"),  # path of the moves that lay clay
        ("time_s", "f8"),  # all time from first_line to the next layer's first_line
        ("cruise_s", "f8"),  # of the laying moves: path / feed, as if acceleration were unlimited
        ("laying_s", "f8"),  # of the laying moves: with acceleration
        ("x_min_mm", "f8"),
        ("y_min_mm", "f8"),
        ("low_mm", "f8"),  # lowest nozzle height while laying clay in this layer
        ("x_max_mm", "f8"),
        ("y_max_mm", "f8"),
        ("height_mm", "f8"),  # highest nozzle height while laying clay in this layer
        ("start_x_mm", "f8"),  # where the first clay of the layer is laid
        ("start_y_mm", "f8"),
        ("start_z_mm", "f8"),
        ("feed_mm_min", "f8"),  # mean feed of the laying moves, by path; 0 where the file has said none
    ]
)
"""One row a layer. Heights and positions are machine coordinates of the nozzle."""

HEIGHT_STEP_MM = 1e-3
"""Heights nearer than this count as the same: sliced files round them."""

MUCH_BESIDE_MM = 5.0
"""A turn that goes up and down by more than this beside its rise is told of."""
TALL, TALL_MM = 3.0, 3.0
"""A layer is tall that rises by so many times what half the layers rise by, and by so many mm."""


@record(frozen=True, slots=True)
class OddStretch:
    """Lines on which the motion doesn't tell what the layers are; `end_line` is the first one after."""

    first_line: int
    end_line: int
    first_layer: int
    """Of the layers by which it is counted all the same: first and last, from 1."""
    last_layer: int
    low_mm: float
    high_mm: float

    @property
    def text(self) -> str:
        """A sentence that says so."""
        layers = f"layer {self.first_layer}"
        if self.last_layer > self.first_layer:
            layers = f"layers {self.first_layer} to {self.last_layer}"
        return (
            f"from {self.low_mm:.1f} to {self.high_mm:.1f} mm the wall doesn't go round, or not as below: "
            f"what is counted as {layers} is a guess; ask for heights there, not for layers"
        )


def bounds_of(
    layers: NDArray[np.void],
) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    """(low, high) of x, y and z over the laid clay of some layers, mm; all 0 where there is none."""
    if not len(layers):
        return (0.0, 0.0), (0.0, 0.0), (0.0, 0.0)
    return (
        (float(layers["x_min_mm"].min()), float(layers["x_max_mm"].max())),
        (float(layers["y_min_mm"].min()), float(layers["y_max_mm"].max())),
        (float(layers["low_mm"].min()), float(layers["height_mm"].max())),
    )


def waves_between(layers: NDArray[np.void], first: int, last: int) -> tuple[float, float] | None:
    """(lowest, highest place) of the layers from one index to another, mm; None where none of them waves.

    Such a one is level, or goes from its lowest place at its start to its highest where the next starts.
    """
    rows = layers[first : last + 1]
    low_mm, high_mm = rows["low_mm"], rows["height_mm"]
    ends_mm = np.append(layers["start_z_mm"], high_mm[-1:])[first + 1 : last + 2]
    begins_mm = rows["start_z_mm"]
    even = (begins_mm <= low_mm + HEIGHT_STEP_MM) & (ends_mm >= high_mm - HEIGHT_STEP_MM)
    even |= high_mm - low_mm < HEIGHT_STEP_MM
    return None if even.all() else (float(low_mm.min()), float(high_mm.max()))


class Counted(NamedTuple):
    """For which heights each layer counts where one is asked for; shape (n,) each."""

    from_mm: NDArray[np.float64]
    to_mm: NDArray[np.float64]
    beside_mm: NDArray[np.float64]
    """By how much it goes up and down beside what the wall rises by in it; 0: level, or climbing evenly."""


def counted(layers: NDArray[np.void]) -> Counted:
    """For which heights each layer counts, as `Survey.counted`.

    What the wall rises by in a turn is seen at the next that begins higher; for the last ones it is what it
    was before, if they go up and down as those did: else they may rise by more.
    """
    low_mm, high_mm = layers["low_mm"].astype(np.float64), layers["height_mm"].astype(np.float64)
    level_mm = np.maximum.accumulate(low_mm)  # of walls inside one another several turns are at one
    above = np.searchsorted(level_mm, level_mm + HEIGHT_STEP_MM, side="right")
    last = int(np.searchsorted(above, len(layers)))  # the first one above which there is none
    rise_mm = level_mm[np.minimum(above, len(layers) - 1)] - level_mm
    rise_mm[last:] = rise_mm[last - 1] if last else np.inf
    beside_mm = np.maximum(high_mm - low_mm - rise_mm, 0.0)
    beside_mm[layers["odd"] | (beside_mm < HEIGHT_STEP_MM)] = 0.0
    if last and not beside_mm[last - 1]:
        beside_mm[last:] = 0.0
    return Counted(low_mm + beside_mm / 2, high_mm - beside_mm / 2, beside_mm)


def loose(layers: NDArray[np.void]) -> NDArray[np.bool_]:
    """Whether a height asked for inside each layer is itself the place, shape (n,), as `Survey.loose`."""
    begins = counted(layers)
    rise_mm = np.diff(begins.from_mm, append=begins.to_mm[-1:])
    usual_mm = np.sort(rise_mm)[len(rise_mm) // 2 :][:1]
    return np.asarray(layers["odd"] | (rise_mm > TALL * usual_mm) & (rise_mm > TALL_MM))
