"""`gpost run`: one sliced file to the file that is run."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import click

from gpost.cli.calendaroptions import asked, calendar_options, pause_option, start_option
from gpost.cli.options import (
    OUT_NAME,
    SLICED_FILE,
    STANDARD,
    Configs,
    allow_option,
    config_option,
    need_config,
    one_to_output,
    overwrite_option,
    page_option,
    rehearse_option,
    steps_from_option,
)
from gpost.cli.terminal import is_terminal, width
from gpost.common.plain import shown
from gpost.errors import GpostError, OutputError


@click.command("run", short_help="Write the file to print from a sliced file.")
@click.argument("file", type=SLICED_FILE)
@config_option
@click.option("-o", "--output", metavar="OUT", type=OUT_NAME, help="The file to write; - is standard output.")
@click.option(
    "--in-place",
    is_flag=True,
    help="Replace FILE itself instead of writing another, and keep it as NAME.sliced.gcode.",
)
@click.option(
    "--json",
    "json_name",
    metavar="SUMMARY",
    type=OUT_NAME,
    help="Also write the summary as JSON; - as above.",
)
@click.option(
    "--summary",
    "text_name",
    metavar="FILE",
    type=OUT_NAME,
    help="Also write the summary in words, with a card to fill in.",
)
@calendar_options("every visit and the end")
@start_option(None, "When you start the print, for the calendar.")
@pause_option(None, "How long the machine waits for you at each visit, for the calendar; left out: 5.")
@page_option
@click.option(
    "-v", "--long", is_flag=True, help="Say all: every change with its place, every note and caution."
)
@click.option(
    "-q",
    "--quiet",
    is_flag=True,
    help="Say nothing but what is wrong, and that short; with --in-place it is so wherever there is no "
    "terminal.",
)
@click.option(
    "--ask-first",
    is_flag=True,
    help="Let the file begin by showing which clay it expects in hose and cartridge, and by waiting.",
)
@allow_option
@steps_from_option
@overwrite_option
@rehearse_option(
    "Write a rehearsal: the whole path so many mm higher, without clay, heat, air and waits, to see clamps, "
    "hose, park and bed before clay is wasted. OUT must have `rehearsal` in its name."
)
def command(
    file: str,
    configs: Configs,
    output: str | None,
    in_place: bool,
    json_name: str | None,
    text_name: str | None,
    calendar_name: str | None,
    day: datetime | None,
    start: float | None,
    pause_min: float | None,
    page_name: str | None,
    long: bool,
    quiet: bool,
    ask_first: bool,
    allow: tuple[str, ...],
    folders: tuple[Path, ...],
    overwrite: bool,
    rehearse_mm: float | None,
) -> None:
    """Write the file to print from the sliced FILE, and say what to load and when to be there.

    FILE may be - for standard input, and may be packed: a .gz, or a zip with one G-code file. FILE itself is
    not changed, unless --in-place says so; even then what was sliced stays, beside it.
    """
    from gpost.cli.job import Beside, do_job
    from gpost.cli.streams import say

    calendar = asked(calendar_name, day, start, pause_min)
    target = _target(file, output, in_place, json_name, (text_name, page_name))
    if rehearse_mm is not None:
        _check_rehearsal(target, in_place, ask_first, calendar is not None)
    if quiet and long:
        raise click.UsageError("--quiet and --long can't go together; leave one out")
    quiet = quiet or (in_place and not long and not is_terminal(sys.stdout))
    need_config(configs)
    err = quiet or STANDARD in (target, json_name, text_name, page_name)
    with _short(quiet):
        text = do_job(
            file,
            target,
            configs=configs,
            folders=folders,
            beside=Beside(json_name, text_name, page_name, calendar),
            long=long,
            ask_first=ask_first,
            allow=allow,
            overwrite=overwrite,
            in_place=in_place,
            rehearse_mm=rehearse_mm,
            quiet=quiet,
            columns=width(err=err),
        )
    try:
        say(text, err=err)
    except OutputError as error:
        raise OutputError(f"{shown(target)} is complete, but its summary is not: {error}") from error


@contextmanager
def _short(quiet: bool) -> Iterator[None]:
    """What is wrong, in few lines if it is to be quiet: a slicing program shows it in a small window."""
    try:
        yield
    except GpostError as error:
        if quiet:
            from gpost.report.brief import brief

            error.args = (brief(str(error), width(err=True)),)
        raise


def _check_rehearsal(target: str, in_place: bool, ask_first: bool, with_calendar: bool) -> None:
    """A rehearsal is known by its name, which is all that the machine shows. Raises click.UsageError."""
    if ask_first:
        raise click.UsageError("a rehearsal needs no clay and never waits; leave --ask-first out")
    if with_calendar:
        raise click.UsageError("a rehearsal never waits for you; leave --calendar out")
    if in_place:
        raise click.UsageError(
            "a rehearsal can't take the sliced file's place; say where to write with -o OUT"
        )
    if target != STANDARD and "rehearsal" not in Path(target).name.lower():
        name = Path(target)
        better = name.with_name(f"{name.stem}-rehearsal{name.suffix}").name
        raise click.UsageError(
            "a rehearsal must be known by its name at the machine: say `rehearsal` in it, such as "
            f"{shown(better)}"
        )


def _target(
    file: str, output: str | None, in_place: bool, json_name: str | None, others: tuple[str | None, ...]
) -> str:
    """Where to write. Raises click.UsageError when the options don't go together."""
    if in_place == (output is not None):
        raise click.UsageError("say where to write: either -o OUT or --in-place")
    if in_place and file == STANDARD:
        raise click.UsageError("standard input can't be replaced; say where to write with -o OUT")
    target = output if output is not None else file
    one_to_output(target, json_name, *others)
    if json_name not in (None, STANDARD) and json_name in (target, file):
        raise click.UsageError("the summary needs a file of its own; name another one with --json")
    return target
