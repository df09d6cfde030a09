"""`gpost calibrate`: from trials at the machine to numbers for the config."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from gpost.clay.water import MEASURED
from gpost.cli.numbers import Number, Whole
from gpost.cli.options import (
    OUT_PATH,
    Configs,
    config_option,
    need_config,
    overwrite_option,
    steps_from_option,
)
from gpost.cli.strengthoptions import strength_options
from gpost.config.typed import read_number

_MODES = {
    "weighings": "--weighing",
    "weighings_file": "--weighings",
    "mornings": "--morning",
    "fillings": "--measure",
    "strip": "--strip",
    "colours": "--colour",
    "tube": "--tube",
    "folds": "--tube-folded",
    "slumps": "--slump",
    "cones": "--cone",
    "dried": "--dried",
    "shrunk": "--shrank",
}

_BY_ITSELF = ("fillings", "cones", "dried", "shrunk")
"""Trials whose numbers say all: no config changes the answer."""
_BY_DENSITY = ("folds", "slumps")
"""Those in which the clay's density counts, and nothing else of the config."""


def _pairs(
    _context: click.Context, _option: click.Parameter, texts: tuple[str, ...]
) -> tuple[tuple[float, float], ...]:
    """Pairs of numbers from `400=1.9`. Raises click.BadParameter."""
    found = (_numbers(text, 2, "pair of numbers, such as 400=1.9") for text in texts)
    return tuple((first, second) for first, second in found)


def _triples(
    _context: click.Context, _option: click.Parameter, texts: tuple[str, ...]
) -> tuple[tuple[float, float, float], ...]:
    """Three numbers each from `100=94=86.5`. Raises click.BadParameter."""
    found = (_numbers(text, 3, "row of three numbers, such as 100=94=86.5") for text in texts)
    return tuple((first, second, third) for first, second, third in found)


def _numbers(text: str, count: int, wanted: str) -> list[float]:
    parts = text.split("=")
    if len(parts) != count:
        raise click.BadParameter(f"{text!r} is no {wanted}")
    try:
        return [read_number(part) for part in parts]
    except ValueError as error:
        raise click.BadParameter(f"{error} (in {text!r}, a {wanted})") from error


