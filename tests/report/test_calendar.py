"""The calendar file: what RFC 5545 asks of it, read back by the icalendar library."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar, Event

from gpost.common.plain import shown
from gpost.report.calendar import Entry, calendar_text, change_of, entries_of
from tests.report.test_text import PAUSE, summary

DAY = date(2026, 3, 9)
MADE = datetime(2026, 3, 8, 21, 5, 7, tzinfo=timezone(timedelta(hours=2)))
NINE_S = 9 * 3600.0
OWN = PAUSE.model_copy(
    update={"step": "", "kind": "own", "clock_s": 3600.0, "new_cartridge": False, "cartridge": None}
)


def written(
    entries: list[Entry],
    *,
    job: str = "vase-print.gcode",
    day: date = DAY,
    made: datetime = MADE,
    start_s: float = NINE_S,
    zone: tzinfo = UTC,
) -> str:
    return calendar_text(job, day, entries, made=made, start_s=start_s, zone=zone)


def read(text: str) -> list[Event]:
    """The events as the library reads them, which must have found no error."""
    found = Calendar.from_ical(text)
    assert not found.errors
    assert not any(component.errors for component in found.walk())
    return list(found.walk("VEVENT"))


def of(entries: list[Entry], **more: Any) -> list[Event]:
    return read(written(entries, **more))


def test_a_job_s_visits_and_end_are_its_events() -> None:
    """Each visit comes at its time, put off by the waits before it; the end comes after all of them."""
    events = of(entries_of(summary(pauses=(PAUSE, OWN)), NINE_S, 300.0))
    assert [event["DTSTART"].dt for event in events] == [
        datetime(2026, 3, 9, 9, 41),
        datetime(2026, 3, 9, 10, 5),
        datetime(
            2026, 3, 9, 10, 40
        ),  # 5430 s are 90.5 min; a half goes to the even minute, as clock() has it
    ]
    assert [event.get("DURATION") and event["DURATION"].dt for event in events] == [
        timedelta(minutes=5)
    ] * 2 + [None]
    titles = [str(event["SUMMARY"]) for event in events]
    assert titles == [
        "vase-print: put in cartridge 2, blue",
        "vase-print: see to it: the file waits here by itself",
        "vase-print is done: take it off",
    ]


def test_a_visit_says_what_goes_in() -> None:
    """The cartridge, how much is in it, what is run out, and where it shows stand in the visit's description."""
    cartridges = summary().cartridges
    second = cartridges[0].model_copy(
        update={"number": 2, "colour": "blue", "load_ml": 211.2, "load_g": 390.4, "over_ml": 0.0}
    )
    events = of(entries_of(summary(pauses=(PAUSE,), cartridges=(cartridges[0], second)), NINE_S, 0.0))
    said = str(events[0]["DESCRIPTION"]).split("\n")
    assert str(events[0]["SUMMARY"]) == "vase-print: put in cartridge 2, blue, 212 ml"
    assert said[0] == "layer 31, 60.0 mm: swap, blue is to show from layer 40 on"
    assert said[1].startswith(
        "cartridge 2, blue, goes in; 5.0 ml are run out at the park; it shows from 79.2 mm"
    )
    assert any(
        line.startswith("cartridge 2, blue: load at least 212 ml") and "391 g" in line for line in said
    )
    assert not any("cartridge 1" in line for line in said)


def test_what_the_standard_asks_of_every_event() -> None:
    """UID, DTSTAMP in UTC (3.8.7.2), and alarms with action, trigger and words (3.6.6)."""
    text = written(entries_of(summary(pauses=(PAUSE, OWN)), NINE_S, 300.0))
    calendar = Calendar.from_ical(text)
    assert str(calendar["VERSION"]) == "2.0"
    assert str(calendar["PRODID"]).startswith("-//gpost//")
    events = read(text)
    assert len({str(event["UID"]) for event in events}) == 3
    for event in events:
        assert event["DTSTAMP"].dt == datetime(2026, 3, 8, 19, 5, 7, tzinfo=UTC)
        assert event["DTSTART"].dt.tzinfo is None  # the clock on the wall
        alarms = list(event.walk("VALARM"))
        assert [alarm["TRIGGER"].dt for alarm in alarms] == [timedelta(minutes=-5), timedelta(0)]
        assert {str(alarm["ACTION"]) for alarm in alarms} == {"DISPLAY"}
        assert all(str(alarm["DESCRIPTION"]) == str(event["SUMMARY"]) for alarm in alarms)


def test_a_second_import_replaces_the_first() -> None:
    """The same job on another day and at another time has the same UIDs and a higher SEQUENCE (3.8.7.4)."""
    job = summary(pauses=(PAUSE, OWN))
    first = of(entries_of(job, NINE_S, 300.0))
    moved = entries_of(job, NINE_S + 7200, 0.0)
    second = of(moved, day=date(2026, 3, 10), made=MADE + timedelta(seconds=1))
    assert [event["UID"] for event in first] == [event["UID"] for event in second]
    assert all(new["SEQUENCE"] > old["SEQUENCE"] for old, new in zip(first, second, strict=True))
    assert all(new["DTSTART"].dt > old["DTSTART"].dt for old, new in zip(first, second, strict=True))
    assert max(event["SEQUENCE"] for event in second) < 2**31  # an INTEGER's range (3.3.8)


def test_another_job_replaces_nothing() -> None:
    """Jobs of two names share no UID."""
    entries = entries_of(summary(pauses=(PAUSE,)), NINE_S, 0.0)
    uids = [{str(event["UID"]) for event in of(entries, job=job)} for job in ("a/vase.gcode", "b/vase.gcode")]
    assert uids[0].isdisjoint(uids[1])


