"""What is wrong, in so few words that it fits the small window in which another program shows it."""

from __future__ import annotations

import textwrap

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
    # a path is not broken, or it can't be copied
    folder = textwrap.TextWrapper(width, break_long_words=False, break_on_hyphens=False)
    lines = [line for part in text.splitlines() for line in folder.wrap(part) or [""]]
    return "\n".join(lines if len(lines) <= LINES else [*lines[: LINES - 1], *folder.wrap(MORE)])


def brief_warnings(summary: Summary, columns: int | None = None) -> str:
    """The summary's warnings in such a message; nothing if there are none."""
    if not summary.warnings:
        return ""
    first = f"{shown(summary.output)} is ready. Look at this first:"
    return brief("\n".join([first, *(f"- {shown(warning)}" for warning in summary.warnings)]), columns) + "\n"
