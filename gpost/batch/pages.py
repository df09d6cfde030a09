"""The index of a folder's pages, made anew after each batch."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from gpost.batch.folder import BatchReport, Job, Row, not_as_written
from gpost.batch.record import JobRecord, page_path, page_untouched, read_record
from gpost.common.plain import shown
from gpost.errors import OutputError
from gpost.page.index import INDEX, Index, Piece, index_html, is_as_written, is_index, piece_of
from gpost.report.wording import clock
from gpost.words import say
from gpost.write.inputs import reading
from gpost.write.sink import AtomicFile, check_target, told


def keeps_pages(output_folder: Path) -> bool:
    """Whether pages were asked for before: they are made anew with their files, lest they tell of others."""
    return is_index(output_folder / INDEX)


class Pages:
    """The index of what one batch has made, or one after the other."""

    def __init__(self, folder: Path, job: Job, configs: Sequence[Path] = (), *, live: bool = False) -> None:
        """`folder`: of the sliced files; `live`: it is watched.

        Raises OutputError if there may be no index: something else has its name.
        """
        self._folder, self._output, self._live = folder, job.output_folder, live
        self._path = job.output_folder / INDEX
        inputs = reading(configs=configs, folders=job.folders)
        check_target(self._path, overwrite=job.overwrite or keeps_pages(job.output_folder), inputs=inputs)
        self._overwrite = job.overwrite
        self._refuse_another_s()
        self._rows: dict[str, Row] = {}
        self._gone: set[str] = set()

    def add(self, report: BatchReport) -> None:
        """Take in what became of some files, and write the index. Raises OutputError."""
        self._rows |= {row.name: row for row in report.rows}
        self._gone -= {row.name for row in report.rows}
        self._write()

    def gone(self, names: Iterable[str]) -> None:
        """Files that are there no longer; what was made of them is. Raises OutputError."""
        self._gone |= {*names} & {*self._rows}
        self._write()

    def _write(self) -> None:
        pieces = [self._piece(row) for _, row in sorted(self._rows.items())]
        done = [row for row in self._rows.values() if row.result in ("done", "unchanged")]
        head = say(
            "index.counted",
            ready=len(done),
            failed=len(self._rows) - len(done),
            time=clock(sum(row.time_s for row in done)),
            ml=f"{sum(row.clay_ml for row in done):.0f}",
        )
        title = say("index.folder", folder=shown(self._folder.resolve().name))
        page = index_html(Index(title, head, pieces, live=self._live))
        self._refuse_another_s()
        with AtomicFile(self._path, overwrite=True) as out:
            out.write(page.encode())

    def _refuse_another_s(self) -> None:
        """Raise OutputError where somebody has written into the index: what they wrote would be lost."""
        with told(self._path):
            if not self._overwrite and self._path.exists() and not is_as_written(self._path):
                raise OutputError(not_as_written(self._path))

    def _piece(self, row: Row) -> Piece:
        made = read_record(self._output / row.name)
        if row.result not in ("done", "unchanged") or made is None:
            old = (say("index.old"),) if row.result == "failed" and made is not None else ()
            return Piece(row.name, wrong=row.reason, said=old)
        said = [say("index.gone")] if row.name in self._gone else []
        return piece_of(made, row.name, self._page(row, made), said=said)

    def _page(self, row: Row, made: JobRecord) -> str:
        output = self._output / row.name
        return page_path(output).name if page_untouched(made, output) else ""
