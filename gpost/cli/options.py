"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.preflight.model import ALLOWABLE

SLICED_FILE = click.Path(exists=True, dir_okay=False, allow_dash=True)
STANDARD = "-"
"""Stands for standard input or output."""

config_option = click.option(
    "-c",
    "--config",
    "configs",
    multiple=True,
    metavar="CONFIG",
    type=click.Path(path_type=Path),
    help="A config file; may be given several times, and a later one overrides an earlier one: the "
    "studio first, then the piece.",
)

steps_from_option = click.option(
    "--steps-from",
    "folders",
    multiple=True,
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="A folder of your own steps (*.py); only name one whose code you trust.",
)

overwrite_option = click.option(
    "--overwrite", is_flag=True, help="Replace files of these names that exist already."
)

allow_option = click.option(
    "--allow",
    multiple=True,
    metavar="NAME",
    type=click.Choice(ALLOWABLE),
    help="Go on in spite of what `gpost check` finds under this name; may be given several times.",
)


def say_if_no_config(configs: tuple[Path, ...]) -> None:
    """Tell the potter that gpost's own numbers are used."""
    if not configs:
        click.echo(
            "No config was named (-c): gpost takes its own machine, clay and cartridge, and no steps.",
            err=True,
        )
