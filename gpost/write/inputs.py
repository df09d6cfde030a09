"""The files that a run reads: nothing that it writes may go over one of them."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from gpost.common.plain import shown
from gpost.common.records import record
from gpost.errors import OutputError

SLICED = "the sliced file"


class Input(NamedTuple):
    """A file that is read, and what it is to the potter."""

    what: str
    file: Path | int
    """A name, or the number of an open file."""


ON_STANDARD_INPUT = Input("the file on standard input", 0)
"""By the number of the file that whoever started the program has opened."""


@record(frozen=True, slots=True)
class Inputs:
    """All files that are read in one run, however they are spelled or linked to."""

    files: tuple[Input, ...] = ()

    def at(self, target: Path) -> str | None:
        """What the file at that place is, if it is one of them; a link stands for what it leads to."""
        try:
            there = os.stat(target)
        except OSError:
            return None
        return next((what for what, stat in self._stats() if os.path.samestat(there, stat)), None)

    def refuse(self, target: Path) -> None:
        """Raise OutputError if that place is one of them, whether it may be overwritten or not."""
        what = self.at(target)
        if what is not None:
            raise OutputError(f"{shown(target)} is {what} that is read here; choose another name to write to")

    def _stats(self) -> Iterator[tuple[str, os.stat_result]]:
        for what, file in self.files:
            try:
                yield what, os.stat(file)
            except OSError:  # it is gone meanwhile, so nothing can lie over it
                continue


NOTHING_READ = Inputs()


def reading(
    source: Path | None = None,
    *,
    configs: Iterable[Path] = (),
    folders: Sequence[Path] = (),
    others: Iterable[Input] = (),
) -> Inputs:
    """What a run reads: the sliced file, its configs, the steps' code in `folders`, and other files."""
    files = [] if source is None else [Input(SLICED, source)]
    files += [Input("a config", config) for config in configs]
    files += [Input("the code of a step", code) for folder in folders for code in folder.glob("*.py")]
    return Inputs((*files, *others))
