"""Watches a folder: what is new or changed in it is done as by a batch, again and again."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from time import monotonic
from typing import NoReturn

from gpost.batch.folder import BatchReport, Job, check_folders, check_source, run_batch
from gpost.batch.record import record_path
from gpost.batch.watched import Watched
from gpost.common.plain import shown
from gpost.errors import ConfigError, GpostError
from gpost.steps.recipe import make_recipe

LOOK_S = 2.0
"""How often it is looked at least: of a folder on another machine changes are not always told."""
SOON_S = 0.05
"""How often it is looked at most."""


def watch(
    folder: Path,
    job_of: Callable[[], Job],
    configs: Sequence[Path],
    *,
    settle_s: float,
    processes: int | None = None,
    on_report: Callable[[BatchReport], None],
    on_gone: Callable[[Sequence[str]], None] = lambda _: None,
    say: Callable[[str], None],
) -> NoReturn:
    """Do what is in the folder, and from then on whatever is new or changed, until Ctrl-C ends it.

    `job_of` reads the job anew, whose `configs` and steps are watched as well. A file is done when it has not
    changed for `settle_s`. `on_report` gets what became of the files each time, `on_gone` the names of
    those that went, `say` sentences. Raises ConfigError as `run_batch` does if all is wrong from the start;
    later that is said, and waited for.
    """
    check_source(folder)
    job = job_of()
    make_recipe(job.loaded, job.folders)
    check_folders(folder, job.output_folder)
    say(f"watching {shown(folder)}; Ctrl-C ends it")

    def common() -> list[Path]:
        return [*configs, *(path for steps in job.folders for path in sorted(steps.glob("*.py")))]

    watched, away = Watched(folder, common, settle_s), False
    places = {folder, *job.folders, *(path.parent for path in configs)}
    for _ in _wakes(sorted(places), min(settle_s, LOOK_S), say):
        try:
            look = watched.look(monotonic())
        except OSError as error:
            if not away:
                say(f"{shown(folder)} can't be read ({error.strerror}); waiting until it is there again")
            away = True
            continue
        away = False
        for name in look.gone:
            say(f"{shown(name)} is gone; what was made of it stays in {shown(job.output_folder)}")
        if look.gone:
            on_gone(look.gone)
        for name in look.unended:
            say(f"{shown(name)} ends in the middle of a line, or is empty; waiting, it may still be written")
        if look.ready:
            _do(folder, job_of, look.ready, processes, on_report, say)
    raise AssertionError("the wakes never end")


def _do(
    folder: Path,
    job_of: Callable[[], Job],
    names: Sequence[str],
    processes: int | None,
    on_report: Callable[[BatchReport], None],
    say: Callable[[str], None],
) -> None:
    """Do these files. What keeps all of them from being done is said; Ctrl-C is raised again."""
    try:
        job = job_of()
        report = run_batch(folder, job, processes=processes, only=names, apart=True)
    except ConfigError as error:
        say(f"nothing is done until this is put right: {error}")
    except (GpostError, OSError) as error:
        reason = f"{error.filename}: {error.strerror}" if isinstance(error, OSError) else str(error)
        say(f"{', '.join(map(shown, names))} can't be done: {reason}; then save again what is to be done")
    else:
        on_report(report)
        for row in report.rows:
            if row.result == "failed" and record_path(job.output_folder / row.name).exists():
                say(f"{shown(row.name)}: {shown(job.output_folder)} still has what was made of it before")
        if report.stopped:
            raise KeyboardInterrupt


def _wakes(places: Sequence[Path], at_least_s: float, say: Callable[[str], None]) -> Iterator[None]:
    """Comes whenever something has changed in one of the folders, and after `at_least_s` all the same.

    Raises ConfigError if the package for it is not installed, KeyboardInterrupt at Ctrl-C.
    """
    every_s = max(at_least_s, SOON_S)
    try:
        from watchfiles import watch as changes
    except ImportError as error:
        raise ConfigError("to watch a folder needs one more package: pip install 'gpost[watch]'") from error
    yield
    try:
        for _ in changes(
            *places,
            watch_filter=None,
            step=round(SOON_S * 1000),
            rust_timeout=round(every_s * 1000),
            yield_on_timeout=True,
            recursive=False,
        ):
            yield
    except (OSError, RuntimeError) as error:
        say(f"the system doesn't tell what changes ({error}); looking every {every_s:g} s instead")
    while True:
        threading.Event().wait(every_s)
        yield
