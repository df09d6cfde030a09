"""A source that changes while it is read is noticed, whenever and however it changes."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from gpost.errors import OutputError, SourceError
from gpost.pipeline import run_file
from gpost.steps.recipe import Recipe, make_recipe
from tests.config_files import load_files

CHANGED = "changed while it was read; run again on the finished file|No such file|Is a directory"
PASSES = {"first pass": 0.2, "between": 0.5, "second pass": 0.7, "end": 1.0}
"""Parts of both passes that are done when the source changes."""


def grow(path: Path) -> None:
    with path.open("ab") as file:
        file.write(b"G1 X0 Y0 E0\n")


def shrink(path: Path) -> None:
    os.truncate(path, path.stat().st_size - 100)


def empty(path: Path) -> None:
    os.truncate(path, 0)


def replace(path: Path) -> None:
    """By a copy of the same size and time."""
    found = path.stat()
    copy = path.with_name("copy")
    copy.write_bytes(path.read_bytes())
    os.utime(copy, ns=(found.st_atime_ns, found.st_mtime_ns))
    copy.replace(path)


def edit(path: Path) -> None:
    """One digit of the last move that lays clay, and the old time put back."""
    found = path.stat()
    data = bytearray(path.read_bytes())
    at = data.rindex(b"G1 X") + len("G1 X1")
    data[at] = ord("0") + (data[at] - ord("0") + 1) % 10
    with path.open("r+b") as file:
        file.write(data)
    os.utime(path, ns=(found.st_atime_ns, found.st_mtime_ns))


def touch(path: Path) -> None:
    os.utime(path, ns=(0, 0))


def remove(path: Path) -> None:
    path.unlink()


def folder_instead(path: Path) -> None:
    path.unlink()
    path.mkdir()


@pytest.fixture(scope="module")
def recipe(bottle) -> Recipe:
    return make_recipe(load_files({"recipe.yaml": bottle.recipe}))


def run(path: Path, recipe: Recipe, part: float, change: Callable[[Path], None], **options: bool) -> None:
    """Run the pot in its folder; `change` comes once, when a part of both passes is done."""
    waiting = [change]

    def progress(done: int, total: int) -> None:
        if waiting and done >= part * total:
            waiting.pop()(path)

    target = path if options.get("in_place") else path.with_name("out.gcode")
    run_file(path, target, recipe.config, recipe.steps, progress=progress, **options)
    assert not waiting


@pytest.mark.parametrize("part", PASSES.values(), ids=PASSES)
@pytest.mark.parametrize("change", [grow, shrink, empty, replace, touch, remove, folder_instead])
def test_change_is_noticed(shelf, bottle, recipe, change, part) -> None:
    """Grown, cut, replaced, touched or gone, in either pass or between: refused, and nothing is left."""
    bottle.put(shelf)
    with pytest.raises(SourceError, match=CHANGED):
        run(shelf / "pot.gcode", recipe, part, change)
    assert {path.name for path in shelf.iterdir()} <= {"pot.gcode", "recipe.yaml"}


@pytest.mark.parametrize("part", [0.5, 0.6], ids=["between", "second pass"])
def test_edit_that_keeps_size_and_time_is_noticed(shelf, bottle, recipe, part) -> None:
    """Bytes that differ in the second pass are noticed even if size, time and file are the same.

    Without the helper, which may have read them before they were changed: then the output is right.
    """
    bottle.put(shelf)
    with pytest.raises(SourceError, match=CHANGED):
        run(shelf / "pot.gcode", recipe, part, edit, helper=False)
    assert {path.name for path in shelf.iterdir()} == {"pot.gcode", "recipe.yaml"}


@pytest.mark.parametrize("part", PASSES.values(), ids=PASSES)
def test_change_under_a_run_in_place(shelf, bottle, recipe, part) -> None:
    """What somebody else writes to the source while it is run in place is not lost."""
    bottle.put(shelf)
    with pytest.raises((SourceError, OutputError)):
        run(shelf / "pot.gcode", recipe, part, grow, in_place=True)
    assert (shelf / "pot.gcode").read_bytes() == bottle.source + b"G1 X0 Y0 E0\n"


def test_nothing_changes(shelf, bottle, recipe) -> None:
    """The same run of a source that stays is done."""
    bottle.put(shelf)
    run(shelf / "pot.gcode", recipe, 0.5, lambda _path: None)
    assert (shelf / "out.gcode").read_bytes() == bottle.output