@click.command("calibrate", short_help="Turn trials at the machine into numbers for the config.")
@config_option
@click.option(
    "--weighing",
    "weighings",
    callback=_pairs,
    multiple=True,
    metavar="E=GRAMS",
    help="One weighing, typed here: so many units of E gave so many grams; give several.",
)
@click.option(
    "--weighings",
    "weighings_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A file of weighings: a table (E, grams), or a YAML list; those of --weighing count, too.",
)
@click.option(
    "--morning",
    "mornings",
    callback=_pairs,
    multiple=True,
    metavar="E=GRAMS",
    help="Today's clay: one extrusion weighed, or two, gives the day's flow.",
)
@click.option(
    "--measure",
    "fillings",
    callback=_pairs,
    multiple=True,
    metavar="ML=GRAMS",
    help="A measure of so many ml, filled with wet clay, held so many grams; give several.",
)
@click.option(
    "--strip",
    type=OUT_PATH,
    metavar="OUT.gcode",
    help="Write a file that pushes known amounts, to be weighed.",
)
@click.option(
    "--amount-ml",
    type=Number("ml", min=0, min_open=True),
    default=10,
    show_default=True,
    help="With --strip: the first amount.",
)
@click.option(
    "--extrusions",
    type=Whole(min=1, max=20),
    default=4,
    show_default=True,
    help="With --strip: how many; each is one amount more.",
)
@click.option(
    "--cup-mm",
    type=Number("mm", min=0, min_open=True),
    default=60,
    show_default=True,
    help="With --strip: the nozzle's height.",
)
@click.option(
    "--first", multiple=True, metavar="COMMAND", help="With --strip or --tube: a command to send first."
)
@click.option(
    "--colour",
    "colours",
    callback=_pairs,
    multiple=True,
    metavar="BEGAN=ENDED",
    help="Where a change of colour began and ended: ml pushed since it was loaded, or with "
    "--piece heights in mm.",
)
@click.option(
    "--piece",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    metavar="FILE",
    help="With --colour: the sliced file; give the configs it was printed with.",
)
@click.option(
    "--measured",
    type=click.Choice(MEASURED),
    help="With --piece: when its heights were measured; left out: wet, as printed.",
)
@click.option(
    "--drying-percent",
    type=Number("percent", min=0, max=50),
    help="With --measured dry: how much of its height it loses in drying (--shrank says it).",
)
@strength_options
@click.option(
    "--slump",
    "slumps",
    callback=_pairs,
    multiple=True,
    metavar="HEIGHT=SLUMP",
    help="A cylinder of that height in mm sank by so much; only for clay softer than prints.",
)
@click.option(
    "--dried",
    "dried",
    callback=_pairs,
    multiple=True,
    metavar="WET=DRY",
    help="A lump's grams, wet and when nothing more dries off; give several.",
)
@click.option(
    "--dry-density",
    type=Number("g/ml", min=1, min_open=True, max=20),
    metavar="G_ML",
    help="Density of the clay's dry matter itself, without pores (clays: 2.5 to 2.6). With --dried: tell the "
    "wet density too; with --density alone: tell the dry matter and the water of a slip or paste.",
)
@click.option(
    "--shrank",
    "shrunk",
    callback=_triples,
    multiple=True,
    metavar="WET=DRY=FIRED",
    help="The length of a test bar, or between its two marks, in mm: wet, dry and fired; give several.",
)
@click.option(
    "--density",
    type=Number("g/ml", min=1, max=3),
    metavar="G_ML",
    help="Wet density; left out: the config's.",
)
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@steps_from_option
@overwrite_option
def command(**given: Any) -> None:
    """Turn one kind of trial into numbers for the config, and print the lines to put there.

    Weigh what comes out (--weighing, --weighings; --strip writes the file for it; --morning for one of
    today; --measure for the wet density), or watch where a new colour begins and is complete (--colour).
    For the clay's strength print tubes until they fold (--tube writes the file, --tube-folded takes what you
    saw), or let a cone fall (--cone). Dry a lump (--dried) or fire a test bar (--shrank) for the clay's water
    and shrinkage.
    """
    _one_kind(given)
    from gpost.cli.streams import say
    from gpost.cli.terminal import width
    from gpost.workbook.trial.job import Asked, do_trial

    configs: Configs = given.pop("configs")
    _need_config(given, configs)
    given["cone_angle"] = float(given["cone_angle"])
    asked = Asked(configs=configs.files, studio=configs.studio, width=width(), **given)
    say(do_trial(asked))


def _need_config(given: Mapping[str, Any], configs: Configs) -> None:
    """Ask for a config where the answer hangs on it."""
    if any(given[name] for name in _BY_ITSELF):
        return
    if not (given["dry_density"] or any(given[name] for name in _BY_DENSITY)):
        need_config(configs)
    elif given["density"] is None:
        need_config(configs, "clay's density", instead="--density")


def _one_kind(given: Mapping[str, Any]) -> None:
    """Refuse no trial, two kinds, and a dry density where it says nothing. Raises click.UsageError."""
    named = [option for name, option in _MODES.items() if given[name]]
    dense = given["dry_density"] is not None
    if not (named or dense) or len({option.removesuffix("s") for option in named}) > 1:
        raise click.UsageError(
            f"say which trial, and one kind alone: {', '.join(_MODES.values())}, or --dry-density with "
            "--density"
        )
    if dense and named not in ([], ["--dried"]):
        raise click.UsageError("--dry-density goes with --dried, or with --density alone")
    if given["measured"] is not None and given["piece"] is None:
        raise click.UsageError("--measured goes with --colour and --piece: amounts in ml don't shrink")
    if (given["drying_percent"] is not None) != (given["measured"] == "dry"):
        raise click.UsageError(
            "--measured dry needs --drying-percent, which goes with nothing else: measure a bar wet and dry, "
            "and gpost calibrate --shrank WET=DRY=FIRED says it"
        )
    if named == ["--dried"] and given["density"] is not None and not dense:
        raise click.UsageError(
            "--dried tells the water by itself; to hold --density against it give --dry-density"
        )
