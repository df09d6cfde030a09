"""Standard input and output as files, which can be read twice and are complete or not there."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, TextIO

import click

from gpost.cli.options import STANDARD
from gpost.cli.terminal import width
from gpost.common.layout import laid_out, of_message
from gpost.common.plain import shown
from gpost.config.model import Reading
from gpost.errors import OutputError, SourceError
from gpost.read.bounded import copy
from gpost.write.inputs import ON_STANDARD_INPUT, Input, Inputs
from gpost.write.sink import AtomicFile, check_target, work_folder


@contextmanager
def source_file(name: str, reading: Reading) -> Iterator[Path]:
    """The sliced file's path; what is wrong on a line of it is told with the file's name."""
    try:
        with _source_path(name, reading.most_piped_gb) as path:
            yield path
    except SourceError as error:
        if error.line is None:
            raise
        told = "standard input" if name == STANDARD else shown(name)
        raise SourceError(f"{told}, {error}") from error


@contextmanager
def _source_path(name: str, most_gb: float) -> Iterator[Path]:
    """Standard input, or a pipe, is first read into a temporary file."""
    if name != STANDARD and Path(name).is_file():
        yield Path(name)
        return
    too_much = (
        f"what comes in has more than {most_gb:g} GB and is not at its end; save it as a file and "
        "name that, or raise `reading: most_piped_gb` in the config"
    )
    with work_folder() as folder:
        spool = folder / "standard-input.gcode"
        with AtomicFile(spool) as out:
            if name == STANDARD:
                copy(_buffer(sys.stdin, "input"), out, most_gb, too_much)
            else:
                with open(name, "rb") as pipe:
                    copy(pipe, out, most_gb, too_much)
        yield spool


def piped(name: str) -> list[Input]:
    """What else is read where the name stands for standard input: the file that it comes from, if it does."""
    return [ON_STANDARD_INPUT] if name == STANDARD else []


@contextmanager
def output_file(name: str, *, inputs: Inputs, overwrite: bool, in_place: bool) -> Iterator[Path]:
    """The path to write to, checked; for standard output a temporary file, copied out if all went well.

    Raises OutputError with a sentence when the place can't be written.
    """
    if name != STANDARD:
        yield check_target(Path(name), overwrite=overwrite, inputs=inputs, in_place=in_place)
        return
    stream = _buffer(sys.stdout, "output")
    with work_folder() as folder:
        spool = folder / "standard-output.gcode"
        yield spool
        _copy_out(spool, stream)


def write_text(name: str, text: str, *, overwrite: bool) -> None:
    """Write a text to a file, or to standard output. Raises OutputError as `AtomicFile` does."""
    if name == STANDARD:
        say(text)
        return
    with AtomicFile(Path(name), overwrite) as out:
        out.write(text.encode())


def say(text: str, *, err: bool = False) -> None:
    """A text on standard output or error. Raises OutputError if it can't be put there: a full disk."""
    with _sentences("error" if err else "output"):
        click.echo(text, nl=False, err=err)


def tell(text: str) -> None:
    """A message on standard error, fitted to its terminal."""
    say(laid_out(of_message(text), width(err=True)), err=True)


def tell_below(folder: Path) -> None:
    """How many sliced files lie in folders of a folder, which are left out; nothing where there are none."""
    from gpost.read.packed import below

    if text := below(folder):
        tell(text)


@contextmanager
def _sentences(name: str) -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:  # nobody reads any more, which is no error
        raise
    except OSError as error:
        raise OutputError(f"standard {name} can't be written: {error.strerror}") from error


def _buffer(stream: TextIO | None, name: str) -> BinaryIO:
    """The stream's bytes. Raises OutputError if whoever started the program has closed it."""
    if stream is None:
        raise OutputError(f"standard {name} is closed, so - can't stand for it; name a file")
    return stream.buffer


def _copy_out(path: Path, stream: BinaryIO) -> None:
    with path.open("rb") as file, _sentences("output"):
        shutil.copyfileobj(file, stream)
        stream.flush()
