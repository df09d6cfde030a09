"""`gpost watch`: a folder of sliced files, done again whenever one of them changes."""

from __future__ import annotations

from pathlib import Path
from time import strftime

import click

from gpost.cli.numbers import Number
from gpost.cli.options import (
    OUT_PATH,
    Configs,
    allow_option,
    config_option,
    jobs_option,
    need_config,
    overwrite_option,
    steps_from_option,
    texts_option,
)
from gpost.common.plain import shown


@click.command("watch", short_help="Do a folder's files, and again whenever one changes.")
@click.argument("folder", type=click.Path(path_type=Path))
@config_option
@click.option("-o", "--output", required=True, metavar="FOLDER", type=OUT_PATH)
@click.option(
    "--settle-s",
    type=Number("seconds", min=0, min_open=True),
    default=2,
    show_default=True,
    help="A file is done when it has not changed for so long; give more where files come slowly.",
)
@jobs_option
@texts_option
@allow_option
@steps_from_option
@overwrite_option
def command(
    folder: Path,
    configs: Configs,
    output: Path,
    settle_s: float,
    jobs: int | None,
    texts: bool,
    allow: tuple[str, ...],
    folders: tuple[Path, ...],
    overwrite: bool,
) -> None:
    """Do every sliced file in FOLDER as gpost batch does, and again whenever it changes, until Ctrl-C.

    A file is done anew when it, the config of its own beside it, one of the other configs or a step of yours
    is new or changed. What is still being written is waited for; a file that can't be done is told, and
    costs the others nothing. What was made of a file that is gone stays.
    """
    from gpost.batch.folder import BatchReport, Job, write_texts
    from gpost.batch.watch import watch
    from gpost.batch.words import done_text, reasons_text, warnings_text
    from gpost.config.load import load_config
    from gpost.errors import OutputError

    def job_of() -> Job:
        return Job(output, load_config(configs.files, studio=configs.studio), folders, overwrite, allow)

    def tell(report: BatchReport) -> None:
        try:
            _beside(report)
        except OutputError as error:
            _say(str(error))
        for text in (warnings_text(report), done_text(report), reasons_text(report)):
            for line in text.splitlines():
                _say(line)

    def _beside(report: BatchReport) -> None:
        """What is written beside the outputs each time: the one place for it."""
        if texts:
            write_texts(report, output, overwrite=overwrite)

    need_config(configs)
    watch(
        folder,
        job_of,
        configs.named,
        settle_s=settle_s,
        processes=jobs,
        on_report=tell,
        say=_say,
    )


def _say(text: str) -> None:
    """A word with the time at which it is said."""
    click.echo(f"{strftime('%H:%M')}  {shown(text, keep_newlines=True)}")
