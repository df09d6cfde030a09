"""Whatever interrupts gpost: the source is as it was, and the output is whole or not there."""

from __future__ import annotations

import itertools
import random
import signal
import time
from pathlib import Path

import pytest

INTERRUPTIONS = {signal.SIGKILL: -9, signal.SIGTERM: 143, signal.SIGINT: 130, signal.SIGHUP: 129}
"""Signals, and the status of a process that each of them ends (common practice of shells: 128 + number)."""
TIDY = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
"""After these nothing may be left behind; after SIGKILL a program can't tidy up."""
WAYS = {
    "new": ("-o", "out.gcode"),
    "overwrite": ("-o", "out.gcode", "--overwrite"),
    "in place": ("--in-place",),
}
RARE = ("flush", "fsync", "close", "link", "replace", "unlink", "chmod")
"""The changes of the disk but for the many writes of content, which `--long` tries too."""
KEPT = frozenset(("pot.gcode", "recipe.yaml", "out.gcode"))
ORIGINAL = "pot.sliced.gcode"
"""Where the source is kept when it is replaced."""


def run_args(way: str) -> tuple[str, ...]:
    """The arguments of a run of the pot that writes in this way."""
    return ("run", "pot.gcode", "-c", "recipe.yaml", *WAYS[way])


def set_up(shelf: Path, pot, way: str) -> None:
    """The folder as it is before a run of this way."""
    pot.put(shelf)
    for name in ("out.gcode", ORIGINAL):
        (shelf / name).unlink(missing_ok=True)
    if way == "overwrite":
        (shelf / "out.gcode").write_bytes(b"old")


def what_is_left(shelf: Path, pot, way: str) -> str:
    """Whether the content is `new` or `old`; fails if it is anything between, or the source is lost."""
    source, out = (
        path.read_bytes() if path.exists() else None for path in (shelf / "pot.gcode", shelf / "out.gcode")
    )
    if way == "in place":
        assert out is None
        assert source in (pot.source, pot.output)
        kept = (shelf / ORIGINAL).read_bytes() if (shelf / ORIGINAL).exists() else None
        assert kept in ((pot.source,) if source == pot.output else (None, pot.source))
        return "new" if source == pot.output else "old"
    assert source == pot.source
    assert out in (b"old" if way == "overwrite" else None, pot.output)
    return "new" if out == pot.output else "old"


def strangers(*folders: Path) -> set[str]:
    """Names that belong neither to the pot nor to its output."""
    return {path.name for folder in folders for path in folder.iterdir()} - KEPT


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("number", INTERRUPTIONS, ids=lambda number: number.name)
def test_struck_before_each_change_of_the_disk(forker, shelf, bowl, way, number, long) -> None:
    """Struck just before any one change of the disk, gpost leaves old or new; only a kill leaves litter."""
    if not long and way != "new" and number in (signal.SIGINT, signal.SIGHUP):
        pytest.skip("as SIGTERM; --long tries it")
    operations = () if long else RARE
    found = []
    for at in itertools.count(1):
        set_up(shelf, bowl, way)
        ended = forker.do(shelf, *run_args(way), at=at, number=number, operations=operations)
        found.append(what_is_left(shelf, bowl, way))
        if number in TIDY:
            kept = {ORIGINAL} if (way, found[-1]) == ("in place", "new") else set()
            assert strangers(shelf, forker.spool) == kept
        else:
            assert all(name.startswith(".gpost-") for name in strangers(shelf) - {ORIGINAL})
        if ended.status == 0:
            break
        assert ended.status == INTERRUPTIONS[number], ended
        assert "Traceback" not in ended.err
    assert found == sorted(found, reverse=True), "once the new content is there, it stays"
    assert found.count("old") >= 3
    assert found[-1] == "new"


def test_killed_at_random_moments(forker, shelf, bottle, long) -> None:
    """Killed at any moment, gpost leaves the source and no half output, and doesn't hinder the next run."""
    kills = 200 if long else 40
    set_up(shelf, bottle, "new")
    began = time.perf_counter()
    assert forker.do(shelf, *run_args("new")).status == 0
    took = time.perf_counter() - began
    draw = random.Random(20)
    found = {"old": 0, "new": 0, "ended": 0}
    while found["old"] + found["new"] < kills:
        set_up(shelf, bottle, "new")
        running = forker.start(shelf, *run_args("new"))
        running.wait(draw.uniform(0, took))
        running.kill()
        status, left = running.end().status, what_is_left(shelf, bottle, "new")
        assert status in (-9, 0)
        assert status == -9 or left == "new"
        found[left if status == -9 else "ended"] += 1
        assert all(name.startswith(".gpost-") for name in strangers(shelf))
    print("kills that left the old, the new, and came too late:", *found.values())
    (shelf / "out.gcode").unlink(missing_ok=True)
    assert forker.do(shelf, *run_args("new")).status == 0
    assert what_is_left(shelf, bottle, "new") == "new"


def test_stopped_at_random_moments(forker, shelf, bowl, long) -> None:
    """Told to stop at any call of any function, gpost leaves no litter either, and shows no traceback.

    It ends by the signal's status, or by its own when all is done; never by the signal itself.
    """
    draw = random.Random(21)
    statuses = []
    for count in range(300 if long else 24):
        number = TIDY[count % len(TIDY)]
        set_up(shelf, bowl, "new")
        args = run_args("new") if count % 2 else (*run_args("new")[:-1], "-")
        ended = forker.do(shelf, *args, number=number, at=draw.randrange(2_000, 120_000), operations=("any",))
        done = what_is_left(shelf, bowl, "new") == "new" or ended.out.encode() == bowl.output
        statuses.append(ended.status)
        assert ended.status in (INTERRUPTIONS[number], *([0] if done else [])), ended
        assert "Traceback" not in ended.err
        assert strangers(shelf, forker.spool) == set()
    assert statuses.count(0) < len(statuses) / 2
