"""A progress bar for what takes long, on a terminal only."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeAlias

import click

from gpost.cli.terminal import is_terminal, width
from gpost.common.columns import USUAL

Progress: TypeAlias = Callable[[int, int], None]
"""Called with what is done and what there is to do."""

LONG_BYTES = 5_000_000
MOST_LETTERS = 36
"""Of the bar alone."""
BESIDE_IT = 30
"""Columns for its label, the percent and the time that is left."""


@contextmanager
def file_bar(size_bytes: int, label: str) -> Iterator[Progress | None]:
    """A bar on standard error for a file that takes long; None for a short one, or without a terminal."""
    if size_bytes < LONG_BYTES:
        yield None
    else:
        with bar(label) as progress:
            yield progress


@contextmanager
def bar(label: str) -> Iterator[Progress | None]:
    """A bar on standard error; None if that is no terminal."""
    if not is_terminal(sys.stderr):
        yield None
        return
    with click.progressbar(length=1, label=label, file=sys.stderr, width=bar_letters()) as shown_bar:

        def show(done: int, total: int) -> None:
            shown_bar.length = total
            shown_bar.update(done - shown_bar.pos)

        yield show


def bar_letters() -> int:
    """How long the bar is: as usual, or what the terminal leaves for it."""
    return min(MOST_LETTERS, (width(err=True) or USUAL) - BESIDE_IT)
