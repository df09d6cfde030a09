"""Reads the source in chunks of whole lines, the same way in both passes."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from gpost.errors import SourceError

CHUNK_BYTES = 256 * 1024
"""Small enough that a chunk and its columns stay in the processor's cache; measured in tests/bench."""

LONGEST_LINE_BYTES = 64 * 1024 * 1024
"""A longer line is no G-code; it bounds memory."""

KINDS = {b"\x1f\x8b": "gzip", b"PK\x03\x04": "zip", b"\x89PNG": "PNG picture", b"%PDF": "PDF document"}


@dataclass(frozen=True, slots=True)
class Chunk:
    """Whole lines of the source: `data` starts at byte `offset`, at 0-based line `first_line`."""

    data: bytes
    offset: int
    first_line: int
    lines: int


@dataclass(frozen=True, slots=True)
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
        raise SourceError(f"{path}: {error.strerror}; check the name and the folder") from error
    return Stamp(found.st_size, found.st_mtime_ns, found.st_ino)


class Source:
    """A sliced file, read twice. The second reading must find what the first one found."""

    def __init__(self, path: Path, *, chunk_bytes: int = CHUNK_BYTES) -> None:
        self.path = path
        self.chunk_bytes = chunk_bytes
        self.stamp = stamp(path)
        self.fingerprint = ""

    def chunks(self) -> Iterator[Chunk]:
        """The whole file, chunk by chunk; sets `fingerprint` (SHA-256) at its end.

        Raises SourceError for a file that can't be read, is empty, is plainly of another kind,
        has a line of more than 64 MiB, or changed while it was read.
        """
        digest = hashlib.sha256()
        line = offset = 0
        rest = b""
        try:
            with self.path.open("rb", buffering=0) as file:
                while data := file.read(self.chunk_bytes):
                    digest.update(data)
                    if offset == 0 and not rest:
                        _refuse_other_kinds(data, self.path)
                    cut = data.rfind(b"\n") + 1
                    if not cut:
                        rest += data
                        if len(rest) > LONGEST_LINE_BYTES:
                            raise SourceError("this line is longer than 64 MiB; it is no G-code", line=line)
                        continue
                    whole = rest + data[:cut] if rest else data[:cut]
                    rest = data[cut:]
                    count = whole.count(b"\n")
                    yield Chunk(whole, offset, line, count)
                    offset += len(whole)
                    line += count
        except OSError as error:
            raise SourceError(f"{self.path}: {error.strerror}; check that it is a file you may read") from error
        if rest:
            yield Chunk(rest, offset, line, 1)
            offset += len(rest)
        if offset == 0:
            raise SourceError(f"{self.path.name} is empty; slice the piece again")
        self.check_unchanged()
        self.fingerprint = digest.hexdigest()

    def read_range(self, offset: int, size: int) -> bytes:
        """Some bytes of the source again. Raises SourceError if they are not there any more."""
        with self.path.open("rb", buffering=0) as file:
            file.seek(offset)
            data = file.read(size)
        if len(data) != size:
            raise SourceError(f"{self.path.name} changed while it was read; run again on the finished file")
        return data

    def check_unchanged(self) -> None:
        """Raise SourceError if the file is no longer what it was when first looked at."""
        if stamp(self.path) != self.stamp:
            raise SourceError(f"{self.path.name} changed while it was read; run again on the finished file")


def _refuse_other_kinds(data: bytes, path: Path) -> None:
    for magic, kind in KINDS.items():
        if data.startswith(magic):
            raise SourceError(f"{path.name} is a {kind} file, not G-code; unpack it or slice the piece again")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise SourceError(f"{path.name} is saved as UTF-16; save it as plain text (UTF-8) and run again")
