"""An output that is packed, if its name says so; the same output is packed to the same bytes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import PurePath
from typing import IO, BinaryIO, cast

from gpost.common.filenames import SLICED, is_packed, is_sliced, unpacked_name

LEVEL = 6
"""Of packing: a tenth larger than the most that can be had, in a third of the time."""


@contextmanager
def packed(out: AbstractContextManager[BinaryIO], name: PurePath) -> Iterator[BinaryIO]:
    """The file to write to so that `out` takes it packed as the name says: `.gz`, `.zip`, or not at all."""
    with out as file:
        if not is_packed(name):
            yield file
            return
        with _zipped(file, name) if name.suffix.lower() == ".zip" else _gzipped(file) as inner:
            yield cast("BinaryIO", inner)


def _gzipped(file: BinaryIO) -> AbstractContextManager[IO[bytes]]:
    import gzip  # few need it, and it takes a while to load

    return cast("AbstractContextManager[IO[bytes]]", gzip.GzipFile("", "wb", LEVEL, file, mtime=0))


@contextmanager
def _zipped(file: BinaryIO, name: PurePath) -> Iterator[IO[bytes]]:
    import zipfile

    bare = unpacked_name(name)
    piece = zipfile.ZipInfo(bare.name if is_sliced(bare) else f"{bare.name}{SLICED[0]}")
    piece.compress_type = zipfile.ZIP_DEFLATED
    piece.external_attr = 0o644 << 16
    with (
        zipfile.ZipFile(file, "w", compresslevel=LEVEL) as archive,
        archive.open(piece, "w", force_zip64=True) as member,
    ):
        yield member
