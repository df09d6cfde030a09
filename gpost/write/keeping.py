"""The sliced original, kept beside the file that takes its place."""

from __future__ import annotations

import filecmp
import itertools
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gpost.common.filenames import unpacked_name
from gpost.common.signals import STOPS, held
from gpost.write.sink import put_in_place, told


class Original:
    """Keeps the file that is replaced under a name of its own, `vase.sliced.gcode` for `vase.gcode`.

    Where another file has that name the next is taken, `vase.sliced-2.gcode`, unless that may be overwritten.
    """

    def __init__(self, overwrite: bool) -> None:
        self._overwrite = overwrite
        self.kept: Path | None = None
        """Where it is, once it is kept."""

    @contextmanager
    def keep(self, target: Path) -> Iterator[None]:
        """Keep what is at `target` while the block puts another file there; if that fails nothing is left.

        At any moment the original stands under one of the two names. Raises OutputError.
        """
        with held(*STOPS):
            with told(target):
                made = self._keep(target)
            try:
                yield
            except BaseException:
                if made and self.kept is not None:
                    self.kept.unlink(missing_ok=True)
                raise

    def _keep(self, target: Path) -> bool:
        """Give the original its other name; whether there is a file now that was not there before."""
        for name in kept_names(target):
            there = os.path.lexists(name)
            same = there and name.is_file() and filecmp.cmp(target, name, shallow=False)
            if same and not name.is_symlink():  # a link may lead to the very file that is replaced
                self.kept = name  # from a run that was killed, or from one of the same file
                return False
            if not there or (self._overwrite and name.is_file()):
                _copy(target, name, overwrite=there)
                self.kept = name
                return not there
        raise AssertionError("names are never used up")


def kept_names(target: Path) -> Iterator[Path]:
    """The names for the original, in the order in which they are tried."""
    bare = unpacked_name(target)
    ending = f"{bare.suffix}{target.name[len(bare.name) :]}"
    for number in itertools.count(1):
        more = f"-{number}" if number > 1 else ""
        yield target.with_name(f"{bare.stem}.sliced{more}{ending}")


def _copy(target: Path, name: Path, *, overwrite: bool) -> None:
    """A second name for the same file; on a disk that knows no such thing, a whole copy of it."""
    temp = target.parent / f".gpost-{os.urandom(8).hex()}"
    try:
        try:
            os.link(target, temp)
        except OSError:
            shutil.copy2(target, temp)
            with open(temp, "rb+") as file:
                os.fsync(file.fileno())
        if overwrite:
            os.replace(temp, name)
        else:
            put_in_place(temp, name, overwrite=False)
    finally:
        temp.unlink(missing_ok=True)
