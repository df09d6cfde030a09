"""How wide the terminal is: asked here alone, and handed to whatever lays out text."""

from __future__ import annotations

import os
import sys

from gpost.common.layout import NARROWEST, USUAL, WIDEST


def width(*, err: bool = False) -> int | None:
    """Columns to fill on standard output, or error; None where that is a file or a pipe.

    COLUMNS, if it is set, says it of either, as the manual of shells has it (POSIX, 8.3), and of files too.
    """
    stream = sys.stderr if err else sys.stdout
    columns = os.environ.get("COLUMNS", "")
    if columns.isdecimal() and int(columns):
        return _within(int(columns))
    if stream is None or not stream.isatty():
        return None
    try:
        return _within(os.get_terminal_size(stream.fileno()).columns or USUAL)
    except OSError:
        return USUAL


def _within(columns: int) -> int:
    return min(max(columns, NARROWEST), WIDEST)
