"""What is wrong, in so few words that it fits the small window in which another program shows it."""

from __future__ import annotations

from gpost.common.layout import Paragraph, laid_out
from gpost.common.plain import shown
from gpost.report.model import Summary

WIDTH, LINES = 60, 10
"""Of the message, whatever there is to say."""
MORE = "... `gpost check` in a terminal says all of it."


def brief(text: str, columns: int | None = None) -> str:
    """A message, of which the beginning is kept: LINES lines of WIDTH letters; a longer name stays whole.

    `columns`: those of the terminal, if it is shown on one.
    """
    width = min(columns or WIDTH, WIDTH)
    lines = [line for part in text.splitlines() for line in _folded(part, width) or [""]]
    return "\n".join(lines if len(lines) <= LINES else [*lines[: LINES - 1], *_folded(MORE, width)])


def _folded(text: str, width: int) -> list[str]:
    return laid_out([Paragraph(text)], width).splitlines()


def brief_warnings(summary: Summary, columns: int | None = None) -> str:
    """The summary's warnings in such a message; nothing if there are none."""
    if not summary.warnings:
        return ""
    first = f"{shown(summary.output)} is ready. Look at this first:"
    return brief("\n".join([first, *(f"- {shown(warning)}" for warning in summary.warnings)]), columns) + "\n"
