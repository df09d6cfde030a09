"""`gpost resume`: the rest of a print that has stopped."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gpost.cli.calendaroptions import asked, calendar_options, pause_option, start_option
from gpost.cli.numbers import Number, Whole
from gpost.cli.options import (
    OUT_NAME,
    STANDARD,
    allow_option,
    one_to_output,
    overwrite_option,
    page_option,
    read_turns,
    steps_from_option,
)
from gpost.config.typed import read_number
from gpost.errors import ConfigError

OPTIONS = {
    "height_mm": "--from-height",
    "layer": "--from-layer",
    "line": "--from-line",
    "clock_s": "--from-clock",
    "at_mm": "--at",
    "along_mm": "--along",
    "top_mm": "--shift",
    "lost": "--lost",
    "set_on": "--set-on",
    "nozzle_below_mm": "--nozzle-below",
    "left_ml": "--left-ml",
    "left_g": "--left-g",
    "came_ml": "--came-ml",
    "came_g": "--came-g",
    "turned": "--turned",
    "run_out_ml": "--run-out",
    "waited_min": "--waited",
}
"""What each thing that is said is called here."""


if TYPE_CHECKING:
    _Param = click.ParamType[Any]
else:
    _Param = click.ParamType  # before click 8.4 it takes no type


class Clock(_Param):
    """A clock from the start, h:mm or h:mm:ss, in seconds."""

    name = "clock"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Seconds. Raises click.BadParameter."""
        found = re.fullmatch(r"(\d{1,3}):([0-5]\d)(?::([0-5]\d))?", str(value))
        if found is None:
            self.fail(f"{value!r} is no clock; write hours and minutes, as 1:25", param, ctx)
        hours, minutes, seconds = (int(part or 0) for part in found.groups())
        return float(3600 * hours + 60 * minutes + seconds)


