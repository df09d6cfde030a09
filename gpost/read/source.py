"""Reads the source in chunks of whole lines, the same way in both passes."""

from __future__ import annotations

import io
import os
import zlib
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gpost.common.filenames import is_config
from gpost.common.plain import shown
from gpost.common.records import record
from gpost.config.model import Reading
from gpost.errors import SourceError

if TYPE_CHECKING:
    from gpost.read.packed import Unpacked, View

CHUNK_BYTES = 896 * 1024
"""Small enough for the processor's cache, large enough that a helper thread pays; measured by tests/bench."""
LEAST_CHUNK_BYTES = 384 * 1024
"""No file is cut smaller."""

MOST_LINES = 40_000
"""No chunk has more lines: those of a file of short lines would fill the memory with their columns."""

LONGEST_LINE_BYTES = 1024 * 1024
"""A longer line is no G-code; it bounds memory and time."""

GZIP = b"\x1f\x8b"
ZIP = (b"PK\x03\x04", b"PK\x05\x06")
"""How packed files begin (RFC 1952, section 2.3.1; of the two of a zip the second has nothing in it)."""
_TWICE = "packed twice; unpack it once"
KINDS = {
    GZIP: _TWICE,
    **dict.fromkeys(ZIP, _TWICE),
    b"\xfd7zXZ\x00": "packed (xz); unpack it first",
    b"7z\xbc\xaf\x27\x1c": "packed (7z); unpack it first",
    b"BZh": "packed (bzip2); unpack it first",
    b"\x28\xb5\x2f\xfd": "packed (zstd); unpack it first",
    b"\x89PNG": "a PNG picture, not G-code; name the sliced file",
    b"%PDF": "a PDF document, not G-code; name the sliced file",
}
"""First bytes of files of other kinds, and how a sentence on such a file ends."""


@record(frozen=True)
class Chunk:
    """Whole lines of the source: `data` starts at byte `offset`, at 0-based line `first_line`."""

    data: bytes
    offset: int
    first_line: int

    @cached_property
    def line_ends(self) -> NDArray[np.intp]:
        """Where each line ends in the data: at its newline, or at the end of all; shape (lines,)."""
        newline = np.flatnonzero(np.frombuffer(self.data, np.uint8) == 10)
        return newline if not self.data or self.data.endswith(b"\n") else np.append(newline, len(self.data))

    @property
    def lines(self) -> int:
        """Number of lines."""
        return len(self.line_ends)

    def line(self, line: int) -> bytes:
        """A line of the file, without its newline."""
        at = line - self.first_line
        return self.data[self.size_of(at) : int(self.line_ends[at])]

    def head(self, lines: int) -> Chunk:
        """Its first lines; all of it, if it has no more."""
        if lines >= self.lines:
            return self
        return Chunk(self.data[: self.size_of(lines)], self.offset, self.first_line)

    def rest(self, lines: int) -> Chunk:
        """What comes after its first lines; nothing, if it has no more."""
        size = self.size_of(lines)
        return Chunk(self.data[size:], self.offset + size, self.first_line + min(lines, self.lines))

    def size_of(self, lines: int) -> int:
        """Bytes of its first lines: where the next one starts."""
        if lines >= self.lines:
            return len(self.data)
        return int(self.line_ends[lines - 1]) + 1 if lines else 0


@record(frozen=True, slots=True)
class Stamp:
    """What tells whether a file has changed between the passes."""

    size: int
    modified_ns: int
    inode: int


def stamp(path: Path) -> Stamp:
    """The file's present stamp. Raises SourceError if it can't be read."""
    try:
        found = os.stat(path)
    except OSError as error:
        raise SourceError(f"{shown(path)}: {error.strerror}; check the name and the folder") from error
    return Stamp(found.st_size, found.st_mtime_ns, found.st_ino)


