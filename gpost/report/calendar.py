"""When to be at the machine, as a calendar file by RFC 5545 (iCalendar) that phones and programs import."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple
from uuid import NAMESPACE_URL, uuid5

from gpost import __version__
from gpost.common.plain import shown
from gpost.report.clockchange import ClockChange, clock_change, moment
from gpost.report.model import Summary
from gpost.report.textload import load_text
from gpost.report.visits import RIM_UNKNOWN, Visit, visits
from gpost.report.wording import Stars, piece_name
from gpost.words import harmless, say

EARLY_MIN = 5
"""So long before each time the first alarm rings, and once more at the time itself."""
MOST_OCTETS = 75
"""Of a line, its end not counted (RFC 5545, 3.1)."""
_LOCAL = "%Y%m%dT%H%M%S"
PUTS_OFF = say("waits.puts_off")
_COUNTED_FROM = datetime(2020, 1, 1, tzinfo=UTC)
"""SEQUENCE counts seconds from here, so that it fits 32 bits and a later file always has a higher one."""


class Entry(NamedTuple):
    """One thing to be there for."""

    key: str
    """What it is within its job, the same whenever that is planned anew."""
    clock_s: float
    """Seconds after the midnight with which the day begins."""
    lasts_s: float
    """How long the machine is expected to wait; 0: it doesn't."""
    title: str
    said: Sequence[str] = ()
    """What there is to know, a paragraph each."""


def entries_of(summary: Summary, start_s: float, wait_s: float) -> list[Entry]:
    """Each visit of a job that begins `start_s` after midnight, and its end; each wait lasts `wait_s`."""
    name = piece_name(summary)
    found: list[Entry] = []
    for count, visit in enumerate(visits(summary)):
        at_s = start_s + visit.clock_s + count * wait_s
        told = (visit.head, *visit.said, *_to_load(summary, visit))
        said = (*told, *([RIM_UNKNOWN] if visit.rim_unknown else []), PUTS_OFF)
        title = f"{name}: {visit.doing}"
        found.append(Entry(f"visit {count + 1}", at_s, wait_s, title, said))
    end_s = start_s + summary.time_s + len(found) * wait_s
    return [*found, Entry("end", end_s, 0.0, say("waits.done", piece=name), (PUTS_OFF,))]


def _to_load(summary: Summary, visit: Visit) -> Iterator[str]:
    """How much is in the cartridge that goes in, and what that rests on."""
    star = Stars(summary.sure.defaults)
    for cartridge in summary.cartridges:
        if cartridge.number == visit.cartridge:
            yield load_text(cartridge, summary.sure, star)
            yield from star.explained()


def change_of(day: date, start_s: float, entries: Sequence[Entry], zone: tzinfo | None) -> ClockChange | None:
    """The change of the clock between the start and the last of the entries; None if there is none."""
    lasts_s = max(entry.clock_s for entry in entries) - start_s
    return clock_change(_wall(day, start_s), lasts_s, zone)


def calendar_text(
    job: str,
    day: date,
    entries: Sequence[Entry],
    *,
    made: datetime,
    start_s: float,
    zone: tzinfo | None = None,
) -> str:
    """The calendar file. A later one of the same `job`, which is any name, takes this one's place.

    Times are those of the clock on the wall, wherever it is read (a date with local time, 3.3.5), to the
    nearest minute. Where that clock is changed between `start_s` and the last entry, by the rules of `zone`
    (None: the computer's own), they are in UTC: local times that come twice, or not at all, can't be said
    otherwise without the zone's own rules (3.3.5). `made`: when the file is made, with its time zone.
    """
    changed = change_of(day, start_s, entries, zone) is not None
    begins = moment(_wall(day, start_s), zone)
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_escaped(f'-//gpost//gpost {__version__}//EN')}"]
    for entry in entries:
        from_start = timedelta(minutes=round(entry.clock_s / 60)) - timedelta(seconds=start_s)
        starts = f"{begins + from_start:{_LOCAL}}Z" if changed else f"{_wall(day, entry.clock_s):{_LOCAL}}"
        lines += _event(job, starts, entry, made.astimezone(UTC))
    return "".join(f"{_folded(line)}\r\n" for line in [*lines, "END:VCALENDAR"])


def _wall(day: date, clock_s: float) -> datetime:
    """A time of the day, to the nearest minute."""
    return datetime.combine(day, time()) + timedelta(minutes=round(clock_s / 60))


def _event(job: str, starts: str, entry: Entry, made: datetime) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{uuid5(NAMESPACE_URL, shown(f'gpost:{job}:{entry.key}'))}"
    yield f"DTSTAMP:{made:{_LOCAL}}Z"
    yield f"SEQUENCE:{max(int((made - _COUNTED_FROM).total_seconds()), 0)}"
    yield f"DTSTART:{starts}"
    if round(entry.lasts_s) > 0:
        yield f"DURATION:PT{round(entry.lasts_s)}S"
    yield f"SUMMARY:{_escaped(entry.title)}"
    if entry.said:
        yield "DESCRIPTION:" + "\\n".join(map(_escaped, entry.said))
    for trigger in (f"-PT{EARLY_MIN}M", "PT0S"):
        yield from ("BEGIN:VALARM", "ACTION:DISPLAY", f"TRIGGER:{trigger}")
        yield from (f"DESCRIPTION:{_escaped(entry.title)}", "END:VALARM")
    yield "END:VEVENT"


def _escaped(text: str) -> str:
    """A text as a value (3.3.11); what can't be shown is written out, so no new line begins in it."""
    plain = harmless(text)
    for sign in "\\;,":
        plain = plain.replace(sign, f"\\{sign}")
    return plain


def _folded(line: str) -> str:
    """The line cut so that each part has at most 75 octets, and no letter is cut in two (3.1)."""
    parts, length = [""], 0
    for letter in line:
        octets = len(letter.encode())
        if length + octets > MOST_OCTETS:
            parts.append("")
            length = 1  # the blank with which it goes on
        parts[-1] += letter
        length += octets
    return "\r\n ".join(parts)
