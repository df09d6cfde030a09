"""What became of a folder of files, as a table."""

from __future__ import annotations

import json
from dataclasses import asdict

from gpost import __version__
from gpost.batch.folder import BatchReport, Row
from gpost.common.plain import shown, storable
from gpost.report.wording import WIDTH, clock, fitted, indented, name_width, named

_NAME_WIDTH = 36


def batch_text(report: BatchReport, width: int = WIDTH) -> str:
    """The table, as wide as the terminal, and a line that counts the results."""
    letters = name_width(_NAME_WIDTH, width)
    lines = [
        f"{'file':<{letters}} {'result':<9} {'layers':>6} {'ml':>7} {'h:mm':>6} {'pauses':>6} {'warn':>4}"
    ]
    lines += [_row(row, letters) for row in report.rows]
    counts = [f"{number} {word}" for word, number in _counts(report).items()]
    lines.append(f"{len(report.rows)} of {report.total} files: {', '.join(counts)}")
    return "\n".join([*lines, ""])


def done_text(report: BatchReport) -> str:
    """A line for each file that was done, and one for those that were already; "" if there is neither."""
    lines = [
        f"{shown(row.name)}: done, {row.layers} layers, {row.clay_ml:.0f} ml, {clock(row.time_s)} h, "
        f"{row.pauses} pause{'s' * (row.pauses != 1)}"
        for row in report.rows
        if row.result == "done"
    ]
    same = [shown(row.name) for row in report.rows if row.result == "unchanged"]
    if same:
        lines.append(f"{same[0] if len(same) == 1 else f'{len(same)} files'}: done already, and unchanged")
    return "".join(f"{line}\n" for line in lines)


def reasons_text(report: BatchReport) -> str:
    """Why files were skipped or failed, one line a file; "" if none was, or all of it has been said."""
    told = [row for row in report.rows if row.reason and not row.said_before]
    return "".join(f"{shown(named(row.name, row.reason))}\n" for row in told)


def warnings_text(report: BatchReport) -> str:
    """What the files are warned of, one paragraph each; "" if none is."""
    lines: list[str] = []
    for row in report.rows:
        lines += [line for text in row.warned for line in indented(f"{shown(row.name)}: {shown(text)}")]
        if row.warnings > len(row.warned):
            lines.append(f"{shown(row.name)}: and {row.warnings - len(row.warned)} more, in its record")
    return "".join(f"{line}\n" for line in lines)


def ending_text(report: BatchReport) -> str:
    """Why it ended before all files were looked at; "" if it didn't."""
    if report.stopped:
        return "Error: stopped; the files that are done stay done, nothing is half-written\n"
    if report.broken:
        return (
            f"Error: {report.broken}. {report.ready} of {report.total} files are done, nothing is "
            "half-written; the same command does the rest\n"
        )
    return ""


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


def _row(row: Row, letters: int) -> str:
    name = fitted(shown(row.name), letters)
    if row.result in ("skipped", "failed"):
        return f"{name:<{letters}} {row.result}"
    return (
        f"{name:<{letters}} {row.result:<9} {row.layers:>6} {row.clay_ml:>7.0f} "
        f"{clock(row.time_s):>6} {row.pauses:>6} {row.warnings:>4}"
    )
