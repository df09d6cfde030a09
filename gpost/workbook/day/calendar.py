"""The day's events for a calendar file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from gpost.report.calendar import PUTS_OFF, Entry
from gpost.workbook.day.clock import Event
from gpost.workbook.day.words import NO_FILES, event_text


def entries_of_day(events: Sequence[Event], files: Mapping[str, str] = NO_FILES) -> list[Entry]:
    """One entry an event: each is known by its piece, or by the piece for which a cartridge is loaded.

    So a day that is planned anew, from a piece on perhaps, gives what is left of it the same keys.
    `files`: the file that is written for each piece, which is the one that is started.
    """
    found: list[Entry] = []
    counts: Counter[tuple[str, str]] = Counter()
    for index, event in enumerate(events):
        piece = event.piece or next((later.piece for later in events[index:] if later.piece), "")
        kind = "at" if event.piece else "load"
        counts[piece, kind] += 1
        key = f"{kind} {counts[piece, kind]} of {piece}"
        found.append(Entry(key, event.clock_s, event.lasts_s, event_text(event, files), (PUTS_OFF,)))
    return found
