"""Copies what is kept on the disk while it is read, up to a bound: a pipe, and what a packed file holds."""

from __future__ import annotations

from typing import IO

from gpost.errors import SourceError

PART_BYTES = 256 * 1024


def copy(stream: IO[bytes], out: IO[bytes], most_gb: float, too_much: str) -> None:
    """Copy as the data comes: a read that waits for a full buffer would also keep Ctrl-C waiting.

    Raises SourceError with the sentence `too_much` when it is more than it may be: what comes may have no
    end, and the disk has one.
    """
    count = 0
    while data := stream.read1(PART_BYTES):  # type: ignore[attr-defined]
        count += len(data)
        if count > most_gb * 1e9:
            raise SourceError(too_much)
        out.write(data)
