"""`gpost steps`: the steps there are."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.cli.options import steps_from_option


@click.command("steps", short_help="List the steps there are.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@steps_from_option
def command(as_json: bool, folders: tuple[Path, ...]) -> None:
    """List the steps that a config can use, where they come from, and those that are broken."""
    from gpost.cli.streams import say
    from gpost.cli.terminal import width
    from gpost.steps.manager import build_manager
    from gpost.steps.words import steps_json, steps_text

    registry = build_manager(folders)
    registry.load_all()
    say(steps_json(registry) if as_json else steps_text(registry, width()))
