"""Packed files: what a `.gz`, or a zip with one G-code file in it, holds."""

from __future__ import annotations

import gzip
import io
import tempfile
import threading
import weakref
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath
from typing import IO, cast

from gpost.common.filenames import SLICED, is_sliced
from gpost.common.full import FULL
from gpost.common.plain import shown
from gpost.errors import SourceError
from gpost.read.bounded import copy

MOST_LISTED_BYTES = 1 << 20
"""Of a zip's list of what it holds, which is kept in memory: some ten thousand files."""
MOST_NAMED = 4
"""Files of a zip, or folders, that a sentence names."""
_USUAL = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""Other ways of packing may ask for as much memory as the file says."""
_LOCKED = 0x1
"""Flag of a file in a zip that is encrypted."""
_DAMAGED = (
    *(EOFError, zlib.error, zipfile.BadZipFile, gzip.BadGzipFile),
    *(NotImplementedError, ValueError, LookupError, OverflowError),
)
"""What the standard library raises for a packed file that is cut short or not as it should be."""


class View(io.RawIOBase):
    """An unpacked file, read from its start on."""

    def __init__(self, whole: Unpacked) -> None:
        super().__init__()
        self._whole, self._at = whole, 0

    def seek(self, offset: int, _whence: int = io.SEEK_SET, /) -> int:
        """Go to a byte, counted from the start."""
        self._at = offset
        return offset

    def read(self, size: int = -1, /) -> bytes:
        """So many bytes from there on; fewer, where it ends."""
        data = self._whole.read_at(self._at, size)
        self._at += len(data)
        return data


class Unpacked:
    """What a packed file holds, in a temporary file without a name: it is gone with its last user."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        weakref.finalize(self, _close, file)
        self._lock = threading.Lock()
        """One thread may read ahead while another looks something up."""
        self.size = 0

    def read_at(self, offset: int, size: int) -> bytes:
        """Some bytes; fewer, where it ends."""
        with self._lock:
            self._file.seek(offset)
            return self._file.read(size)

    def view(self) -> View:
        """It as an open file, at its start."""
        return View(self)


def _close(file: IO[bytes]) -> None:
    with suppress(OSError):  # what is no longer wanted need not fit on the disk
        file.close()


def unpacked(path: Path, most_gb: float, *, zipped: bool) -> Unpacked:
    """What a gzip file, or the one G-code file in a zip, holds.

    Raises SourceError if it is damaged, has not one G-code file, or holds more than `most_gb`; OSError.
    """
    name = shown(path.name)
    too_much = (
        f"{name} unpacks to more than {most_gb:g} GB; if it really is a sliced file, raise "
        "`reading: most_piped_gb` in the config"
    )
    found = Unpacked(out := tempfile.TemporaryFile())  # noqa: SIM115 - closed with its last user
    try:
        with _zip_member(path) if zipped else gzip.open(path) as inner:
            copy(cast("IO[bytes]", inner), out, most_gb, too_much)
        out.flush()
    except _DAMAGED as error:
        raise SourceError(f"{name} is damaged or cut short; copy or pack it again") from error
    except OSError as error:
        if error.errno not in FULL:
            raise
        raise SourceError(f"there is no room to unpack {name}; free some space") from error
    found.size = out.tell()
    return found


def pieces_in(folder: Path) -> list[Path]:
    """What has the name of a sliced file in a folder, and zips that hold any; hidden ones aside."""
    seen = [path for path in folder.iterdir() if not path.name.startswith(".")]
    return sorted(path for path in seen if is_sliced(path) or _holds_pieces(path))


def below(folder: Path) -> str:
    """A sentence on sliced files in the folders of a folder, where nobody looks; "" if there are none.

    Folders with records beside their files are what gpost has written, and hidden ones nobody's.
    """
    found = {}
    for path in sorted(folder.iterdir()):
        if path.name.startswith(".") or not path.is_dir() or any(path.glob("*.json")):
            continue
        with suppress(OSError):
            found[path.name] = len(pieces_in(path))
    named = [shown(name) for name, count in found.items() if count]
    if not named:
        return ""
    count = sum(found.values())
    files = "1 sliced file" if count == 1 else f"{count} sliced files"
    more = "" if len(named) <= MOST_NAMED else f" and {len(named) - MOST_NAMED} more"
    where = f"{', '.join(named[:MOST_NAMED])}{more}"
    return f"left out: {files} in folders below it ({where}); do each folder by itself"


def _holds_pieces(path: Path) -> bool:
    if path.suffix.lower() != ".zip" or not path.is_file():
        return False
    try:
        with _Careful(path) as file, zipfile.ZipFile(file) as archive:
            return bool(_pieces(archive))
    except (OSError, *_DAMAGED):
        return False


class _Careful(io.FileIO):
    """A zip that may say anything of where its list stands, and how long it is."""

    def seek(self, offset: int, whence: int = io.SEEK_SET, /) -> int:
        """As of a file. Raises BadZipFile for a place that can't be."""
        try:
            return super().seek(offset, whence)
        except OSError as error:
            if whence != io.SEEK_SET:  # zipfile looks from the end, and knows that there may be too little
                raise
            raise zipfile.BadZipFile from error

    def read(self, size: int | None = -1, /) -> bytes:
        """As of a file. Raises BadZipFile for more than is ever read at once."""
        if size is not None and size > MOST_LISTED_BYTES:
            raise zipfile.BadZipFile
        return super().read(-1 if size is None else size)


@contextmanager
def _zip_member(path: Path) -> Iterator[IO[bytes]]:
    with (
        _Careful(path) as file,
        zipfile.ZipFile(file) as archive,
        archive.open(_only_piece(archive, shown(path.name))) as member,
    ):
        yield member


def _only_piece(archive: zipfile.ZipFile, name: str) -> zipfile.ZipInfo:
    """The one G-code file. Raises SourceError if there is none, or several, or it can't be opened."""
    found = _pieces(archive)
    if not found:
        raise SourceError(f"{name} holds no G-code file ({', '.join(SLICED)}); name the sliced file")
    if len(found) > 1:
        names = ", ".join(shown(PurePosixPath(info.filename).name) for info in found[:MOST_NAMED])
        more = ", ..." if len(found) > MOST_NAMED else ""
        raise SourceError(f"{name} holds {len(found)} G-code files ({names}{more}); unpack it and name one")
    if found[0].flag_bits & _LOCKED:
        raise SourceError(f"{name} is locked with a password; unpack it first")
    if found[0].compress_type not in _USUAL:
        raise SourceError(f"{name} is packed in an unusual way; unpack it first")
    return found[0]


def _pieces(archive: zipfile.ZipFile) -> list[zipfile.ZipInfo]:
    """Its G-code files, without what hidden files and folders hold."""
    places = [(info, PurePosixPath(info.filename)) for info in archive.infolist() if not info.is_dir()]
    hidden = (".", "__MACOSX")
    return [
        info
        for info, place in places
        if is_sliced(place) and not any(part.startswith(hidden) for part in place.parts)
    ]
