"""Heights in the summary of a rest that is laid higher or lower than it was planned."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from gpost.report.model import Summary

_HEIGHTS = frozenset(
    {"height_mm", "from_height_mm", "shows_at_height_mm", "shows_low_mm", "shows_high_mm", "air_at_height_mm"}
    | {"start_mm", "half_mm", "full_mm", "low_mm", "high_mm"}
)
"""Keys of nozzle heights, in records of the parts below."""
_PARTS = ("pauses", "layer_table", "changes", "shares", "edges", "weighings", "knobs")


def raised(summary: Summary, top_mm: float, by_mm: float) -> Summary:
    """The summary with all heights from a planned top on so much higher. Words of steps stay as they are."""
    if not by_mm:
        return summary
    parts = {name: _raised(getattr(summary, name), top_mm, by_mm) for name in _PARTS}
    return summary.model_copy(update={**parts, "height_mm": _sum(summary.height_mm, by_mm)})


def _raised(part: Any, top_mm: float, by_mm: float) -> Any:
    if isinstance(part, tuple):
        return tuple(_raised(one, top_mm, by_mm) for one in part)
    if not isinstance(part, BaseModel):
        return part
    return part.model_copy(
        update={
            name: _moved(value, top_mm, by_mm) if name in _HEIGHTS else _raised(value, top_mm, by_mm)
            for name, value in part
        }
    )


def _moved(value: Any, top_mm: float, by_mm: float) -> Any:
    """A height, or those of a column."""
    if isinstance(value, tuple):
        return tuple(_moved(one, top_mm, by_mm) for one in value)
    return value if value is None or value < top_mm else _sum(value, by_mm)


def _sum(height_mm: float, by_mm: float) -> float:
    """To the micrometre: sums of floats are not exact."""
    return round(height_mm + by_mm, 3)
