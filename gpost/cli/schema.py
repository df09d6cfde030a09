"""`gpost schema`: what an editor needs to know of configs."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import click

from gpost.cli.options import steps_from_option

EXAMPLES = (("gpost.workbook.first", "studio.yaml"), ("gpost.demo", "recipe.yaml"))
"""Files that come with gpost, whose values are shown as examples: (package, name)."""


@click.command("schema", short_help="Print the JSON Schema of configs, for editors.")
@click.option("--bands", is_flag=True, help="That of a file of bands (gpost load --bands).")
@steps_from_option
def command(bands: bool, folders: tuple[Path, ...]) -> None:
    """Print the JSON Schema of a config, with every step that there is, so that an editor helps with keys.

    Save it beside your configs (gpost schema > config.schema.json), and begin each of them with the line
    "# yaml-language-server: $schema=config.schema.json", which many editors read.
    """
    from gpost.cli.streams import say
    from gpost.config.yamltree import read_tree, values
    from gpost.steps.manager import build_manager
    from gpost.steps.schema import bands_schema, config_schema

    if bands:
        say(bands_schema())
        return
    registry = build_manager(folders)
    registry.load_all()
    texts = ((name, (files(package) / name).read_text("utf-8")) for package, name in EXAMPLES)
    trees = (read_tree(name, text, []) for name, text in texts)
    say(config_schema(registry, [values(tree) for tree in trees if tree is not None]))
