"""How wide the terminal is: asked here alone, and handed to whatever lays out text."""

from __future__ import annotations

import os
import sys
from typing import TextIO

from gpost.common.columns import NARROWEST, USUAL, WIDEST

_DIGITS = 6
"""More than these are wide enough anyway, and a number of thousands is none that Python reads."""


def width(*, err: bool = False) -> int | None:
    """Columns to fill on standard output, or error; None where that is a file or a pipe.

    COLUMNS, if it is set, goes before what the terminal says (POSIX, 8.3), and says it of an output that is
    none, too. Not of errors: programs that read a line at a time leave it behind for those that they call,
    and whoever reads these by program looks for sentences.
    """
    stream = sys.stderr if err else sys.stdout
    terminal, columns = is_terminal(stream), os.environ.get("COLUMNS", "")
    said = columns.lstrip("0") if columns.isdecimal() else ""
    if said and (terminal or not err):
        return WIDEST if len(said) > _DIGITS else _within(int(said))
    if stream is None or not terminal:
        return None
    try:
        return _within(os.get_terminal_size(stream.fileno()).columns or USUAL)
    except OSError:
        return USUAL


def is_terminal(stream: TextIO | None) -> bool:
    """Whether somebody sees what is written there as it comes; a closed stream is None."""
    return stream is not None and stream.isatty()


def _within(columns: int) -> int:
    return min(max(columns, NARROWEST), WIDEST)
