"""Standard input and output as files, which can be read twice and are complete or not there."""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

import click

from gpost.cli.options import STANDARD
from gpost.write.sink import AtomicFile, check_target

SPOOL_BYTES = 256 * 1024


@contextmanager
def source_file(name: str) -> Iterator[Path]:
    """The sliced file's path; standard input, or a pipe, is first read into a temporary file."""
    if name != STANDARD and Path(name).is_file():
        yield Path(name)
        return
    with tempfile.TemporaryDirectory(prefix="gpost-") as folder:
        spool = Path(folder) / "standard-input.gcode"
        with AtomicFile(spool) as out:
            if name == STANDARD:
                _spool(sys.stdin.buffer, out)
            else:
                with open(name, "rb") as pipe:
                    _spool(pipe, out)
        yield spool


@contextmanager
def output_file(name: str, *, source: Path, overwrite: bool, in_place: bool) -> Iterator[Path]:
    """The path to write to, checked; for standard output a temporary file, copied out if all went well.

    Raises OutputError with a sentence when the place can't be written.
    """
    if name != STANDARD:
        yield check_target(Path(name), overwrite=overwrite, source=source, in_place=in_place)
        return
    with tempfile.TemporaryDirectory(prefix="gpost-") as folder:
        spool = Path(folder) / "standard-output.gcode"
        yield spool
        _copy_out(spool, sys.stdout.buffer)


def write_text(name: str, text: str, *, overwrite: bool) -> None:
    """Write a text to a file, or to standard output. Raises OutputError as `AtomicFile` does."""
    if name == STANDARD:
        click.echo(text, nl=False)
        return
    with AtomicFile(Path(name), overwrite) as out:
        out.write(text.encode())


def _spool(pipe: BinaryIO, out: BinaryIO) -> None:
    """Copy as the data comes: a read that waits for a full buffer would also keep Ctrl-C waiting."""
    while data := pipe.read1(SPOOL_BYTES):  # type: ignore[attr-defined]
        out.write(data)


def _copy_out(path: Path, stream: BinaryIO) -> None:
    with path.open("rb") as file:
        shutil.copyfileobj(file, stream)
    stream.flush()