class Point(_Param):
    """X,Y in mm."""

    name = "point"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Both numbers. Raises click.BadParameter."""
        try:
            x, y = (read_number(part.strip(), "mm") for part in str(value).split(","))
        except ValueError:
            self.fail(f"{value!r} is no place; write X,Y in mm, as 140,95.5", param, ctx)
        return x, y


@click.command("resume", short_help="Write the file that prints the rest of a stopped print.")
@click.argument("summary", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("-o", "--output", required=True, metavar="OUT", type=OUT_NAME, help="The file to write.")
@click.option("--from-height", "height_mm", type=Number("mm", min=0, min_open=True), metavar="MM",
              help="The measured top, from the bed, a slab counted in.")  # fmt: skip
@click.option("--from-layer", "layer", type=Whole(min=1), metavar="N", help="The first layer to lay.")
@click.option("--from-line", "line", type=Whole(min=1), metavar="N",
              help="The line of the file that was run.")  # fmt: skip
@click.option("--from-clock", "clock_s", type=Clock(), metavar="H:MM",
              help="Machine time since the start of that file, waits left out; an estimate.")  # fmt: skip
@click.option("--at", "at_mm", type=Point(), metavar="X,Y",
              help="With --from-height: where in the turn the bead ends.")  # fmt: skip
@click.option("--along", "along_mm", type=Number("mm", min=0), metavar="MM",
              help="Instead of --at: how much of the turn is laid, from its start.")  # fmt: skip
@click.option("--shift", "top_mm", type=Number("mm", min=0, min_open=True), metavar="MM",
              help="With a layer, line or clock: the measured top where the bead ends; the rest is laid "
              "so much higher or lower.")  # fmt: skip
@click.option("--lost", type=click.Choice(("nothing", "z", "all")), default="nothing", show_default=True,
              help="What the machine doesn't know any more: its height, or all its places, as when it "
              "was switched off.")  # fmt: skip
@click.option("--set-on", type=click.Choice(("rim", "bed")),
              help="With --lost: over what you set the nozzle; left out: the rim.")  # fmt: skip
@click.option("--nozzle-below", "nozzle_below_mm", type=Number("mm", min=0), metavar="MM",
              help="Where nothing is lost: how high the nozzle stands at most, the top at least; else as "
              "high as the file goes.")  # fmt: skip
@click.option("--left-ml", type=Number("ml", min=0), metavar="ML",
              help="Clay in the cartridge that is on, reserve included; left out: as planned.")  # fmt: skip
@click.option("--left-g", type=Number("g", min=0), metavar="G", help="The same, weighed.")
@click.option("--came-ml", type=Number("ml", min=0), metavar="ML",
              help="Clay that this cartridge has given since it was put on or this file began; left out: as "
              "planned.")  # fmt: skip
@click.option("--came-g", type=Number("g", min=0), metavar="G",
              help="The same by weight: what the cartridge has lost.")  # fmt: skip
@click.option("--turned", multiple=True, callback=read_turns, metavar="KNOB=PERCENT@LAYER",
              help="A knob turned by hand while the file ran, and from which layer or height on, such as "
              "flow=110@40 or flow=90@62.5mm; once for each turn.")  # fmt: skip
@click.option("--hose-holds", metavar="CLAY", help="The clay in the hose; left out: as planned.")
@click.option("--run-out", "run_out_ml", type=Number("ml", min=0), metavar="ML",
              help="Clay to run out at the park first; left out: the whole hose if its clay is too old, "
              "else none.")  # fmt: skip
@click.option("--waited", "waited_min", type=Number("minutes", min=0), metavar="MIN",
              help="How long it has stood by the time you let it go.")  # fmt: skip
@click.option("--rehearse", is_flag=True,
              help="Write the way to the place alone, a hand's width above at most, no clay.")  # fmt: skip
@click.option("--json", "json_name", metavar="SUMMARY", type=OUT_NAME, help="Also write the summary as JSON.")
@click.option(
    "--summary", "text_name", metavar="FILE", type=OUT_NAME, help="Also write the summary in words."
)
@calendar_options("every visit and the end of the rest")
@start_option(None, "When you let it go, for the calendar.")
@pause_option(None, "How long the machine waits for you at each visit, for the calendar; left out: 5.")
@page_option
@click.option("-v", "--long", is_flag=True, help="Say all: every change, note and caution.")
@allow_option
@steps_from_option
@overwrite_option
def command(
    summary: Path,
    output: str,
    folders: tuple[Path, ...],
    allow: tuple[str, ...],
    json_name: str | None,
    text_name: str | None,
    calendar_name: str | None,
    day: datetime | None,
    start: float | None,
    pause_min: float | None,
    page_name: str | None,
    long: bool,
    overwrite: bool,
    **said: Any,
) -> None:
    """Write the rest of a print that has stopped, from the SUMMARY (JSON) of its run.

    The sliced file and the configs that it names must be as they were. Say where the bead ends: measure
    the top. Nothing moves before a message and a wait.
    """
    from gpost.cli.streams import say
    from gpost.cli.terminal import width

    _check(said, output, json_name)
    calendar = asked(calendar_name, day, start, pause_min)
    if said["rehearse"] and calendar is not None:
        raise click.UsageError("a rehearsal lays nothing and is soon over; leave --calendar out")
    one_to_output(text_name, page_name)
    from gpost.cli.job import Beside
    from gpost.cli.resumejob import resume_job

    text = resume_job(
        summary, output, said, folders=folders, allow=allow, long=long, overwrite=overwrite,
        beside=Beside(json_name, text_name, page_name, calendar), columns=width(),
    )  # fmt: skip
    say(text, err=STANDARD in (text_name, page_name))


def _check(said: dict[str, Any], output: str, json_name: str | None) -> None:
    """Raise click.UsageError for options that don't go together."""
    from gpost.supply.stopsaid import stopped_as

    try:
        stopped_as(OPTIONS, **said)
    except ConfigError as error:
        raise click.UsageError(str(error)) from error
    if STANDARD in (output, json_name):
        raise click.UsageError("name files to write; a file that moves the machine isn't passed on unseen")
    if said["rehearse"] and "rehearsal" not in Path(output).name.lower():
        raise click.UsageError("a rehearsal must be known by its name at the machine: say `rehearsal` in it")
