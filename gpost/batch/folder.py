"""A folder of sliced files, done side by side in processes; one bad file doesn't stop the others."""

from __future__ import annotations

import functools
import os
from collections.abc import Callable, Collection, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from gpost import __version__, words
from gpost.batch import record
from gpost.batch.cluster import in_cluster
from gpost.batch.gone import gone_from
from gpost.batch.pool import in_processes
from gpost.common.filenames import SLICED, is_config, is_packed, is_sliced
from gpost.common.memory import free_failed
from gpost.common.plain import shown
from gpost.common.signals import STOPS, held
from gpost.config.load import LoadedConfig
from gpost.errors import ClusterError, ConfigError, GpostError, OutputError
from gpost.origin import origin_of
from gpost.pipeline import run_file
from gpost.plan.plan import Plan
from gpost.read.packed import pieces_in
from gpost.report.model import Summary
from gpost.report.origin import Print
from gpost.report.text import sheet_text
from gpost.report.wording import MOST_TOLD
from gpost.steps.recipe import Recipe, make_recipe, recipe_of
from gpost.write.inputs import Input, reading
from gpost.write.sink import AtomicFile, put_in_place, work_folder


@dataclass(frozen=True, slots=True)
class Row:
    """What became of one file."""

    name: str
    result: Literal["done", "unchanged", "skipped", "failed"]
    reason: str = ""
    """Why it was skipped or failed, as a sentence."""
    layers: int = 0
    clay_ml: float = 0.0
    time_s: float = 0.0
    pauses: int = 0
    warnings: int = 0
    warned: tuple[str, ...] = ()
    """The first of the warnings, MOST_TOLD of them; the file's record has all."""
    said_before: bool = False
    """Whether whoever watches the folder has heard the same reason, and the file is as it was."""


@dataclass(frozen=True, slots=True)
class BatchReport:
    """What became of a folder."""

    rows: tuple[Row, ...]
    total: int
    stopped: bool = False
    """Ctrl-C came before all `total` files were looked at."""
    broken: str = ""
    """What became of the cluster before that, as a sentence."""
    gone: tuple[str, ...] = ()
    """Outputs that were made of files of the folder which aren't there now; of a whole folder alone."""

    @property
    def failed(self) -> int:
        """Number of files that couldn't be done."""
        return sum(row.result == "failed" for row in self.rows)

    @property
    def ready(self) -> int:
        """Number of files whose output stands in the folder, made now or before."""
        return sum(row.result in ("done", "unchanged") for row in self.rows)


@dataclass(frozen=True, slots=True)
class Job:
    """What all files of a batch have in common; it is sent to every process once."""

    output_folder: Path
    loaded: LoadedConfig
    folders: tuple[Path, ...] = ()
    overwrite: bool = False
    allow: tuple[str, ...] = ()
    """Names of preflight findings that stop nothing."""
    pages: bool = False
    """Whether each file gets its page, beside its output."""


def run_batch(
    source_folder: Path,
    job: Job,
    *,
    processes: int | None = None,
    cluster: str | None = None,
    only: Collection[str] | None = None,
    apart: bool = False,
    on_row: Callable[[int, int], None] | None = None,
    say: Callable[[str], None] | None = None,
) -> BatchReport:
    """Do every sliced file of the folder that is not done already; `on_row` gets (done, total).

    `only`: names of the files to look at, as far as they are there. `apart`: this process does none of them,
    so that none can end it or fill its memory.
    `cluster`: address of a Dask scheduler whose workers see the same folders under the same paths; `say` gets
    what is to be known of it meanwhile.
    Raises ConfigError when the folder, the config or a step is wrong: then no file was looked at. Ctrl-C
    ends it between files or inside them, and leaves no half-written output.
    """
    recipe = make_recipe(job.loaded, job.folders)
    rows, sources = _listed(source_folder, only)
    check_folders(source_folder, job.output_folder)
    total = len(rows) + len(sources)
    count = min(processes or os.cpu_count() or 1, max(len(sources), 1))
    here = count == 1 and not apart
    stopped, broken = False, ""
    # What a process that is killed leaves behind goes with this folder.
    with work_folder(job.output_folder) as work:
        since_ns = work.stat().st_mtime_ns
        try:
            with closing(_results(sources, job, recipe, work, 0 if here else count, cluster, say)) as found:
                for row in found:
                    rows.append(row)
                    if on_row is not None:
                        on_row(len(rows), total)
        except KeyboardInterrupt:
            stopped = True
        except ClusterError as error:
            broken = str(error)
    # from here on nobody can put anything in its place any more
    if stopped or broken:
        rows += _unheard({source.name for source in sources} - {row.name for row in rows}, job, since_ns)
    gone = tuple(gone_from(source_folder, job.output_folder)) if only is None else ()
    return BatchReport(tuple(sorted(rows, key=lambda row: row.name)), total, stopped, broken, gone)


