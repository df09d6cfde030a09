"""`gpost explain`: one step with its settings, or a key of the config."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.cli.options import steps_from_option


@click.command("explain", short_help="Say what a step or a key of the config means.")
@click.argument("name", metavar="[STEP or KEY]", required=False)
@steps_from_option
def command(name: str | None, folders: tuple[Path, ...]) -> None:
    """Say what a step does and what each of its settings means, or what a KEY of the config does.

    KEY is such as machine, machine.air or line_ml. Without a name: what there is to ask for.
    """
    from gpost.steps.manager import build_manager
    from gpost.steps.words import explain_text, overview_text

    registry = build_manager(folders)
    if name is None:
        registry.load_all()
        click.echo(overview_text(registry), nl=False)
    else:
        click.echo(explain_text(registry, name), nl=False)
