"""The record that a batch keeps beside each output: the summary, and what the output was made from."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from pydantic import ValidationError

from gpost import __version__
from gpost.common.filenames import fits
from gpost.common.prints import size_and_sha256
from gpost.report.model import Summary
from gpost.report.origin import Print, Sha256
from gpost.report.parts import Record
from gpost.words import fingerprint
from gpost.write.sink import AtomicFile

SUFFIX = ".gpost.json"
PAGE = ".html"
MOST_BYTES = 1 << 24
"""No record of ours is larger; it bounds memory."""


class Made(Record):
    """What an output was made from, and what it was when it was finished."""

    source: Print
    source_modified_ns: int
    recipe_sha256: Sha256
    """Of the config and the steps."""
    gpost_version: str
    output: Print
    page: Print | None = None
    """Its page as it was when it was finished; null: none was asked for."""
    words_sha256: Sha256 | None = None
    """Of the words that its page is written in; null: it has none, or an earlier gpost has written it."""


class JobRecord(Summary):
    """A summary with its origin."""

    made: Made


def record_path(output: Path) -> Path:
    """The record of `vase.gcode` is `vase.gcode.gpost.json`; a name too long for that is shortened."""
    return _beside(output, SUFFIX)


def page_path(output: Path) -> Path:
    """The page of `vase.gcode` is `vase.gcode.html`, shortened likewise."""
    return _beside(output, PAGE)


def _beside(output: Path, suffix: str) -> Path:
    own, mark = output.name, ""
    while not fits(f"{own}{mark}{suffix}"):
        own, mark = own[:-1], "-" + hashlib.sha256(os.fsencode(output.name)).hexdigest()[:16]
    return output.with_name(f"{own}{mark}{suffix}")


def print_of(path: Path) -> Print:
    """Size and SHA-256 of a file, read in small pieces. Raises OSError."""
    size, sha256 = size_and_sha256(path)
    return Print(size_bytes=size, sha256=sha256)


def read_record(output: Path) -> JobRecord | None:
    """The output's record; None if there is none that can be understood."""
    path = record_path(output)
    try:
        if not path.is_file() or path.stat().st_size > MOST_BYTES:
            return None
        return JobRecord.model_validate_json(path.read_bytes())
    except (OSError, ValidationError):
        return None


def write_record(output: Path, summary: Summary, made: Made) -> None:
    """Put the record beside the output. Raises OutputError."""
    record = JobRecord(**dict(summary), made=made)
    with AtomicFile(record_path(output), overwrite=True) as out:
        out.write(record.model_dump_json(indent=2).encode() + b"\n")


def untouched(record: JobRecord | None, output: Path) -> bool:
    """Whether the output is still what gpost made it."""
    return record is not None and _is(output, record.made.output)


def page_untouched(record: JobRecord | None, output: Path) -> bool:
    """Whether the output has a page, and that is still what gpost made it."""
    return record is not None and record.made.page is not None and _is(page_path(output), record.made.page)


def page_current(record: JobRecord | None, output: Path) -> bool:
    """Whether that page is also in the words of now."""
    return record is not None and record.made.words_sha256 == fingerprint() and page_untouched(record, output)


def _is(path: Path, said: Print) -> bool:
    return path.is_file() and path.stat().st_size == said.size_bytes and print_of(path) == said


def made_from(record: JobRecord, source: Path, source_print: Print, recipe_sha256: str) -> bool:
    """Whether the record is of this very source, recipe and gpost."""
    made = record.made
    return (
        made.gpost_version == __version__
        and made.recipe_sha256 == recipe_sha256
        and made.source_modified_ns == source.stat().st_mtime_ns
        and made.source == source_print
    )
