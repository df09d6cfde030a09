"""`gpost resume --page --calendar`: the job sheet of a rest, and its visits in a calendar."""

from __future__ import annotations

import re
from datetime import datetime
from html import unescape
from pathlib import Path

import pytest
from icalendar import Calendar

from gpost.common.unbroken import NO_BREAK
from gpost.config.model import Config
from tests.cli.test_resume_command import CONFIG
from tests.resuming import resume, summary, vase_ran

REMIND = CONFIG + "  - remind: {at_heights_mm: [40], how: pause, text: Look}\n"


def plain(html: str) -> str:
    """The text of a piece of a page."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).replace(NO_BREAK, " ").split())


def test_what_is_done_before_it_goes_on_is_ticked_off(tmp_path: Path) -> None:
    """The sheet has each point of the summary's list, in its order, instead of what is done before a start."""
    job = vase_ran(tmp_path, REMIND)
    result = resume(job, "--from-layer", 9, "--page", job / "rest.html")
    assert result.exit_code == 0, result.output
    page, said = (job / "rest.html").read_text("utf-8"), summary(job)
    section = page[page.index('<section id="before"') : page.index('<section id="times"')]
    ticks = [plain(item) for item in re.findall(r"<li><label>.*?</label></li>", section, re.DOTALL)]
    assert ticks == [" ".join(text.split()) for text in said["resume"]["checks"]]
    assert ticks
    assert "Before you let it go" in section
    assert not set(ticks) & set(Config().sheet.before)
    assert "It leaves out: first-layer beads and purges" in plain(section)
    assert plain(page).count("The rest of a stopped print, from layer 9 on.") == 1


def test_only_what_is_still_to_come_stands_on_the_sheet(tmp_path: Path) -> None:
    """Times count from where the machine goes on; a wait that has been isn't told."""
    job = vase_ran(tmp_path, REMIND)
    shown = {}
    for layer in (9, 23):
        result = resume(job, "--from-layer", layer, "--page", job / "rest.html", "--overwrite")
        assert result.exit_code == 0, result.output
        shown[layer] = re.findall(r'<li data-clock="([^"]+)"', (job / "rest.html").read_text("utf-8"))
        said = summary(job)
        clocks_s = [*(pause["clock_s"] for pause in said["pauses"]), said["time_s"]]
        assert [float(at) for at in shown[layer]] == pytest.approx(clocks_s)
    assert len(shown[9]) == len(shown[23]) + 2  # the swap and the reminder have been by then
    assert shown[9][0] == shown[23][0] == "0.0"


def test_the_calendar_counts_from_when_it_is_let_go(tmp_path: Path) -> None:
    """Each visit and the end come so long after that as the summary says (RFC 5545 as icalendar reads it)."""
    job = vase_ran(tmp_path, REMIND)
    words = ("--calendar", job / "rest.ics", "--date", "2026-03-02", "--start", "15:30", "--pause-min", "0")
    result = resume(job, "--from-layer", 9, *words)
    assert result.exit_code == 0, result.output
    said = summary(job)
    times_s = [*(pause["clock_s"] for pause in said["pauses"]), said["time_s"]]
    found = Calendar.from_ical((job / "rest.ics").read_bytes()).walk("VEVENT")
    off_s = [event["DTSTART"].dt - datetime(2026, 3, 2, 15, 30) for event in found]
    assert [off.total_seconds() for off in off_s] == [60 * round(time_s / 60) for time_s in times_s]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--calendar", "rest.ics"), "--start 9:00"),
        (("--start", "9:00"), "go with --calendar"),
        (("--page", "-", "--summary", "-"), "only one thing"),
        (("--page", "{job}/rest.json"), "can't be the same file"),
    ],
)
def test_what_does_not_go_together_is_refused_before_anything_is_written(
    tmp_path: Path, words: tuple[str, ...], why: str
) -> None:
    """The rest stays unwritten."""
    job = vase_ran(tmp_path, CONFIG)
    result = resume(job, "--from-layer", 9, *(word.format(job=job) for word in words))
    assert result.exit_code != 0
    assert why in " ".join(result.output.split())
    assert not (job / "rest.gcode").exists()


def test_a_rehearsal_of_the_way_has_no_calendar(tmp_path: Path) -> None:
    """It is over at once."""
    job = vase_ran(tmp_path, CONFIG)
    words = ("--rehearse", "--calendar", job / "rest.ics", "--start", "9:00")
    result = resume(job, "--from-layer", 9, *words, name="rehearsal")
    assert result.exit_code == 2
    assert "leave --calendar out" in " ".join(result.output.split())
