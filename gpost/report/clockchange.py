"""A clock that is put forward or back while a print lasts, by the rules of a time zone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo
from typing import NamedTuple

_NEAR = timedelta(seconds=1)
_BEFORE = timedelta(hours=3)
"""So long before a start its clock is still the one of before the change; no clock is moved by more."""


class ClockChange(NamedTuple):
    """When the clock is changed, and by how much."""

    at: datetime
    """By the clock before."""
    by: timedelta
    """Above nought: it is put forward."""
    start: datetime
    """What the clock shows at the start, as it was said."""

    def told(self) -> str:
        """What to know of it."""
        minutes = abs(round(self.by / timedelta(minutes=1)))
        way, do = ("forward", "add") if self.by > timedelta() else ("back", "take off")
        return (
            f"the clock is put {way} by {minutes} min at {self.at:%H:%M} on {self.at:%Y-%m-%d}, by this "
            "computer's time zone. The calendar file counts that in; at other times that are told from then "
            f"on, as on a day's sheet, {do} {minutes} min{self._start_told()}"
        )

    def _start_told(self) -> str:
        """What a start means that the clock shows twice, or never."""
        shown = f"{self.start:%H:%M}"
        if self.at + self.by <= self.start < self.at:
            return f". {shown} comes twice in that night: it is taken for the first"
        if self.at <= self.start < self.at + self.by:
            return (
                f". {shown} is not on the clock in that night: it is taken for {self.start + self.by:%H:%M}"
            )
        return ""


def moment(wall: datetime, zone: tzinfo | None = None) -> datetime:
    """The moment at which a clock on the wall shows that time, in UTC; `zone`: None is the computer's own.

    Of two such moments it is the first; a time that is left out counts by the clock before (PEP 495).
    """
    return wall.replace(tzinfo=zone).astimezone(UTC)


def clock_change(start: datetime, lasts_s: float, zone: tzinfo | None = None) -> ClockChange | None:
    """The change between a time on the wall and so many seconds later; None if there is none."""
    begins = moment(start, zone)
    low, high = begins - _BEFORE, begins + timedelta(seconds=lasts_s)
    before = start - begins.replace(tzinfo=None)
    by = _offset(high, zone) - before
    if not by:
        return None
    while high - low > _NEAR:
        middle = low + (high - low) / 2
        low, high = (middle, high) if _offset(middle, zone) == before else (low, middle)
    return ClockChange(high.replace(microsecond=0, tzinfo=None) + before, by, start)


def _offset(at: datetime, zone: tzinfo | None) -> timedelta:
    return at.astimezone(zone).utcoffset() or timedelta()
