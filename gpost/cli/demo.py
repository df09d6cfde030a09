"""`gpost demo`: a piece to try everything on."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from gpost.cli.numbers import Number
from gpost.cli.options import OUT_PATH, overwrite_option


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
    default="rise",
    show_default=True,
    help="A wall that rises all the way round, or level rings.",
)
@overwrite_option
def command(
    folder: Path, size: float | None, twist: float | None, wall: Literal["rise", "flat"], overwrite: bool
) -> None:
    """Make a sliced twisted bottle, run the stock recipe on it, and put everything into FOLDER."""
    from gpost.demo.folder import make_demo

    text = make_demo(folder, height_mm=size, twist_deg=twist, wall=wall, overwrite=overwrite)
    click.echo(text, nl=False)
