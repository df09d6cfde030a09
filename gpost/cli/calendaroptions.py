"""Options of the commands that put a job's or a day's events into a calendar file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click

from gpost.cli.numbers import Number
from gpost.cli.options import OUT_NAME, STANDARD
from gpost.common.later import later

if TYPE_CHECKING:
    from gpost.report.calendar import Entry

F = TypeVar("F", bound=Callable[..., Any])
PAUSE_MIN = 5.0
"""How long the machine waits at a visit, if nobody says it."""
_DAY_FIRST = later(r"(0?[1-9]|[12]\d|3[01])\.(0?[1-9]|1[0-2])\.(\d{4})")
_CLOCK = later(r"([01]?\d|2[0-3]):([0-5]\d)")


class Day(click.DateTime):
    """A day of the calendar."""

    name = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime:
        """Its midnight. Raises click.BadParameter that says how to write it."""
        try:
            found: datetime = super().convert(value, param, ctx)
        except click.BadParameter:
            known = _DAY_FIRST.fullmatch(value.strip())
            such = "2026-11-30" if known is None else f"{known[3]}-{known[2]:0>2}-{known[1]:0>2}"
            self.fail(
                f"{value!r} is no day that there is; write year, month, day, such as {such}", param, ctx
            )
        return found


class Calendar(NamedTuple):
    """A calendar file that is asked for."""

    path: Path
    day: datetime | None
    """None: today."""
    start_s: float
    """Seconds after midnight."""
    wait_s: float
    """How long the machine waits at each visit."""

    def text(self, job: Path, entries: Sequence[Entry]) -> str:
        """What stands in it; `job`: the file or folder by which the job is known when it comes again.

        A clock that is changed meanwhile is told.
        """
        from gpost.cli.streams import tell
        from gpost.report.calendar import calendar_text, change_of

        now = datetime.now().astimezone()
        day = (self.day or now).date()
        if change := change_of(day, self.start_s, entries, None):
            tell(change.told())
        return calendar_text(str(job), day, entries, made=now, start_s=self.start_s)


def calendar_options(what: str) -> Callable[[F], F]:
    """`--calendar` and `--date`, as `calendar_name` and `day`; `what` the events are of."""

    def add(command: F) -> F:
        named = click.option(
            "--calendar",
            "calendar_name",
            metavar="FILE",
            type=OUT_NAME,
            callback=_named,
            help=f"Also write {what} as a calendar file (.ics) with alarms; import it on your phone. A later "
            "one takes the place of what was imported.",
        )
        day = click.option(
            "--date",
            "day",
            metavar="YYYY-MM-DD",
            type=Day(["%Y-%m-%d"]),
            help="The day in the calendar file; left out: today.",
        )
        return named(day(command))

    return add


def pause_option(default: float | None, help_text: str) -> Callable[[F], F]:
    """`--pause-min`, as `pause_min`."""
    return click.option(
        "--pause-min",
        type=Number("minutes", min=0),
        default=default,
        show_default=default is not None,
        help=help_text,
    )


def start_option(default: str | None, help_text: str) -> Callable[[F], F]:
    """`--start`, as `start`: seconds after midnight."""
    return click.option(
        "--start",
        default=default,
        show_default=default is not None,
        metavar="H:MM",
        callback=_clock_s,
        help=help_text,
    )


def asked(
    name: str | None, day: datetime | None, start: float | None, pause_min: float | None
) -> Calendar | None:
    """The calendar of one job. Raises click.UsageError for options that don't go together."""
    if name is None:
        if (day, start, pause_min) != (None, None, None):
            raise click.UsageError("--start, --date and --pause-min go with --calendar FILE")
        return None
    if start is None:
        raise click.UsageError("a calendar needs the time at which the print is started: --start 9:00")
    return Calendar(Path(name), day, start, (PAUSE_MIN if pause_min is None else pause_min) * 60)


def _named(_context: click.Context, _option: click.Parameter, name: str | None) -> str | None:
    """Raises click.BadParameter."""
    if name == STANDARD:
        raise click.BadParameter("a calendar needs a file of its own, such as vase.ics")
    return name


def _clock_s(_context: click.Context, _option: click.Parameter, text: str | None) -> float | None:
    """Seconds after midnight. Raises click.BadParameter."""
    if text is None:
        return None
    found = _CLOCK.fullmatch(text)
    if found is None:
        raise click.BadParameter(f"{text!r} is no time of day, such as 9:00 or 14:30")
    return int(found[1]) * 3600 + int(found[2]) * 60
