"""`gpost explain`: one step and its settings."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.cli.options import steps_from_option


@click.command("explain", short_help="Say what a step does, with its settings.")
@click.argument("step")
@steps_from_option
def command(step: str, folders: tuple[Path, ...]) -> None:
    """Say what STEP does, and what each of its settings means."""
    from gpost.steps.manager import build_manager
    from gpost.steps.words import explain_text

    click.echo(explain_text(build_manager(folders), step), nl=False)
