"""`gpost check`: what is wrong with a sliced file, before anything is printed."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.cli.options import (
    SLICED_FILE,
    Configs,
    allow_option,
    config_option,
    need_config,
    rehearse_option,
    steps_from_option,
)


@click.command("check", short_help="Say what is wrong with a sliced file, line by line.")
@click.argument("file", type=SLICED_FILE)
@config_option
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@allow_option
@steps_from_option
@rehearse_option("Check the rehearsal that `gpost run --rehearse` would write so many mm higher.")
def command(
    file: str,
    configs: Configs,
    as_json: bool,
    allow: tuple[str, ...],
    folders: tuple[Path, ...],
    rehearse_mm: float | None,
) -> None:
    """Say what `gpost run` would say of the sliced FILE with this config; nothing is written.

    FILE may be - for standard input. Errors stop `gpost run`, `batch`, `day` and `load`, unless --allow names
    them; the exit status is then 1. Warnings and notes stop nothing.
    """
    from gpost import calls
    from gpost.cli.progress import file_bar
    from gpost.cli.streams import say, source_file
    from gpost.cli.terminal import width
    from gpost.report.findings import count, findings_json, findings_text

    need_config(configs)
    recipe = calls.read_config(configs.files, studio=configs.studio, steps_from=folders)
    with (
        source_file(file, recipe.config.reading) as source,
        file_bar(source.stat().st_size, "Reading") as progress,
    ):
        found = calls.check(source, recipe, allow=allow, progress=progress, rehearse_mm=rehearse_mm)
    say(findings_json(found, name=file) if as_json else findings_text(found, name=file, width=width()))
    click.get_current_context().exit(int(count(found, "error") > 0))
