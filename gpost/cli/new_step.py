"""`gpost new-step`: a package to begin a step of one's own with."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.cli.options import OUT_PATH


@click.command("new-step", short_help="Write a package to begin a step of your own with.")
@click.argument("name")
@click.argument("folder", type=OUT_PATH)
def command(name: str, folder: Path) -> None:
    """Write an installable package with the step NAME into FOLDER, with its tests.

    NAME is the step's word in configs, such as glaze-dip. FOLDER must not be there yet, or be empty.
    """
    from gpost.cli.streams import say
    from gpost.cli.terminal import width
    from gpost.steps.manager import build_manager
    from gpost.workbook.newstep import write_package

    say(write_package(name, folder, build_manager(), width()))
