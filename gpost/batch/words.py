"""What became of a folder of files, as a table."""

from __future__ import annotations

from gpost.batch.folder import BatchReport, Row
from gpost.common.plain import shown
from gpost.report.wording import clock, indented, named

_NAME_WIDTH = 36


def batch_text(report: BatchReport) -> str:
    """The table, 80 characters wide, and a line that counts the results."""
    lines = [
        f"{'file':<{_NAME_WIDTH}} {'result':<9} {'layers':>6} {'ml':>7} {'h:mm':>6} {'pauses':>6} {'warn':>4}"
    ]
    lines += [_row(row) for row in report.rows]
    words = ("done", "unchanged", "skipped", "failed")
    counts = [f"{sum(row.result == word for row in report.rows)} {word}" for word in words]
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


def _row(row: Row) -> str:
    name = shown(row.name)
    if len(name) > _NAME_WIDTH:
        name = f"{name[: _NAME_WIDTH - 15]}...{name[-12:]}"
    if row.result in ("skipped", "failed"):
        return f"{name:<{_NAME_WIDTH}} {row.result}"
    return (
        f"{name:<{_NAME_WIDTH}} {row.result:<9} {row.layers:>6} {row.clay_ml:>7.0f} "
        f"{clock(row.time_s):>6} {row.pauses:>6} {row.warnings:>4}"
    )
