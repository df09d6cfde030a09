"""What became of a folder of files, as a table."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from gpost import __version__
from gpost.batch.folder import BatchReport, Row
from gpost.batch.gone import gone_text
from gpost.common.layout import Column, Table, laid_out
from gpost.common.plain import shown, storable
from gpost.report.wording import Warned, clock, indented, named, times, warned

_COLUMNS = (
    Column("file", 36, number=False, ends=11),
    Column("result", 9, number=False),
    Column("layers", 6),
    Column("ml", 7, long="clay, ml"),
    Column("h:mm", 6, long="time, h:mm"),
    Column("pauses", 6),
    Column("warn", 4, long="warnings"),
)


def batch_text(report: BatchReport, width: int | None = None) -> str:
    """The table, and a line that counts the results; laid out as `laid_out` does."""
    counts = [f"{number} {word}" for word, number in _counts(report).items()]
    counted = f"{len(report.rows)} of {report.total} files: {', '.join(counts)}"
    return laid_out([Table(_COLUMNS, list(map(_row, report.rows))), counted], width)


def told(report: BatchReport) -> Iterator[str]:
    """What one who watches hears: warnings, which files are done or were already, why others aren't."""
    yield from _warned(report)
    for row in report.rows:
        if row.result == "done":
            yield (
                f"{shown(row.name)}: done, {times(row.layers, 'layer')}, "
                f"{row.clay_ml:.0f} ml, {clock(row.time_s)} h, {times(row.pauses, 'pause')}"
            )
    same = [shown(row.name) for row in report.rows if row.result == "unchanged"]
    if same:
        yield f"{same[0] if len(same) == 1 else f'{len(same)} files'}: done already, and unchanged"
    yield from _reasons(report)


def reasons_text(report: BatchReport, width: int | None = None) -> str:
    """Why files were skipped or failed, a sentence a file; "" if none was, or all of it has been said."""
    return laid_out(_reasons(report), width)


def _reasons(report: BatchReport) -> Iterator[str]:
    return (shown(named(row.name, row.reason)) for row in report.rows if row.reason and not row.said_before)


def gone_texts(report: BatchReport, output_folder: Path, width: int | None = None) -> str:
    """Which outputs have no sliced file any more, a sentence each; "" if all have."""
    return laid_out(
        (part for name in report.gone for part in indented(gone_text(name, output_folder))), width
    )


def warnings_text(report: BatchReport, width: int | None = None) -> str:
    """What the files are warned of, one paragraph each; "" if none is."""
    return laid_out((part for text in _warned(report) for part in indented(text)), width)


def _warned(report: BatchReport) -> Iterator[str]:
    return warned(Warned(row.name, row.warned, row.warnings, "in its record") for row in report.rows)


def ending_text(report: BatchReport, width: int | None = None) -> str:
    """Why it ended before all files were looked at; "" if it didn't."""
    text = ""
    if report.stopped:
        text = "Error: stopped; the files that are done stay done, nothing is half-written"
    elif report.broken:
        text = (
            f"Error: {report.broken}. {report.ready} of {report.total} files are done, nothing is "
            "half-written; the same command does the rest"
        )
    return laid_out([text] if text else [], width)


def batch_json(report: BatchReport) -> str:
    """The same as a JSON document, with the reasons and the warnings, as many as the table's records keep."""
    document = {
        "version": 1,
        "gpost_version": __version__,
        "files": [_row_record(row) for row in report.rows],
        "total": report.total,
        **_counts(report),
        "stopped": report.stopped,
        "broken": report.broken,
        "gone": [storable(name) for name in report.gone],
    }
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _row_record(row: Row) -> dict[str, object]:
    """Without what only one who watches knows."""
    record = {**asdict(row), "name": storable(row.name)}
    del record["said_before"]
    return record


def _counts(report: BatchReport) -> dict[str, int]:
    """Number of files by what became of them."""
    words = ("done", "unchanged", "skipped", "failed")
    return {word: sum(row.result == word for row in report.rows) for word in words}


def _row(row: Row) -> tuple[str, ...]:
    done = row.result not in ("skipped", "failed")
    numbers = (
        f"{row.layers}",
        f"{row.clay_ml:.0f}",
        clock(row.time_s),
        f"{row.pauses}",
        f"{row.warnings}",
    )
    return (shown(row.name), row.result, *(numbers if done else ()))
