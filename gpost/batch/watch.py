"""Watches a folder: what is new or changed in it is done as by a batch, again and again."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from time import monotonic
from typing import NamedTuple, NoReturn

from gpost.batch.folder import BatchReport, Job, Row, check_folders, check_source, run_batch
from gpost.batch.gone import gone_text
from gpost.batch.record import record_path
from gpost.batch.watched import Look, Watched
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
    changes = _changes()
    say(f"watching {shown(folder)}; Ctrl-C ends it")

    def common() -> list[Path]:
        return [*configs, *(path for steps in job.folders for path in sorted(steps.glob("*.py")))]

    watched, away = Watched(folder, common, settle_s), False
    heard: dict[str, str] = {}
    places = {folder, *job.folders, *(path.parent for path in configs)}
    for _ in _wakes(changes, sorted(places), min(settle_s, LOOK_S), say):
        try:
            look = watched.look(monotonic())
        except OSError as error:
            if not away:
                say(f"{shown(folder)} can't be read ({error.strerror}); waiting until it is there again")
            away = True
            continue
        away = False
        for name in look.gone:
            say(gone_text(name, job.output_folder))
        if look.gone:
            on_gone(look.gone)
        for name in look.unended:
            say(f"{shown(name)} ends in the middle of a line, or is empty; waiting, it may still be written")
        if look.ready:
            _do(folder, job_of, look, processes, _Teller(heard, on_report, say))
    raise AssertionError("the wakes never end")


class _Teller(NamedTuple):
    """Who hears what became of the files."""

    heard: dict[str, str]
    """Why a file can't be done, by its name, as it was said last."""
    on_report: Callable[[BatchReport], None]
    say: Callable[[str], None]


def _do(folder: Path, job_of: Callable[[], Job], look: Look, processes: int | None, teller: _Teller) -> None:
    """Do what is ready. What keeps all of it from being done is said; Ctrl-C is raised again."""
    try:
        job = job_of()
        report = run_batch(folder, job, processes=processes, only=look.ready, apart=True)
    except ConfigError as error:
        then = "if it is no config, save again then what is to be done"
        teller.say(f"nothing is done until this is put right: {error}; {then}")
    except (GpostError, OSError) as error:
        reason = f"{error.filename}: {error.strerror}" if isinstance(error, OSError) else str(error)
        names = ", ".join(map(shown, look.ready))
        teller.say(f"{names} can't be done: {reason}; then save again what is to be done")
    else:
        _tell(folder, job, report, look, teller)
        if report.stopped:
            raise KeyboardInterrupt


def _tell(folder: Path, job: Job, report: BatchReport, look: Look, teller: _Teller) -> None:
    """What became of them: of a file that is as it was, and can't be done for the same reason, nothing."""

    def again(row: Row) -> bool:
        return row.name in look.as_before and teller.heard.get(row.name) == row.reason != ""

    rows = tuple(replace(row, said_before=again(row)) for row in report.rows)
    teller.on_report(replace(report, rows=rows))
    for row in rows:
        teller.heard[row.name] = row.reason
        made = record_path(job.output_folder / row.name).exists()
        if row.result == "failed" and not row.said_before and made:
            teller.say(f"{shown(row.name)}: {shown(job.output_folder)} still has what was made of it before")


def _changes() -> Callable[..., Iterator[object]]:
    """What tells of changes. Raises ConfigError if the package for it is not installed."""
    try:
        from watchfiles import watch as changes
    except ImportError as error:
        raise ConfigError("to watch a folder needs one more package: pip install 'gpost[watch]'") from error
    return changes


def _wakes(
    changes: Callable[..., Iterator[object]],
    places: Sequence[Path],
    at_least_s: float,
    say: Callable[[str], None],
) -> Iterator[None]:
    """Comes whenever something has changed in one of the folders, and after `at_least_s` all the same.

    Raises KeyboardInterrupt at Ctrl-C.
    """
    every_s = max(at_least_s, SOON_S)
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
