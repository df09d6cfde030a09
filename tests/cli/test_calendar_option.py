"""`--calendar` of `gpost run` and `gpost day`."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from icalendar import Calendar, Event

from gpost.demo.gcode import class_pieces
from tests.sliced import write_piece

Gpost = Callable[..., Result]
STUDIO = Path(__file__).parents[2] / "configs" / "studio.yaml"
RUN = ("-o", "out.gcode", "--calendar", "vase.ics", "--start", "9:00", "--date", "2026-03-09")


def events(path: Path) -> list[Event]:
    return list(Calendar.from_ical(path.read_bytes()).walk("VEVENT"))


@pytest.fixture
def day(tmp_path: Path, gpost: Gpost) -> Callable[..., Result]:
    """`gpost day` of two bowls, of which the second waits once; more arguments may follow."""
    (tmp_path / "sliced").mkdir()
    for name in ("small-bowl-1", "small-bowl-2"):
        write_piece(tmp_path / "sliced" / f"{name}.gcode", *class_pieces()[name])
    piece = tmp_path / "sliced" / "small-bowl-2.gcode"
    lines = piece.read_bytes().splitlines(keepends=True)
    piece.write_bytes(b"".join([*lines[: len(lines) // 2], b"M0\n", *lines[len(lines) // 2 :]]))
    return lambda *args: gpost("day", "sliced", "-c", STUDIO, "--calendar", "day.ics", *args)


def test_run_writes_the_visits(run_vase: Gpost, tmp_path: Path) -> None:
    """A visit and the end, at the times that the summary tells; a visit's wait puts off the end."""
    ended = run_vase(*RUN, "--pause-min", "30")
    assert ended.exit_code == 0, ended.stderr
    visit, end = events(tmp_path / "vase.ics")
    assert str(visit["SUMMARY"]) == "out: to look at the base"
    assert str(visit["DESCRIPTION"]).startswith("layer 3, ")
    assert visit["DURATION"].dt == timedelta(minutes=30)
    assert str(end["SUMMARY"]) == "out is done: take it off"
    assert datetime(2026, 3, 9, 9) <= visit["DTSTART"].dt <= end["DTSTART"].dt - timedelta(minutes=30)


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="no zone can be set for one process")
def test_the_night_in_which_the_clock_is_changed(
    run_vase: Gpost, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Begun at 1:58, the vase is done after 3:00: no visit in the hour that there isn't, and it is told."""
    with monkeypatch.context() as berlin:
        berlin.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
        time.tzset()
        ended = run_vase("-o", "out.gcode", "--calendar", "vase.ics", "--start", "1:58", "--date", "2027-03-28")
    time.tzset()
    assert ended.exit_code == 0, ended.stderr
    assert "the clock is put forward by 60 min at 02:00 on 2027-03-28" in " ".join(ended.stderr.split())
    end = events(tmp_path / "vase.ics")[-1]["DTSTART"].dt
    assert end == end.replace(tzinfo=UTC)
    assert datetime(2027, 3, 28, 1, tzinfo=UTC) < end < datetime(2027, 3, 28, 1, 30, tzinfo=UTC)


def test_run_again_replaces(run_vase: Gpost, tmp_path: Path) -> None:
    """The same output planned anew has the same UIDs; the file is replaced only with --overwrite."""
    assert run_vase(*RUN).exit_code == 0
    first = [event["UID"] for event in events(tmp_path / "vase.ics")]
    before = (tmp_path / "vase.ics").read_bytes()
    refused = run_vase(*RUN)
    assert refused.exit_code == 1
    assert (tmp_path / "vase.ics").read_bytes() == before
    assert run_vase(*RUN[:-3], "14:00", "--overwrite").exit_code == 0
    again = events(tmp_path / "vase.ics")
    assert [event["UID"] for event in again] == first
    assert again[0]["DTSTART"].dt.date() == datetime.now().date()
    assert again[0]["DTSTART"].dt.hour >= 14


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--calendar", "vase.ics"), "a calendar needs the time at which the print is started: --start 9:00"),
        (("--start", "9:00"), "go with --calendar FILE"),
        (("--date", "2026-03-09"), "go with --calendar FILE"),
        (("--calendar", "vase.ics", "--start", "9 am"), "'9 am' is no time of day, such as 9:00 or 14:30"),
        (("--calendar", "vase.ics", "--start", "9:00", "--date", "9.3."), "'9.3.' is no day that there is; write year, month, day, such as 2026-11-30"),
        (("--calendar", "vase.ics", "--start", "9:00", "--date", "30.11.2026"), "such as 2026-11-30"),
        (("--calendar", "vase.ics", "--start", "9:00", "--date", "9.3.2026"), "such as 2026-03-09"),
        (("--calendar", "vase.ics", "--start", "9:00", "--date", "2026-02-30"), "is no day that there is"),
        (("--calendar", "-", "--start", "9:00"), "a calendar needs a file of its own, such as vase.ics"),
    ],
)
def test_what_does_not_go_together(run_vase: Gpost, tmp_path: Path, args: tuple[str, ...], said: str) -> None:
    """Status 2 with a sentence, and nothing is written."""
    ended = run_vase("-o", "out.gcode", *args)
    assert ended.exit_code == 2
    assert said in ended.stderr
    assert not (tmp_path / "out.gcode").exists()


