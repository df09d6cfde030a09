"""A batch that was killed is done by the next one: what is done is skipped, and the rest is done."""

from __future__ import annotations

import itertools
import os
import random
import select
import signal
import time
from pathlib import Path

import pytest

from gpost.batch.record import page_untouched, read_record
from gpost.page.index import is_index

NAMES = ("a.gcode", "b.gcode")
BATCH = ("batch", "in", "-c", "recipe.yaml", "-o", "out", "--jobs")
RARE = ("link", "replace", "unlink", "rmdir", "mkdir")
"""The changes of the disk by which names come and go; `--long` tries all others too."""


@pytest.fixture
def folder(shelf: Path, bowl) -> Path:
    """A shelf with a folder `in` of bowls."""
    bowl.put(shelf)
    (shelf / "in").mkdir()
    for name in NAMES:
        (shelf / "in" / name).write_bytes(bowl.source)
    return shelf


def whole(path: Path, bowl) -> bool:
    """Whether a file is what gpost makes of the bowl."""
    return path.read_bytes().splitlines()[1:] == bowl.output.splitlines()[1:]


def check_killed(folder: Path, bowl) -> set[str]:
    """Nothing is half done; returns the names of what is done, with its record."""
    assert [name for name in NAMES if (folder / "in" / name).read_bytes() != bowl.source] == []
    out = folder / "out"
    found = {path.name for path in out.iterdir()} if out.exists() else set()
    seen = {name for name in found if not name.startswith(".gpost-")}
    assert seen <= {name + end for name in NAMES for end in ("", ".gpost.json")}
    done = {name for name in NAMES if name in seen}
    assert [name for name in done if not whole(out / name, bowl)] == []
    return {name for name in done if read_record(out / name) is not None}


def check_resumed(forker, folder: Path, bowl, done: set[str], jobs: int = 1) -> None:
    """The next batch leaves what is done, and does the rest."""
    before = {name: (folder / "out" / name).stat().st_mtime_ns for name in done}
    ended = forker.do(folder, *BATCH, jobs)
    assert (ended.status, ended.err) == (0, "")
    assert f"2 of 2 files: {2 - len(done)} done, {len(done)} unchanged" in ended.out
    assert check_killed(folder, bowl) == set(NAMES)
    assert {name: (folder / "out" / name).stat().st_mtime_ns for name in done} == before


def clear(folder: Path) -> None:
    """Take the outputs away, but leave the litter of the kills."""
    for path in (folder / "out").glob("*.gcode*"):
        path.unlink()


def test_killed_before_each_change_of_the_disk(forker, folder, bowl, long) -> None:
    """Killed just before any one change of the disk, also between an output and its record, a batch resumes."""
    counts = []
    for at in itertools.count(1):
        ended = forker.do(folder, *BATCH, 1, at=at, operations=() if long else RARE)
        if ended.status == 0:
            break
        assert ended.status == -signal.SIGKILL
        done = check_killed(folder, bowl)
        counts.append(len(done))
        check_resumed(forker, folder, bowl, done)
        clear(folder)
    assert len(counts) > 10
    assert set(counts) == {0, 1, 2}


def test_killed_while_it_replaces_what_is_outdated(forker, folder, bowl, long) -> None:
    """Killed while it does outdated files again, a batch leaves each old or new, and the next does the rest."""
    recipe = folder / "recipe.yaml"
    new = bowl.recipe.replace("volume_ml: 5", "volume_ml: 6")
    recipe.write_text(new)
    assert forker.do(folder, *BATCH, 1).status == 0
    outputs = [folder / "out" / name for name in NAMES]
    after = [path.read_bytes() for path in outputs]
    found = set()
    for at in itertools.count(1):
        clear(folder)
        recipe.write_text(bowl.recipe)
        assert forker.do(folder, *BATCH, 1).status == 0
        before = [path.read_bytes() for path in outputs]
        recipe.write_text(new)
        ended = forker.do(folder, *BATCH, 1, at=at, operations=() if long else ("replace",))
        found.add(tuple(path.read_bytes() == content for path, content in zip(outputs, after, strict=True)))
        assert all(path.read_bytes() in pair for path, *pair in zip(outputs, before, after, strict=True))
        if ended.status == 0:
            break
        ended = forker.do(folder, *BATCH, 1)
        assert (ended.status, ended.err) == (0, "")
        assert [path.read_bytes() for path in outputs] == after
    assert len(found) == 3


def test_killed_while_it_writes_pages(forker, folder, bowl, long) -> None:
    """Killed before any name is given to an output, its page, its record or the index, the next batch refuses
    none of what it finds, and leaves each output with the page that was made with it."""
    outputs, kills = [folder / "out" / name for name in NAMES], 0
    for at in itertools.count(1):
        clear(folder)
        ended = forker.do(folder, *BATCH, 1, "--pages", at=at, operations=() if long else ("link", "replace"))
        if ended.status == 0:
            break
        kills += 1
        ended = forker.do(folder, *BATCH, 1, "--pages")
        assert (ended.status, ended.err) == (0, "")
        assert all(page_untouched(read_record(output), output) for output in outputs)
        assert is_index(folder / "out" / "index.html")
    assert kills > 6


def assert_closed(line: int) -> None:
    """The other end of a pipe is closed by all processes that had it, soon."""
    while select.select([line], [], [], 60)[0]:
        if not os.read(line, 4096):
            os.close(line)
            return
    pytest.fail("a process of the batch goes on without it")


def test_killed_at_random_moments_with_processes(forker, folder, bowl, long) -> None:
    """Killed at any moment while processes work for it, a batch resumes, and none of its processes stays."""
    draw = random.Random(22)
    pipe = folder / "pipe"
    os.mkfifo(pipe)
    began = time.perf_counter()
    assert forker.do(folder, *BATCH, 2).status == 0
    took = time.perf_counter() - began
    counts = []
    for _ in range(40 if long else 4):
        clear(folder)
        line = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
        running = forker.start(folder, *BATCH, 2, out=pipe)
        running.wait(draw.uniform(took / 2, took))
        running.kill()
        assert running.end().status in (-signal.SIGKILL, 0)
        assert_closed(line)
        done = check_killed(folder, bowl)
        counts.append(len(done))
        check_resumed(forker, folder, bowl, done)
    print("files done when the batch was killed:", *counts)
