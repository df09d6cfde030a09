"""What lies in a folder that is watched: which files are new or changed and whole, and which are gone."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple, TypeAlias

from gpost.common.filenames import CONFIG, is_packed, own_config
from gpost.read.packed import pieces_in

Stamp: TypeAlias = tuple[tuple[str, int, int, int], ...]
"""Name, time of change, size, number of each file that a piece is made from; -1 for one that isn't there."""
UNENDED = 5
"""A file whose last line has no end, and an empty one, must stay as it is so many times as long."""


class Look(NamedTuple):
    """What was found: names of sliced files."""

    ready: tuple[str, ...]
    """New or changed, or one of their configs is, and all of it has stayed as it is for long enough."""
    gone: tuple[str, ...]
    unended: tuple[str, ...]
    """Perhaps still being written: told once."""
    as_before: tuple[str, ...] = ()
    """Of those that are ready the ones whose own files are as they were: what all share has changed."""


@dataclass(slots=True)
class _Piece:
    """One sliced file, as it was seen last."""

    stamp: Stamp
    since_s: float
    """When it was first seen like this."""
    done: bool = False
    told: bool = False
    as_before: bool = False
    """Whether it was done before, and only what all share has changed since."""


class Watched:
    """The folder's sliced files, from one look to the next."""

    def __init__(self, folder: Path, common: Callable[[], Iterable[Path]], settle_s: float) -> None:
        """`common`: files that all pieces are made from; `settle_s`: how long a file must stay as it is."""
        self._folder, self._common, self._settle_s = folder, common, settle_s
        self._pieces: dict[str, _Piece] = {}

    def look(self, now_s: float) -> Look:
        """Look at all files; what is ready counts as done from here on. Raises OSError for the folder."""
        paths = {path.name: path for path in pieces_in(self._folder) if not path.is_dir()}
        gone = tuple(name for name in self._pieces if name not in paths)
        for name in gone:
            del self._pieces[name]
        common = tuple(_stamp(path) for path in self._common())
        ready, unended, as_before = [], [], []
        for name, path in paths.items():
            own = own_config(path)
            beside = (own.with_suffix(ending) for ending in CONFIG)
            piece = self._seen(name, (_stamp(path), *map(_stamp, beside)), common, now_s)
            if piece.done or now_s - piece.since_s < self._settle_s:
                continue
            if now_s - piece.since_s >= UNENDED * self._settle_s or _ended(path):
                piece.done = True
                ready.append(name)
                as_before += [name] if piece.as_before else []
            elif not piece.told:
                piece.told = True
                unended.append(name)
        return Look(tuple(ready), gone, tuple(unended), tuple(as_before))

    def _seen(self, name: str, own: Stamp, common: Stamp, now_s: float) -> _Piece:
        piece = self._pieces.get(name)
        if piece is None or piece.stamp != own + common:
            known = piece is not None and piece.stamp[: len(own)] == own and (piece.done or piece.as_before)
            piece = self._pieces[name] = _Piece(own + common, now_s, as_before=known)
        return piece


def _stamp(path: Path) -> tuple[str, int, int, int]:
    try:
        found = path.stat()
    except OSError:
        return str(path), -1, -1, -1
    return str(path), found.st_mtime_ns, found.st_size, found.st_ino


def _ended(path: Path) -> bool:
    """Whether it ends with a whole line; of what is packed or can't be read its reader tells more."""
    if is_packed(path) or not path.is_file():
        return True
    try:
        with path.open("rb") as file:
            if not file.seek(0, os.SEEK_END):
                return False
            file.seek(-1, os.SEEK_END)
            return file.read(1) in b"\r\n"
    except OSError:
        return True