@pytest.mark.parametrize("name", ["vase.gcode", "studio.yaml", "out.gcode", "no-folder/vase.ics"])
def test_nothing_is_lost_to_a_calendar(run_vase: Gpost, tmp_path: Path, name: str) -> None:
    """It takes the place of no file that is read or written in the run, and that is known before the work."""
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    ended = run_vase("-o", "out.gcode", "--calendar", name, "--start", "9:00", "--overwrite")
    assert ended.exit_code == 1, ended.stderr
    assert {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def test_a_rehearsal_has_no_visits(run_vase: Gpost) -> None:
    """It never waits, so a calendar of it is refused."""
    ended = run_vase("-o", "r-rehearsal.gcode", "--rehearse", "--calendar", "vase.ics", "--start", "9:00")
    assert ended.exit_code == 2
    assert "a rehearsal never waits for you; leave --calendar out" in ended.stderr


def test_the_day_writes_all_its_events(day: Callable[..., Result], tmp_path: Path) -> None:
    """The calendar has what stands under "When to be there", each at its time, waits with their length."""
    ended = day("--date", "2026-03-09", "--start", "13:30", "--pause-min", "7")
    assert ended.exit_code == 0, ended.stderr
    told = ended.stdout.partition("When to be there\n")[2].partition("\n\n")[0]
    found = events(tmp_path / "day.ics")
    times = [f"{event['DTSTART'].dt:%H:%M}" for event in found]
    assert times == [line.split()[0] for line in told.splitlines() if line[2:3] != " "]
    assert times[0] == "13:30"
    flat = " ".join(told.split())
    assert all(str(event["SUMMARY"]) in flat for event in found)
    waits = [event for event in found if " waits: " in str(event["SUMMARY"])]
    assert [event["DURATION"].dt for event in waits] == [timedelta(minutes=7)]


def test_a_day_that_is_written_is_started_by_its_files(day: Callable[..., Result], tmp_path: Path) -> None:
    """As on its sheet: the file that stands in the day's folder, under the UIDs that the day had without one."""
    assert day().exit_code == 0
    uids = [event["UID"] for event in events(tmp_path / "day.ics")]
    ended = day("-o", "out", "--overwrite")
    assert ended.exit_code == 0, ended.stderr
    found = events(tmp_path / "day.ics")
    starts = [str(event["SUMMARY"]).removeprefix("start ") for event in found if "start " in str(event["SUMMARY"])]
    assert starts == ["01-small-bowl-1.gcode", "02-small-bowl-2.gcode"]
    assert all((tmp_path / "out" / name).is_file() for name in starts)
    flat = " ".join((tmp_path / "out" / "day.txt").read_text().split())
    assert all(str(event["SUMMARY"]) in flat for event in found)
    assert [event["UID"] for event in found] == uids


def test_the_rest_of_a_day_replaces_its_part(day: Callable[..., Result], tmp_path: Path) -> None:
    """Planned anew from a piece on, the events of what is left have the UIDs that they had."""
    assert day().exit_code == 0
    before = {str(event["SUMMARY"]): str(event["UID"]) for event in events(tmp_path / "day.ics")}
    assert len(set(before.values())) == len(before)
    second = [title for title in before if title.startswith("small-bowl-2.gcode is done")]
    assert second
    ended = day("--overwrite", "--from", "small-bowl-2", "--left-ml", "300", "--start", "15:00")
    assert ended.exit_code == 0, ended.stderr
    after = {str(event["SUMMARY"]): str(event["UID"]) for event in events(tmp_path / "day.ics")}
    kept = [title for title in after if title.partition(" ")[0] == "start" or "small-bowl-2.gcode " in title]
    assert len(kept) == 3
    assert all(after[title] == before[title] for title in kept)
    assert not any("small-bowl-1" in title for title in after)


def test_the_day_s_date_needs_a_calendar(gpost: Gpost, tmp_path: Path) -> None:
    """Status 2 for a date that nothing is done with."""
    ended = gpost("day", tmp_path, "-c", STUDIO, "--date", "2026-03-09")
    assert ended.exit_code == 2
    assert "--date goes with --calendar FILE" in ended.stderr


def test_a_day_without_a_piece_has_no_calendar(gpost: Gpost, tmp_path: Path) -> None:
    """Where no piece can be printed there is nothing to be there for, and no file (RFC 5545, 3.6)."""
    (tmp_path / "sliced").mkdir()
    (tmp_path / "sliced" / "broken.gcode").write_bytes(b"")
    ended = gpost("day", "sliced", "-c", STUDIO, "--calendar", "day.ics")
    assert ended.exit_code == 1
    assert "No piece can be printed." in ended.stdout
    assert not (tmp_path / "day.ics").exists()
