"""`gpost batch`: a folder of sliced files."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from gpost.cli.options import (
    OUT_PATH,
    Configs,
    allow_option,
    config_option,
    jobs_option,
    need_config,
    overwrite_option,
    pages_option,
    steps_from_option,
    texts_option,
)


@click.command("batch", short_help="Do a folder of sliced files.")
@click.argument("folder", type=click.Path(path_type=Path))
@config_option
@click.option("-o", "--output", required=True, metavar="FOLDER", type=OUT_PATH)
@jobs_option
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Let the workers of a Dask cluster do the files; all folders must be shared, under the same paths.",
)
@texts_option
@pages_option
@click.option("--json", "as_json", is_flag=True, help="Print the table as JSON, with reasons and warnings.")
@click.option("-q", "--quiet", is_flag=True, help="Say nothing but what is wrong.")
@allow_option
@steps_from_option
@overwrite_option
def command(
    folder: Path,
    configs: Configs,
    output: Path,
    jobs: int | None,
    cluster: str | None,
    texts: bool,
    pages: bool,
    as_json: bool,
    quiet: bool,
    allow: tuple[str, ...],
    folders: tuple[Path, ...],
    overwrite: bool,
) -> None:
    """Do every sliced file in FOLDER that is not done already, and show a table.

    A config of its own may lie beside a file, as for gpost day: vase.yaml is read after the others for
    vase.gcode. The outputs go to another folder under the same names, each with a record beside it. A
    file that can't be done doesn't stop the others; the exit status is then 1.
    """
    from gpost.batch.folder import Job, check_folders, run_batch, write_texts
    from gpost.batch.pages import Pages, keeps_pages
    from gpost.batch.words import batch_json, batch_text, ending_text, gone_texts, reasons_text, warnings_text
    from gpost.cli.failures import INTERRUPTED
    from gpost.cli.progress import bar
    from gpost.cli.streams import say, tell_below
    from gpost.cli.terminal import width
    from gpost.config.load import load_config

    need_config(configs)
    if as_json and quiet:
        raise click.UsageError("--quiet and --json can't go together; leave one out")
    if cluster is not None:
        folder, output, folders = folder.resolve(), output.resolve(), tuple(f.resolve() for f in folders)
    pages = pages or keeps_pages(output)
    loaded = load_config(configs.files, studio=configs.studio)
    job = Job(output, loaded, folders, overwrite, allow, pages)
    if pages:
        check_folders(folder, output)
        index = Pages(folder, job, configs.named)
    with bar("Files") as on_row:
        report = run_batch(folder, job, processes=jobs, cluster=cluster, on_row=on_row, say=_say)
    if as_json:
        say(batch_json(report))
    else:
        say(warnings_text(report, width(err=quiet)), err=quiet)
        say("" if quiet else batch_text(report, width()))
    say(reasons_text(report, width(err=True)), err=True)
    tell_below(folder)
    say(gone_texts(report, output, width(err=True)), err=True)
    say(ending_text(report, width(err=True)), err=True)
    # last: what can't be written hides nothing
    if pages:
        index.add(report)
    if texts:
        write_texts(report, output, overwrite=overwrite)
    bad = report.failed > 0 or report.broken != ""
    click.get_current_context().exit(INTERRUPTED if report.stopped else int(bad))


def _say(text: str) -> None:
    """What is said meanwhile, on a line of its own also where a bar is shown."""
    from gpost.cli.streams import say, tell
    from gpost.cli.terminal import is_terminal

    say("\n" if is_terminal(sys.stderr) else "", err=True)
    tell(text)
