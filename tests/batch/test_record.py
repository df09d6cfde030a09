"""The record beside an output tells whether the work has to be done again."""

from __future__ import annotations

import os
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest

from gpost import __version__
from gpost.batch import record
from gpost.batch.record import (
    JobRecord,
    Made,
    made_from,
    print_of,
    read_record,
    record_path,
    untouched,
    write_record,
)
from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.report.summary import summarise
from gpost.testing import make_survey
from gpost.write.output import Written

RECIPE = "c" * 64


@pytest.fixture
def source(tmp_path: Path) -> Path:
    path = tmp_path / "vase.gcode"
    path.write_bytes(b"G1 X1\n")
    return path


@pytest.fixture
def output(tmp_path: Path, source: Path) -> Path:
    """An output with its record."""
    path = tmp_path / "out.gcode"
    path.write_bytes(b"G1 X1\nM0\n")
    made = Made(
        source=print_of(source),
        source_modified_ns=source.stat().st_mtime_ns,
        recipe_sha256=RECIPE,
        gpost_version=__version__,
        output=print_of(path),
    )
    summary = summarise(Plan(make_survey(), Config()), Written(9, 2), source=source.name, output=path.name)
    write_record(path, summary, made)
    return path


def current(source: Path, output: Path, recipe: str = RECIPE) -> bool:
    found = read_record(output)
    assert found is not None
    return made_from(found, source, print_of(source), recipe)


def test_print_of_a_file(source: Path) -> None:
    """A file's print is its size and its SHA-256."""
    found = print_of(source)
    assert (found.size_bytes, found.sha256) == (6, sha256(b"G1 X1\n").hexdigest())


def test_record_stands_beside_the_output(output: Path) -> None:
    """The record has the output's name with an ending, and holds the summary."""
    assert record_path(output).name == "out.gcode.gpost.json"
    found = read_record(output)
    assert isinstance(found, JobRecord)
    assert (found.source, found.layers) == ("vase.gcode", 10)


def test_nothing_changed(source: Path, output: Path) -> None:
    """When nothing has changed the record is of this source, and the output is untouched."""
    assert current(source, output)
    assert untouched(read_record(output), output)


def same_size(source: Path) -> None:
    stamp = source.stat().st_mtime_ns
    source.write_bytes(b"G1 X2\n")
    os.utime(source, ns=(stamp, stamp))


def other_time(source: Path) -> None:
    os.utime(source, ns=(1, 1))


def longer(source: Path) -> None:
    source.write_bytes(b"G1 X1\nG1 X2\n")


@pytest.mark.parametrize("change", [same_size, other_time, longer])
def test_changed_source(source: Path, output: Path, change: Callable[[Path], None]) -> None:
    """A source of other content, size or time is another source."""
    change(source)
    assert not current(source, output)


def test_changed_recipe(source: Path, output: Path) -> None:
    """Another recipe makes another output."""
    assert not current(source, output, "d" * 64)


def test_changed_gpost(source: Path, output: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another gpost may make another output."""
    monkeypatch.setattr(record, "__version__", "99.0")
    assert not current(source, output)


def test_output_that_somebody_changed(output: Path) -> None:
    """An output of the same size but other content is not what gpost made."""
    output.write_bytes(b"G1 X9\nM0\n")
    assert not untouched(read_record(output), output)


def test_output_that_is_gone(output: Path) -> None:
    """An output that is not there any more is not untouched."""
    found = read_record(output)
    output.unlink()
    assert not untouched(found, output)


@pytest.mark.parametrize("content", [None, b"", b"{}", b"\xff\xfe", b"[1, 2"])
def test_record_that_cannot_be_understood(output: Path, content: bytes | None) -> None:
    """A record that is missing or damaged counts as none."""
    if content is None:
        record_path(output).unlink()
    else:
        record_path(output).write_bytes(content)
    assert read_record(output) is None
    assert not untouched(read_record(output), output)
