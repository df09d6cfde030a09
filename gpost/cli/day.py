"""`gpost day`: a folder of sliced files, packed on cartridges and put on the clock."""

from __future__ import annotations

import math
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from gpost.cli.calendaroptions import PAUSE_MIN, Calendar, calendar_options, pause_option, start_option
from gpost.cli.numbers import Number
from gpost.cli.options import (
    OUT_PATH,
    Configs,
    allow_option,
    config_option,
    need_config,
    overwrite_option,
    pages_option,
    steps_from_option,
)
from gpost.cli.terminal import width

if TYPE_CHECKING:
    from gpost.workbook.day.writing import Done
    from gpost.write.inputs import Inputs

NINE_S = 9 * 3600


def _left(_context: click.Context, _option: click.Parameter, text: str | None) -> tuple[str, float] | None:
    """(colour, ml) of `white=300`. Raises click.BadParameter."""
    if text is None:
        return None
    colour, _, ml = text.rpartition("=")
    try:
        found = float(ml)
    except ValueError:
        found = 0.0
    if not colour.strip() or not 0 < found < math.inf:
        raise click.BadParameter(f"{text!r} is no clay with its ml, such as white=300")
    return colour.strip(), found


def _check_together(
    left_ml: float | None,
    first: str | None,
    left: tuple[str, float] | None,
    day: datetime | None,
    calendar_name: str | None,
    pages: bool,
    out: Path | None,
) -> None:
    """Raises click.UsageError for options that don't go together."""
    if left_ml is not None and (first is None or left is not None):
        raise click.UsageError("--left-ml goes with --from, which says the clay; else say --left COLOUR=ML")
    if day is not None and calendar_name is None:
        raise click.UsageError("--date goes with --calendar FILE")
    if pages and out is None:
        raise click.UsageError("--pages goes with -o FOLDER, into which they are written")


def _check_calendar(
    calendar: Path, folder: Path, out: Path | None, inputs: Inputs, *, overwrite: bool
) -> None:
    """Nothing that is read or that the day writes is written over by it. Raises UsageError, GpostError."""
    from gpost.batch.folder import check_folders
    from gpost.write.sink import check_target

    if out is not None:
        check_folders(folder, out)  # it may lie in the folder that is made
        if calendar.parent.resolve() == out.resolve() and calendar.suffix.lower() != ".ics":
            raise click.UsageError("a calendar among the day's files must end in .ics: name it so")
    check_target(calendar, overwrite=overwrite, inputs=inputs)


def _write_calendar(calendar: Calendar, folder: Path, done: Done, *, overwrite: bool) -> None:
    from gpost.cli.streams import write_text
    from gpost.workbook.day.calendar import entries_of_day

    text = calendar.text(folder.resolve(), entries_of_day(done.sheet.events, done.files))
    write_text(str(calendar.path), text, overwrite=overwrite)


@click.command("day", short_help="Pack a folder's pieces on cartridges, and print the day's sheet.")
@click.argument("folder", type=click.Path(path_type=Path))
@config_option
@start_option(None, "When the first cartridge is loaded. Left out: 9:00; with --from when PIECE was due.")
@click.option(
    "--between-min",
    type=Number("minutes", min=0),
    default=10,
    show_default=True,
    help="From the end of a piece to the start of the next: taking off, cleaning, loading.",
)
@pause_option(PAUSE_MIN, "How long the machine waits for you at each pause of a piece.")
@click.option(
    "--time-factor",
    type=Number(min=0.1, max=10),
    default=1,
    show_default=True,
    help="How many times longer pieces take than reckoned; gpost log fit says it.",
)
@click.option("--colours", default="", metavar="A,B,C", help="The order of colours, light to dark.")
@click.option("--fresh", is_flag=True, help="Share a cartridge only while its clay keeps (keeps_min).")
@click.option(
    "-o",
    "--output",
    "out",
    metavar="FOLDER",
    type=OUT_PATH,
    help="Write all files to run, numbered in the order of printing, each with its summary, and the sheet.",
)
@click.option(
    "--from",
    "first",
    metavar="PIECE",
    help="Plan the rest anew: what comes before PIECE is printed already, by the sheet that lies in the "
    "folder of -o, or else by that of the whole day.",
)
@click.option(
    "--left-ml",
    metavar="ML",
    type=Number("ml", min=0, min_open=True),
    help="What the cartridge that is on still holds, its reserve too, of the clay that PIECE begins with; "
    "the hose is full of it.",
)
@click.option("--left", metavar="COLOUR=ML", callback=_left, help="The same of another clay.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@pages_option
@calendar_options("the day's events")
@allow_option
@steps_from_option
@overwrite_option
def command(
    folder: Path,
    configs: Configs,
    start: float | None,
    between_min: float,
    pause_min: float,
    time_factor: float,
    colours: str,
    fresh: bool,
    out: Path | None,
    first: str | None,
    left_ml: float | None,
    left: tuple[str, float] | None,
    as_json: bool,
    pages: bool,
    calendar_name: str | None,
    day: datetime | None,
    allow: tuple[str, ...],
    folders: tuple[Path, ...],
    overwrite: bool,
) -> None:
    """Pack the pieces in FOLDER on cartridges and print the day's sheet; with -o write all files to run.

    A config of its own may lie beside a piece: vase.yaml, read last for vase.gcode. What `gpost check`
    would refuse is left out, with the reason; the exit status is then 1. Without -o nothing is written.
    """
    from gpost.cli.progress import bar
    from gpost.cli.streams import say, tell_below
    from gpost.workbook.day.doing import Task, do_day
    from gpost.workbook.day.pieces import read_pieces
    from gpost.workbook.day.wishes import Wishes
    from gpost.write.inputs import Input, reading

    _check_together(left_ml, first, left, day, calendar_name, pages, out)
    need_config(configs)
    light_first = tuple(colour.strip() for colour in colours.split(",") if colour.strip())
    wishes = Wishes(NINE_S if start is None else start, between_min * 60, pause_min * 60, light_first, fresh)
    with bar("Reading") as progress:
        config, pieces, left_out = read_pieces(
            folder,
            configs.files,
            folders,
            studio=configs.studio,
            allow=allow,
            time_factor=time_factor,
            on_piece=progress,
        )
    tell_below(folder)
    others = [Input("a file of the folder", path) for path in folder.iterdir()]
    inputs = reading(configs=configs.named, folders=folders, others=others)
    if calendar_name is not None:
        _check_calendar(Path(calendar_name), folder, out, inputs, overwrite=overwrite)
    task = Task(folder, out, first, left_ml, left, overwrite, inputs, start is None, pages)
    with bar("Writing") if out is not None else nullcontext() as on_piece:
        done = do_day(pieces, left_out, config, wishes, task, on_piece=on_piece)
    if calendar_name is not None and done.sheet.events:  # RFC 5545, 3.6: no calendar is without events
        calendar = Calendar(Path(calendar_name), day, wishes.start_s, wishes.pause_s)
        _write_calendar(calendar, folder, done, overwrite=overwrite)
    say(done.json if as_json else done.text(width()))
    click.get_current_context().exit(int(bool(done.left_out)))
