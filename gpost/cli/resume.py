"""`gpost resume`: the rest of a print that has stopped."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gpost.cli.calendaroptions import asked, calendar_options, pause_option, start_option
from gpost.cli.numbers import Number, Whole, read_number
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

LONGEST_MIN = 7 * 24 * 60.0
"""A wall that has stood for a week is dry: common practice, no source."""


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
@click.option("--rehearse", "look", is_flag=True,
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
    if said["look"] and calendar is not None:
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
    places = [said[name] is not None for name in ("height_mm", "layer", "line", "clock_s")]
    if sum(places) != 1:
        raise click.UsageError(
            "say where it has stopped, in one way: --from-height, --from-layer, --from-line or --from-clock"
        )
    turn = said["at_mm"] is not None or said["along_mm"] is not None
    if turn and said["height_mm"] is None:
        raise click.UsageError("--at and --along say where in the turn of a --from-height the bead ends")
    if said["at_mm"] is not None and said["along_mm"] is not None:
        raise click.UsageError("say where in the turn the bead ends in one way: --at or --along")
    if said["top_mm"] is not None and said["height_mm"] is not None:
        raise click.UsageError("--from-height is the measured top already; leave --shift out")
    if said["set_on"] is not None and said["lost"] == "nothing":
        raise click.UsageError("--set-on goes with --lost z or --lost all; leave it out, or say what is lost")
    if said["left_ml"] is not None and said["left_g"] is not None:
        raise click.UsageError("say what is left in the cartridge in one way: --left-ml or --left-g")
    told = [said["came_ml"] is not None, said["came_g"] is not None, bool(said["turned"])]
    if sum(told) > 1:
        raise click.UsageError(
            "say how much clay has come in one way: --came-ml, --came-g or --turned; the scales know best"
        )
    left = said["left_ml"] is not None or said["left_g"] is not None
    if left and (said["came_ml"] is not None or said["came_g"] is not None):
        raise click.UsageError(
            "say what is left in the cartridge, or how much has come of it, and not both: the one "
            "follows from the other"
        )
    if (said["waited_min"] or 0.0) > LONGEST_MIN:
        raise click.UsageError(
            f"--waited {said['waited_min']:.4g} minutes is more than a week, and a wall is dry by then: "
            "nothing is laid on it any more; if it is less, write the minutes"
        )
    if STANDARD in (output, json_name):
        raise click.UsageError("name files to write; a file that moves the machine isn't passed on unseen")
    if said["look"] and "rehearsal" not in Path(output).name.lower():
        raise click.UsageError("a rehearsal must be known by its name at the machine: say `rehearsal` in it")