def _even_chunks(size: int) -> int:
    """Bytes of a chunk, so that all chunks are about as long, and a short file has two.

    One is then read while the other is followed, and there is less to follow again up to a pause: a fifth
    off the job on a file of 1 MB, which would else be in chunks of 896 and of 100 KiB.
    """
    return max(-(-size // max(2, -(-size // CHUNK_BYTES))), LEAST_CHUNK_BYTES)


DEFAULT = Reading()


class Source:
    """A sliced file, packed or not, read twice. The second reading must find what the first one found."""

    def __init__(self, path: Path, reading: Reading = DEFAULT, *, chunk_bytes: int | None = None) -> None:
        """Raises SourceError for a file that can't be read, or not be unpacked."""
        self.path = path
        self.stamp = stamp(path)
        self._unpacked = _unpacked(path, reading)
        self.size = self.stamp.size if self._unpacked is None else self._unpacked.size
        """Bytes of the G-code."""
        self.chunk_bytes = chunk_bytes or _even_chunks(self.size)
        self._sums: dict[tuple[int, int], int] = {}
        """CRC of each chunk by offset and size: a file can change and keep its size and time."""

    def chunks(self) -> Iterator[Chunk]:
        """The whole file, chunk by chunk.

        Raises SourceError for a file that can't be read, is empty, is plainly of another kind,
        has a line of more than 1 MiB, or changed while it was read.
        """
        line = offset = 0
        try:
            for data in self._whole_lines():
                chunk = Chunk(data, offset, line)
                if len(data) > LONGEST_LINE_BYTES and self._may_be_long(data):
                    _refuse_long_lines(chunk)
                offset += len(data)
                line += chunk.lines
                for part in _short(chunk):
                    self._sums[part.offset, len(part.data)] = zlib.crc32(part.data)
                    yield part
        except OSError as error:
            raise _unreadable(self.path, error) from error
        if offset == 0:
            raise SourceError(f"{shown(self.path.name)} is empty; slice the piece again")
        self.check_unchanged()

    def _may_be_long(self, data: bytes) -> bool:
        """Whether a line may be too long: most often the first alone, which was begun before."""
        return self.chunk_bytes > LONGEST_LINE_BYTES or data.find(b"\n", 0, LONGEST_LINE_BYTES + 1) < 0

    def _whole_lines(self) -> Iterator[bytes]:
        """The file in parts that end with a newline, but for the last, and for a line that is too long."""
        parts: list[bytes] = []
        size = 0
        with self._open() as file:
            _refuse_other_kinds(file.read(16), self.path)
            file.seek(0)
            while (data := file.read(self.chunk_bytes)) and size <= LONGEST_LINE_BYTES:
                cut = data.rfind(b"\n") + 1
                if cut:
                    yield b"".join((*parts, memoryview(data)[:cut]))
                    parts, size = [], 0
                parts.append(data[cut:])
                size += len(data) - cut
        if size:
            yield b"".join(parts)

    def read_range(self, offset: int, size: int) -> bytes:
        """Some bytes of the source again. Raises SourceError if they are not there any more.

        A chunk must be byte for byte what `chunks` gave.
        """
        try:
            with self._open() as file:
                file.seek(offset)
                data = file.read(size)
        except OSError as error:
            raise _changed(self.path) from error
        crc = zlib.crc32(data)
        if len(data) != size or self._sums.get((offset, size), crc) != crc:
            raise _changed(self.path)
        return data

    def _open(self) -> io.FileIO | View:
        return self.path.open("rb", buffering=0) if self._unpacked is None else self._unpacked.view()

    def check_unchanged(self) -> None:
        """Raise SourceError if the file is no longer what it was when first looked at."""
        if stamp(self.path) != self.stamp:
            raise _changed(self.path)


def _unpacked(path: Path, reading: Reading) -> Unpacked | None:
    try:
        with path.open("rb", buffering=0) as file:
            head = file.read(4)
        if not head.startswith((GZIP, *ZIP)):
            return None
        from gpost.read.packed import unpacked  # few need it, and it takes a while to load

        return unpacked(path, reading.most_piped_gb, zipped=head.startswith(ZIP))
    except OSError as error:
        raise _unreadable(path, error) from error


def _unreadable(path: Path, error: OSError) -> SourceError:
    return SourceError(f"{shown(path)}: {error.strerror}; check that it is a file you may read")


def _short(chunk: Chunk) -> Iterator[Chunk]:
    """The chunk in parts of as many lines as one may have."""
    while chunk.lines > MOST_LINES:
        yield chunk.head(MOST_LINES)
        chunk = chunk.rest(MOST_LINES)
    yield chunk


def _changed(path: Path) -> SourceError:
    return SourceError(f"{shown(path.name)} changed while it was read; run again on the finished file")


def _refuse_other_kinds(head: bytes, path: Path) -> None:
    """Look at the first 16 bytes of the file, and at its name."""
    name = shown(path.name)
    if is_config(path):
        raise SourceError(
            f"{name} is a config, not G-code; name the sliced file there, and the config with -c"
        )
    for magic, said in KINDS.items():
        if head.startswith(magic):
            raise SourceError(f"{name} is {said}")
    even, odd = head[0::2], head[1::2]
    every_second_is_nul = len(head) == 16 and ((all(even) and not any(odd)) or (all(odd) and not any(even)))
    if head.startswith((b"\xff\xfe", b"\xfe\xff")) or every_second_is_nul:
        raise SourceError(f"{name} is saved as UTF-16; save it as plain text (UTF-8) and run again")


def _refuse_long_lines(chunk: Chunk) -> None:
    """Refuse the first line that is too long."""
    length = np.diff(chunk.line_ends, prepend=-1) - 1
    long = np.flatnonzero(length > LONGEST_LINE_BYTES)
    if len(long):
        said = "this line is longer than 1 MiB, so this is no G-code; slice the piece again"
        raise SourceError(said, line=chunk.first_line + int(long[0]))
