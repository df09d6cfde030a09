"""`gpost watch`: a folder of sliced files, done again whenever one of them changes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from time import strftime
from typing import TYPE_CHECKING

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
    pages_option,
    steps_from_option,
    texts_option,
)
from gpost.common.plain import shown

if TYPE_CHECKING:
    from gpost.batch.folder import Job
    from gpost.batch.pages import Pages

TIME = "%H:%M  "
"""What each word begins with."""


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
@pages_option
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
    pages: bool,
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
    from gpost.batch.pages import keeps_pages
    from gpost.batch.watch import watch
    from gpost.batch.words import told
    from gpost.config.load import load_config

    def job_of() -> Job:
        return Job(
            output, load_config(configs.files, studio=configs.studio), folders, overwrite, allow, pages
        )

    def tell(report: BatchReport) -> None:
        with _told():
            if texts:
                write_texts(report, output, overwrite=overwrite)
        with _told():
            if index is not None:
                index.add(report)
        for text in told(report):
            say(text)

    def tell_gone(names: Sequence[str]) -> None:
        if index is not None:
            with _told():
                index.gone(names)

    need_config(configs)
    pages = pages or keeps_pages(output)
    index = _index(folder, job_of(), configs) if pages else None
    watch(
        folder, job_of, configs.named, settle_s=settle_s, processes=jobs, on_report=tell,
        on_gone=tell_gone, say=say,
    )  # fmt: skip


def _index(folder: Path, job: Job, configs: Configs) -> Pages:
    """The pages and their index, for as long as it watches. Raises ConfigError for folders in one another."""
    from gpost.batch.folder import check_folders, check_source
    from gpost.batch.pages import Pages

    check_source(folder)
    check_folders(folder, job.output_folder)
    return Pages(folder, job, configs.named, live=True)


@contextmanager
def _told() -> Iterator[None]:
    """What can't be written is said, and goes on being watched."""
    from gpost.errors import OutputError

    try:
        yield
    except OutputError as error:
        say(str(error))


def say(text: str) -> None:
    """A word behind the time at which it is said; on a terminal its other lines stand below its first one."""
    from gpost.cli.terminal import width
    from gpost.common.layout import laid_out, of_message

    plain, columns, margin = shown(text, keep_newlines=True), width(), strftime(TIME)
    room = None if columns is None else columns - len(margin)
    for line in [plain] if room is None else laid_out(of_message(plain), room).splitlines():
        click.echo(f"{margin}{line}")
        margin = " " * len(margin)
