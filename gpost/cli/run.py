"""`gpost run`: one sliced file to the file that is run."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.cli.options import (
    SLICED_FILE,
    STANDARD,
    Configs,
    allow_option,
    config_option,
    overwrite_option,
    say_if_no_config,
    steps_from_option,
)
from gpost.common.plain import shown
from gpost.errors import OutputError


@click.command("run", short_help="Write the file to print from a sliced file.")
@click.argument("file", type=SLICED_FILE)
@config_option
@click.option("-o", "--output", metavar="OUT", help="The file to write; - is standard output.")
@click.option("--in-place", is_flag=True, help="Replace FILE itself instead of writing another.")
@click.option("--json", "json_name", metavar="SUMMARY", help="Also write the summary as JSON; - as above.")
@click.option(
    "--ask-first",
    is_flag=True,
    help="Let the file begin by showing which clay it expects in hose and cartridge, and by waiting.",
)
@allow_option
@steps_from_option
@overwrite_option
def command(
    file: str,
    configs: Configs,
    output: str | None,
    in_place: bool,
    json_name: str | None,
    ask_first: bool,
    allow: tuple[str, ...],
    folders: tuple[Path, ...],
    overwrite: bool,
) -> None:
    """Write the file to print from the sliced FILE, and say what to load and when to be there.

    FILE may be - for standard input. FILE itself is not changed, unless --in-place says so.
    """
    from gpost.cli.job import do_job
    from gpost.cli.streams import say

    target = _target(file, output, in_place, json_name)
    say_if_no_config(configs)
    text = do_job(
        file,
        target,
        configs=configs,
        folders=folders,
        json_name=json_name,
        ask_first=ask_first,
        allow=allow,
        overwrite=overwrite,
        in_place=in_place,
    )
    try:
        say(text, err=STANDARD in (target, json_name))
    except OutputError as error:
        raise OutputError(f"{shown(target)} is complete, but its summary is not: {error}") from error


def _target(file: str, output: str | None, in_place: bool, json_name: str | None) -> str:
    """Where to write. Raises click.UsageError when the options don't go together."""
    if in_place == (output is not None):
        raise click.UsageError("say where to write: either -o OUT or --in-place")
    if in_place and file == STANDARD:
        raise click.UsageError("standard input can't be replaced; say where to write with -o OUT")
    target = output if output is not None else file
    if target == STANDARD == json_name:
        raise click.UsageError("only one thing can go to standard output: name a file with -o or --json")
    if json_name not in (None, STANDARD) and json_name in (target, file):
        raise click.UsageError("the summary needs a file of its own; name another one with --json")
    return target
