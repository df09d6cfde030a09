"""`gpost demo`: a piece to try everything on."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from gpost.cli.numbers import Number
from gpost.cli.options import OUT_PATH, overwrite_option

RECIPES = ("two-colours", "long-piece", "class-folder", "base-on-slab", "level-by-eye")
"""Those of gpost/demo/folder.py, which is loaded when one is made."""


@click.command("demo", short_help="Make a sliced bottle and try everything on it.")
@click.argument("folder", type=OUT_PATH)
@click.option(
    "--size", type=Number("mm", min=80, max=240), metavar="MM", help="Height of the bottle, 80 to 240 mm."
)
@click.option(
    "--twist",
    type=Number("degrees", min=-720, max=720),
    metavar="DEGREES",
    help="Twist from its bottom to its top.",
)
@click.option(
    "--wall",
    type=click.Choice(["rise", "flat"]),
    help="A wall that rises all the way round, or level rings; if left out: rise.",
)
@click.option(
    "--recipe",
    type=click.Choice(RECIPES),
    help="Show one of the recipes that come with gpost, and the studio's file, on a piece that it fits.",
)
@overwrite_option
def command(
    folder: Path,
    size: float | None,
    twist: float | None,
    wall: Literal["rise", "flat"] | None,
    recipe: str | None,
    overwrite: bool,
) -> None:
    """Make a sliced twisted bottle, run the stock recipe on it, and put everything into FOLDER.

    With --recipe FOLDER holds that recipe and a studio's file to copy, which run as they are on the piece
    beside them.
    """
    from gpost.cli.streams import say
    from gpost.cli.terminal import width
    from gpost.demo.folder import make_demo

    if recipe is not None and (size, twist, wall) != (None, None, None):
        raise click.UsageError(
            "--recipe brings a piece of its own; leave out --size, --twist and --wall, which are the bottle's"
        )
    text = make_demo(
        folder,
        recipe=recipe,
        height_mm=size,
        twist_deg=twist,
        wall=wall or "rise",
        overwrite=overwrite,
        width=width(),
    )
    say(text)
