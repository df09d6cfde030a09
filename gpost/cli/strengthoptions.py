"""Options of `gpost calibrate` for trials of the clay's strength."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import reduce
from typing import Any

import click

from gpost.clay.folds import CONE_FACTORS, PLACES, Fold, Place
from gpost.cli.numbers import Number
from gpost.cli.options import OUT_PATH
from gpost.config.typed import read_number

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

_CLOCK = re.compile(r"(?:(\d{1,2}):(?=[0-5]\d:))?(\d{1,3}):([0-5]\d)")


def _folds(_context: click.Context, _option: click.Parameter, texts: tuple[str, ...]) -> tuple[Fold, ...]:
    """Tubes from `140@9:30@foot`. Raises click.BadParameter."""
    return tuple(_fold(text) for text in texts)


def _fold(text: str) -> Fold:
    height, age, place = [*text.split("@"), "", ""][:3]
    if text.count("@") != 2 or place not in PLACES:
        raise click.BadParameter(
            f"{text!r} is no tube that folded: write its height in mm, the clock since its first turn, and "
            f"where it gave way ({', '.join(PLACES)}), such as 140@9:30@foot"
        )
    found = _CLOCK.fullmatch(age)
    if found is None:
        raise click.BadParameter(f"{age!r} in {text!r} is no clock: write minutes and seconds, such as 9:30")
    try:
        height_mm = read_number(height, "mm")
    except ValueError as error:
        raise click.BadParameter(f"{error} (in {text!r})") from error
    age_s = float(int(found[1] or 0) * 3600 + int(found[2]) * 60 + int(found[3]))
    if not (0 < height_mm <= 10_000 and age_s > 0):
        raise click.BadParameter(f"in {text!r} height and clock must be above 0, and the height in mm")
    known: Place = place
    return Fold(height_mm, age_s, known)


def _depths(_context: click.Context, _option: click.Parameter, texts: tuple[str, ...]) -> tuple[float, ...]:
    try:
        return tuple(read_number(text, "mm") for text in texts)
    except ValueError as error:
        raise click.BadParameter(str(error)) from error


_OPTIONS: tuple[Decorator, ...] = (
    click.option(
        "--tube",
        type=OUT_PATH,
        metavar="OUT.gcode",
        help="Write a file for a plain tube that is printed until it folds.",
    ),
    click.option(
        "--tube-diameter-mm",
        type=Number("mm", min=0, min_open=True),
        help="With --tube: its diameter; left out: ten widths of the bead.",
    ),
    click.option(
        "--rise-mm-min",
        type=Number("mm", min=0.1, max=200),
        default=10,
        show_default=True,
        help="With --tube: how fast it rises.",
    ),
    click.option(
        "--tube-height-mm",
        type=Number("mm", min=0, min_open=True),
        help="With --tube: where it ends at the latest; left out: as high as machine and cartridge go.",
    ),
    click.option(
        "--tube-folded",
        "folds",
        callback=_folds,
        multiple=True,
        metavar="HEIGHT@CLOCK@PLACE",
        help="A tube gave way at that height in mm, at that clock (m:ss since its first turn), at its foot, "
        "in mid-wall (wall), leaning over (leant), or not at all (stood): 140@9:30@foot. Give several, at "
        "two rates of rise or more.",
    ),
    click.option(
        "--cone",
        "cones",
        callback=_depths,
        multiple=True,
        metavar="DEPTH_MM",
        help="A fall cone, let go at the clay's surface, sank in so deep; give several.",
    ),
    click.option(
        "--cone-mass-g",
        type=Number("g", min=1, max=1000),
        default=80,
        show_default=True,
        help="With --cone: its mass, with what falls with it.",
    ),
    click.option(
        "--cone-angle",
        type=click.Choice([f"{angle:g}" for angle in CONE_FACTORS]),
        default="30",
        show_default=True,
        help="With --cone: the angle of its tip, degrees.",
    ),
)


def strength_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """All of them, in this order."""
    return reduce(lambda made, option: option(made), reversed(_OPTIONS), command)
