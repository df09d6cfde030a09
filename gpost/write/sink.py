"""The output file: complete under its name, or not there at all."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import stat
import tempfile
import threading
import weakref
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, TypeAlias

from gpost.common.full import FULL
from gpost.common.plain import shown
from gpost.common.signals import STOPS, held
from gpost.errors import OutputError
from gpost.write.inputs import NOTHING_READ, SLICED, Inputs

_FORBIDDEN = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})


Around: TypeAlias = Callable[[Path], contextlib.AbstractContextManager[None]]


def nothing_around(_target: Path) -> contextlib.AbstractContextManager[None]:
    """Nothing more is to be done when a file is put in its place."""
    return contextlib.nullcontext()


class AtomicFile:
    """A binary file that appears under its name only when the `with` block ends well.

    It is written beside its place, under a name that starts with `.gpost-`, flushed to the disk and
    renamed. Whatever ends the block early, Ctrl-C too, leaves nothing behind. Without `overwrite` a
    file that has meanwhile taken the name is not replaced; with it, the file's permissions are kept.
    Raises OutputError with a sentence when the place can't be written.
    """

    def __init__(self, path: Path, overwrite: bool = False, around: Around = nothing_around) -> None:
        """`around` is entered with the place, checked and followed, when the file is put there."""
        self._path = path
        self._overwrite = overwrite
        self._around = around

    def __enter__(self) -> BinaryIO:
        self._target = check_target(self._path, overwrite=self._overwrite)
        self._temp = self._target.parent / f".gpost-{os.urandom(8).hex()}"
        # Made before the file is, so that no moment is left at which an interrupt could strand it.
        self._tidy = weakref.finalize(self, self._temp.unlink, missing_ok=True)
        with told(self._target):
            self._file = open(self._temp, "xb")
        return self._file

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                with told(self._target):
                    self._commit()
            elif isinstance(error, OSError) and error.errno in FULL:
                raise OutputError(_sentence(error, self._target)) from error
        finally:
            with contextlib.suppress(OSError):
                self._file.close()
            self._temp.unlink(missing_ok=True)
            self._tidy.detach()  # not before it is gone: a signal may come at any moment

    def _commit(self) -> None:
        self._file.flush()
        os.fsync(self._file.fileno())
        self._file.close()
        with self._around(self._target):
            put_in_place(self._temp, self._target, overwrite=self._overwrite)


@contextlib.contextmanager
def to_disk(file: BinaryIO, name: Path) -> Iterator[None]:
    """Let the disk take what is written by now while something else is done, if it is a plain file.

    Raises OutputError with its name where the disk can't: the system tells that once, and not again when the
    file is finished.
    """
    failed: list[OSError] = []

    def take(handle: int) -> None:
        try:
            os.fsync(handle)
        except OSError as error:
            failed.append(error)

    handle = _plain(file)
    thread = threading.Thread(target=take, args=(handle,), name="gpost-disk")
    try:
        if handle is not None:
            thread.start()
    except RuntimeError:  # the system lets no more threads start
        pass
    try:
        yield
    finally:
        if thread.ident is not None:
            thread.join()
    with told(name):
        if failed:
            raise failed[0]


def _plain(file: BinaryIO) -> int | None:
    """The handle of a plain file; None for a pipe, a device, and what is packed into another file."""
    try:
        handle = file.fileno()
        return handle if stat.S_ISREG(os.fstat(handle).st_mode) else None
    except OSError:
        return None


@contextlib.contextmanager
def work_folder(parent: Path | None = None) -> Iterator[Path]:
    """A folder for what is unfinished, in `parent` or where the system puts such; it is gone afterwards.

    Who is still at work in it, on another machine perhaps, can put nothing into it or out of it then.
    Raises OSError. Only a kill leaves it behind: its name begins with `.gpost-`, and it may be removed.
    """
    with held(*STOPS):
        folder = tempfile.TemporaryDirectory(prefix=".gpost-", dir=parent)
    try:
        yield Path(folder.name)
    finally:
        with held(*STOPS):
            gone = Path(f"{folder.name}-gone")
            with contextlib.suppress(OSError):  # its name is taken away first, and at once
                os.rename(folder.name, gone)
            shutil.rmtree(gone, ignore_errors=True)
            folder.cleanup()


def check_target(
    path: Path, *, overwrite: bool = False, inputs: Inputs = NOTHING_READ, in_place: bool | None = None
) -> Path:
    """The file that writing to `path` would make, links followed; raises OutputError if it may not be.

    Call it for everything that is written, before the work starts. None of the `inputs` may be overwritten,
    but the sliced file `in_place`; None: there is no such choice.
    """
    with told(path):
        target = _followed(path)
        if not target.parent.exists():
            raise OutputError(f"the folder {shown(target.parent)} doesn't exist; make it first")
        if not target.parent.is_dir():
            raise OutputError(f"{shown(target.parent)} is not a folder, so nothing can be put into it")
        if target.exists():
            _check_existing(target, overwrite=overwrite, inputs=inputs, in_place=in_place)
        elif not os.access(target.parent, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    return target


def put_in_place(finished: Path, target: Path, *, overwrite: bool) -> None:
    """Give a finished file of the same disk its name; with `overwrite` it takes over the permissions.

    Raises OutputError if the name is taken and may not be overwritten, or the place can't be written.
    """
    with told(target):
        if overwrite:
            with contextlib.suppress(FileNotFoundError):
                os.chmod(finished, stat.S_IMODE(target.stat().st_mode))
            os.replace(finished, target)
        else:
            _rename_to_free_name(finished, target)
        _sync_folder(target.parent)


def _check_existing(target: Path, *, overwrite: bool, inputs: Inputs, in_place: bool | None) -> None:
    if target.is_dir():
        raise OutputError(f"{shown(target)} is a folder; name a file in it")
    if not target.is_file():
        raise OutputError(f"{shown(target)} is not a plain file; use - for standard output")
    if in_place is not None and inputs.at(target) == SLICED:
        if not in_place:
            raise OutputError(
                f"{shown(target)} is the sliced file itself; choose another name, or say --in-place"
            )
    else:
        inputs.refuse(target)
        if not overwrite:
            raise OutputError(_exists(target))
    if not os.access(target, os.W_OK):
        raise OutputError(f"{shown(target)} is write-protected; choose another name")


def _followed(path: Path) -> Path:
    try:
        return path.resolve()
    except (OSError, RuntimeError) as error:
        raise OutputError(f"{shown(path)} is a link that can't be followed; choose another name") from error


def _exists(target: Path) -> str:
    return f"{shown(target)} exists already; choose another name, or say --overwrite"


def _rename_to_free_name(temp: Path, target: Path) -> None:
    """Give the file its name unless another file has it; raises OutputError then."""
    try:
        os.link(temp, target)
    except FileExistsError as error:
        raise OutputError(_exists(target)) from error
    except OSError as error:  # memory cards often know no hard links
        # Between look and rename another program may take the name. To take it first with an empty file
        # would leave that behind if the card is pulled out just then.
        if os.path.lexists(target):
            raise OutputError(_exists(target)) from error
        os.replace(temp, target)


def _sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut, where the system can do that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def told(target: Path) -> Iterator[None]:
    """Turn the system's errors about that file into sentences."""
    try:
        yield
    except OSError as error:
        raise OutputError(_sentence(error, target)) from error


def _sentence(error: OSError, target: Path) -> str:
    name, folder = shown(target), shown(target.parent)
    if error.errno in FULL:
        return f"there is no room left to write {name}; free some space, or choose another disk"
    if error.errno in _FORBIDDEN:
        return f"nothing may be written in the folder {folder}; choose another, or change its permissions"
    if error.errno == errno.ENAMETOOLONG:
        return f"the name {name} is too long for this disk; choose a shorter one"
    return f"{name} can't be written: {shown(error.strerror or error)}"