def _results(
    sources: Sequence[Path],
    job: Job,
    recipe: Recipe,
    work: Path,
    processes: int,
    cluster: str | None,
    say: Callable[[str], None] | None,
) -> Generator[Row, None, None]:
    """Rows as they come; no processes: this one does them."""
    prepare = functools.partial(_prepared, job, work)
    if cluster is not None:
        needed = (*(source.parent for source in sources[:1]), work, *job.folders)
        pairs = in_cluster(sources, prepare, cluster, needed=needed, say=say)
    elif processes:
        pairs = in_processes(sources, prepare, processes)
    else:
        yield from (do_file(source, job, recipe, work) for source in sources)
        return
    for source, row in pairs:
        died = "its process died; there may be too little memory for it"
        yield row if row is not None else Row(source.name, "failed", died)


def _unheard(names: set[str], job: Job, since_ns: int) -> Iterator[Row]:
    """Rows for files that were done, or half so, without our hearing of it.

    `since_ns`: when the batch began, by the clock of the outputs' disk.
    """
    for name in names:
        output = job.output_folder / name
        if not _newer(output, since_ns):
            continue
        made = record.read_record(output)
        if made is not None and record.untouched(made, output):
            yield _row("done", output, made)
        else:
            yield Row(name, "failed", "its output is written, but not the record of it; do the batch again")


def _newer(path: Path, since_ns: int) -> bool:
    try:
        return path.stat().st_mtime_ns >= since_ns
    except OSError:
        return False


def _listed(folder: Path, only: Collection[str] | None) -> tuple[list[Row], list[Path]]:
    """Rows for what is passed over, and the files to do, all or some.

    Raises ConfigError if there is none of either; of some, any may have gone meanwhile.
    """
    check_source(folder)
    home = folder.resolve()
    skipped: list[Row] = []
    sources: list[Path] = []
    for path in pieces_in(folder):
        if path.is_dir() or (only is not None and path.name not in only):
            continue
        if path.is_symlink() and not path.exists():
            skipped.append(Row(path.name, "skipped", "it is a link to a file that isn't there"))
        elif path.is_symlink() and not os.path.realpath(path).startswith(f"{home}{os.sep}"):
            skipped.append(Row(path.name, "skipped", "it is a link that leads out of the folder"))
        elif not path.is_file():
            skipped.append(Row(path.name, "skipped", "it is no ordinary file"))
        else:
            sources.append(path)
    if not skipped and not sources and only is None:
        raise ConfigError(f"there is no sliced file ({', '.join(SLICED)}) in {shown(folder)}")
    return skipped, sources


def check_source(folder: Path) -> None:
    """Raise ConfigError if it is no folder."""
    if not folder.is_dir():
        raise ConfigError(f"{shown(folder)} is no folder; name the folder that holds the sliced files")


def check_folders(source_folder: Path, output_folder: Path) -> None:
    """Make the output folder. Raises ConfigError when it can't be one, or is the source's."""
    try:
        output_folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        text = f"the folder {shown(output_folder)} can't be made: {error.strerror}; name another one with -o"
        raise ConfigError(text) from error
    if output_folder.samefile(source_folder):
        raise ConfigError("the outputs need a folder of their own; name another one with -o")


def do_file(source: Path, job: Job, recipe: Recipe, work: Path) -> Row:
    """Do one file, or find that it is done; a failure of any kind becomes a row.

    A config of its own beside it lies over the job's. It is made in the folder `work`, on the output folder's
    disk, and then put in its place.
    """
    row = _tried(source, job, recipe, work)
    if row.result == "failed":
        free_failed()
    return row


def _tried(source: Path, job: Job, recipe: Recipe, work: Path) -> Row:
    try:
        return _done(source, job, recipe_of(source, recipe, job.loaded, job.folders), work)
    except GpostError as error:
        return Row(source.name, "failed", str(error).replace("\n", "; "))
    except OSError as error:
        return Row(source.name, "failed", f"{error.filename}: {error.strerror or error}")
    except Exception as error:
        reason = f"this is a fault of gpost ({type(error).__name__}: {error}); `gpost --trace run` shows more"
        return Row(source.name, "failed", reason)


