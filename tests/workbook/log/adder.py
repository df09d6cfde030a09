"""A program that changes a log until it is killed; it says each number once the print is safe.

adder.py LOG               adds print after print
adder.py LOG PRINTS        adds so many; then tries one more again and again, killed after 0, 1, 2, ...
                           instructions of the database, until the try outlives it. Try k leaves
                           LOG-k (and its journal), and a line: whether it lived, and what it said.
adder.py LOG PRINTS drop   the same, but each try drops print 1
"""

from __future__ import annotations

import itertools
import os
import shutil
import signal
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from gpost.workbook.log import store
from gpost.workbook.log.model import Found, Predicted

PRINT = Predicted("vase.gcode", 300.0, 500.0, 40.0, 1.9, 0.0024)


def add_one(path: Path) -> int:
    """Add a print; returns its number."""
    with store.open_log(path, create=True) as log:
        return log.add(PRINT, Found(480.0, notes="x" * 5000))


def drop_first(path: Path) -> int:
    """Drop print 1; returns its number."""
    with store.open_log(path) as log:
        return log.drop(1).number


def killed_after(instructions: int) -> Callable[..., sqlite3.Connection]:
    """A way to connect after which the program doesn't outlive so many instructions."""
    connect, left = sqlite3.connect, itertools.count(instructions, -1)

    def count() -> int:
        if next(left) <= 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0

    def counted(*args: Any, **more: Any) -> sqlite3.Connection:
        connection: sqlite3.Connection = connect(*args, **more)
        connection.set_progress_handler(count, 1)
        return connection

    return counted


def tried(path: Path, instructions: int, change: Callable[[Path], int]) -> tuple[bool, str]:
    """Whether a process that may use so many instructions outlived the change, and what it said."""
    read, write = os.pipe()
    child = os.fork()
    if not child:
        sqlite3.connect = killed_after(instructions)  # type: ignore[assignment]
        os.write(write, b"%d" % change(path))
        os._exit(0)
    os.close(write)
    with open(read) as said:
        return os.waitpid(child, 0)[1] == 0, said.read()


def try_all(path: Path, prints: int, change: Callable[[Path], int]) -> None:
    """The tries, one after the other, from the same log each time."""
    for _ in range(prints):
        add_one(path)
    for instructions in itertools.count():
        trial = path.with_name(f"{path.name}-{instructions}")
        if prints:
            shutil.copyfile(path, trial)
        lived, said = tried(trial, instructions, change)
        print(int(lived), said or "-", flush=True)
        if lived:
            return


if __name__ == "__main__":
    if len(sys.argv) > 2:
        try_all(Path(sys.argv[1]), int(sys.argv[2]), drop_first if sys.argv[3:] else add_one)
    else:
        while True:
            print(add_one(Path(sys.argv[1])), flush=True)