BERLIN, LORD_HOWE = ZoneInfo("Europe/Berlin"), ZoneInfo("Australia/Lord_Howe")
"""Lord Howe's clocks are moved by half an hour."""


@pytest.mark.parametrize(
    ("zone", "day", "start_s", "after_min", "shown_at"),
    [
        # at 02:00 the clock is put to 03:00
        (BERLIN, date(2027, 3, 28), 100 * 60, (10, 30, 60), ("01:50", "03:10", "03:40")),
        # a start in the hour that is left out is 03:30 by the new clock
        (BERLIN, date(2027, 3, 28), 150 * 60, (10, 30), ("03:40", "04:00")),
        # at 03:00 it is put to 02:00; 02:40 comes twice, and is taken for the first
        (BERLIN, date(2026, 10, 25), 160 * 60, (10, 30, 60, 90), ("02:50", "02:10", "02:40", "03:10")),
        (LORD_HOWE, date(2026, 10, 4), 110 * 60, (5, 20), ("01:55", "02:40")),
    ],
)
def test_a_clock_that_is_changed_meanwhile(
    zone: tzinfo, day: date, start_s: float, after_min: tuple[int, ...], shown_at: tuple[str, ...]
) -> None:
    """What the wall's clock shows so many minutes after the start, by hand; no two of its times are taken for one.

    The days are those of the zones' own rules (IANA's time zone data).
    """
    entries = [Entry(f"{after}", start_s + 60 * after, 0.0, "here") for after in after_min]
    events = of(entries, day=day, start_s=start_s, zone=zone)
    moments = [event["DTSTART"].dt for event in events]
    assert [f"{at.astimezone(zone):%H:%M}" for at in moments] == list(shown_at)
    gaps = [(later - first).total_seconds() / 60 for first, later in pairwise(moments)]
    assert gaps == [later - first for first, later in pairwise(after_min)]


@pytest.mark.parametrize(("start_s", "last_s"), [(3600, 2 * 3600 - 60), (3 * 3600, 9 * 3600), (9 * 3600, 20 * 3600)])
def test_before_and_after_a_change_times_are_the_wall_s(start_s: float, last_s: float) -> None:
    """As on any other day, wherever they are read."""
    (event,) = of([Entry("end", last_s, 0.0, "done")], day=date(2027, 3, 28), start_s=start_s, zone=BERLIN)
    assert event["DTSTART"].dt == datetime(2027, 3, 28) + timedelta(seconds=last_s)


@pytest.mark.parametrize(
    ("day", "start_s", "words"),
    [
        (date(2027, 3, 28), 6000, "put forward by 60 min at 02:00 on 2027-03-28"),
        (date(2027, 3, 28), 9000, "put forward by 60 min at 02:00 on 2027-03-28"),
        (date(2027, 3, 28), 9000, "02:30 is not on the clock in that night: it is taken for 03:30"),
        (date(2026, 10, 25), 9600, "put back by 60 min at 03:00 on 2026-10-25"),
        (date(2026, 10, 25), 9600, "02:40 comes twice in that night: it is taken for the first"),
        (date(2026, 10, 24), 60000, "put back by 60 min at 03:00 on 2026-10-25"),
    ],
)
def test_the_change_is_told(day: date, start_s: float, words: str) -> None:
    """When, which way, and what to do with times that are told elsewhere."""
    change = change_of(day, start_s, [Entry("end", start_s + 12 * 3600, 0.0, "done")], BERLIN)
    assert change is not None
    assert words in change.told()
    assert ("add 60 min" if day.month == 3 else "take off 60 min") in change.told()
    assert ("in that night" in change.told()) == (start_s in (9000, 9600))


def test_a_print_through_the_night() -> None:
    """What comes after midnight is on the next day; a month's end too."""
    entries = [Entry("end", 25.5 * 3600, 0.0, "done"), Entry("late", 50 * 3600, 0.0, "later")]
    assert [event["DTSTART"].dt for event in of(entries, day=date(2026, 12, 31))] == [
        datetime(2027, 1, 1, 1, 30),
        datetime(2027, 1, 2, 2, 0),
    ]


@given(st.text(max_size=200), st.lists(st.text(max_size=200), max_size=3), st.text(max_size=30))
def test_any_text_comes_back_as_it_is_shown(title: str, said: list[str], job: str) -> None:
    """No name or reason can begin a line of its own, and each comes back whole through folding and escaping."""
    entries = [Entry("a", NINE_S, 0.0, title, tuple(said))]
    text = written(entries, job=job)
    events = read(text)
    assert len(events) == 1
    assert str(events[0].get("SUMMARY", "")) == shown(title)
    assert str(events[0].get("DESCRIPTION", "")) == "\n".join(map(shown, said))


@given(st.text(alphabet=st.sampled_from("aä陶🏺;,\\\n "), max_size=300))
def test_lines_are_folded_as_the_standard_has_it(title: str) -> None:
    """Each line ends with CRLF, has at most 75 octets, and none is cut inside a letter (3.1)."""
    text = written([Entry("a", NINE_S, 0.0, title, (title,))])
    lines = text.encode().split(b"\r\n")
    assert lines.pop() == b""
    assert all(len(line) <= 75 for line in lines)
    assert all(line.decode() for line in lines)  # each is UTF-8 by itself
    assert not any(b"\n" in line or b"\r" in line for line in lines)