def _done(source: Path, job: Job, recipe: Recipe, work: Path) -> Row:
    output, wanted = job.output_folder / source.name, recipe.allowing(job.allow)
    _refuse_inputs(source, output, job)
    before, modified_ns, found = (
        record.read_record(output),
        source.stat().st_mtime_ns,
        record.print_of(source),
    )
    ours = record.untouched(before, output)
    known = before is not None and before.origin is not None  # else it can't be gone on with
    same = before is not None and known and ours and record.made_from(before, source, found, wanted)
    if before is not None and same and (not job.pages or record.page_current(before, output)):
        return _row("unchanged", source, before)
    finished, plans = work / source.name, list[Plan]()
    # no helper thread: the processes share the cores already
    summary = run_file(
        source,
        finished,
        recipe.config,
        recipe.steps,
        overwrite=True,
        allow=job.allow,
        helper=False,
        on_plan=plans.append,
    )
    origin = origin_of(source, recipe, state=found, allow=job.allow)
    summary = summary.model_copy(update={"origin": origin})
    page = _page(summary, plans[0], finished) if job.pages else None
    made = record.Made(
        source=found,
        source_modified_ns=modified_ns,
        recipe_sha256=wanted,
        gpost_version=__version__,
        output=record.print_of(finished),
        page=None if page is None else record.print_of(page),
        words_sha256=None if page is None else words.fingerprint(),
    )
    record.write_record(finished, summary, made)
    _put(finished, output, made, before, job)
    return _row("done", source, summary)


def _page(summary: Summary, plan: Plan, output: Path) -> Path:
    """Write the page of an output. What draws it is loaded for this alone."""
    from gpost.page.index import INDEX
    from gpost.page.sheet import page_html

    path = record.page_path(output)
    with AtomicFile(path, overwrite=True) as out:
        out.write(page_html(summary, plan, INDEX).encode())
    return path


def _put(finished: Path, output: Path, made: record.Made, before: record.JobRecord | None, job: Job) -> None:
    """Put what is finished in its place: the output, its page, its record. Raises OutputError."""
    replaces = job.overwrite or record.untouched(before, output) or _stands(output, made.output)
    files = [(finished, output, replaces)]
    if made.page is not None:
        page = record.page_path(output)
        ours = record.page_untouched(before, output) or _stands(page, made.page)
        files.append((record.page_path(finished), page, job.overwrite or ours))
    for _, path, free in files:
        if path.exists() and not free:
            raise OutputError(not_as_written(path))
    with held(*STOPS):
        for made_here, path, free in files:
            put_in_place(made_here, path, overwrite=free)
        put_in_place(record.record_path(finished), record.record_path(output), overwrite=True)


def not_as_written(path: Path) -> str:
    """Why what lies there is not replaced."""
    return f"{shown(path)} exists already and is not as gpost wrote it; move it away, or say --overwrite"


def _refuse_inputs(source: Path, output: Path, job: Job) -> None:
    """Raise OutputError if the output or its record would lie over a file that the batch reads."""
    written = [output, record.record_path(output)]
    written += [record.page_path(output)] if job.pages else []
    places = [path for path in written if path.exists()]
    if places:
        beside = [
            path for path in source.parent.iterdir() if is_sliced(path) or is_packed(path) or is_config(path)
        ]
        others = [Input("a file of the folder", path) for path in beside]
        inputs = reading(source, configs=map(Path, job.loaded.files), folders=job.folders, others=others)
        for place in places:
            inputs.refuse(place)


def _stands(path: Path, made: Print) -> bool:
    """Whether just this stands there already, without its record: an earlier batch was killed just then."""
    return path.is_file() and record.print_of(path) == made


def _row(result: Literal["done", "unchanged"], source: Path, summary: Summary) -> Row:
    return Row(
        source.name,
        result,
        layers=summary.layers,
        clay_ml=summary.clay_ml,
        time_s=summary.time_s,
        pauses=len(summary.pauses),
        warnings=len(summary.warnings),
        warned=summary.warnings[:MOST_TOLD],
    )


def write_texts(report: BatchReport, output_folder: Path, *, overwrite: bool) -> None:
    """Put each done file's summary in words, with its card, beside it: `vase.gcode.txt`.

    Raises OutputError, also where another file has that name, unless it may be overwritten.
    """
    for row in report.rows:
        output = output_folder / row.name
        made = record.read_record(output) if row.result in ("done", "unchanged") else None
        if made is not None:
            text, path = sheet_text(made).encode(), Path(f"{output}.txt")
            ours = path.is_file() and path.read_bytes().partition(b"\n")[0] == text.partition(b"\n")[0]
            with AtomicFile(path, overwrite or ours) as out:
                out.write(text)


def _prepared(job: Job, work: Path) -> Callable[[Path], Row]:
    """What a process does with each file; it reads the steps once."""
    return functools.partial(do_file, job=job, recipe=make_recipe(job.loaded, job.folders), work=work)
