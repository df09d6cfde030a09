"""`gpost explain`: one step with its settings, or a key of the config."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.cli.options import steps_from_option


def _names(context: click.Context, _argument: click.Parameter, begun: str) -> list[str]:
    """Names of steps and of keys that files begin with, for a shell that completes them."""
    from gpost.steps.manager import build_manager
    from gpost.steps.words import names_told

    registry = build_manager(context.params.get("folders") or ())
    if context.params.get("folders"):
        registry.load_all()  # a file's name needn't be its step's
    return [name for name in names_told(registry) if name.startswith(begun)]


@click.command("explain", short_help="Say what a step, a key of the config or a finding means.")
@click.argument("name", metavar="[STEP, KEY or FINDING]", required=False, shell_complete=_names)
@steps_from_option
def command(name: str | None, folders: tuple[Path, ...]) -> None:
    """Say what a step does and what each of its settings means, or what a KEY of the config does.

    KEY is such as machine, machine.air or line_ml, FINDING one of gpost check, such as off-slab. Without a
    name: what there is to ask for.
    """
    from gpost.cli.streams import say
    from gpost.cli.terminal import width
    from gpost.errors import ConfigError
    from gpost.guide.findings import finding_text
    from gpost.steps.manager import build_manager
    from gpost.steps.words import explain_text, overview_text

    registry = build_manager(folders)
    if name is None:
        registry.load_all()
        say(overview_text(registry, width()))
    else:
        try:
            say(explain_text(registry, name, width()))
        except ConfigError:
            if not (found := finding_text(name, width())):
                raise
            say(found)
