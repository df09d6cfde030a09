"""Nothing is lost when the program that writes the log is killed."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from gpost.workbook.log.store import open_log

ADDER = Path(__file__).with_name("adder.py")


def numbers(path: Path) -> list[int]:
    """The prints in the log, which must be whole."""
    with open_log(path, create=True) as log:
        rows = log.prints()
    assert all(row.predicted.source == "vase.gcode" and len(row.found.notes) == 5000 for row in rows)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    return [row.number for row in rows]


@pytest.mark.parametrize("prints", [0, 2])
def test_killed_at_every_instruction(tmp_path: Path, prints: int) -> None:
    """Killed after any number of the database's instructions: the print is there whole, or not at all.

    At a new log, where the tables are made too, and at one with prints in it. A print whose number was said
    is there, and the earlier ones always are.
    """
    command = [sys.executable, str(ADDER), str(tmp_path / "log"), str(prints)]
    tries = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    assert len(tries) > 50
    assert tries[-1].split() == ["1", str(prints + 1)]
    for instructions, line in enumerate(tries):
        found, said = numbers(tmp_path / f"log-{instructions}"), line.split()[1]
        assert found in (list(range(1, prints + 1)), list(range(1, prints + 2)))
        assert said == "-" or int(said) in found


def test_killed_at_every_instruction_while_dropping(tmp_path: Path) -> None:
    """Killed after any number of instructions: both prints are whole, and the first is dropped or is not.

    It is, if its number was said.
    """
    command = [sys.executable, str(ADDER), str(tmp_path / "log"), "2", "drop"]
    tries = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    assert len(tries) > 20
    assert tries[-1].split() == ["1", "1"]
    for instructions, line in enumerate(tries):
        assert numbers(tmp_path / f"log-{instructions}") == [1, 2]
        with open_log(tmp_path / f"log-{instructions}") as log:
            first, second = log.prints()
        assert second.dropped is None
        assert first.dropped is not None or line.split()[1] == "-"


def test_killed_while_adding(tmp_path: Path) -> None:
    """Killed at any moment, again and again: every print whose number was said is there, in order."""
    path = tmp_path / "log"
    for kills in range(5):
        with subprocess.Popen([sys.executable, ADDER, path], stdout=subprocess.PIPE, text=True) as child:
            assert child.stdout is not None
            said = [int(child.stdout.readline()) for _ in range(1 + kills % 3)]
            child.kill()
            said += [int(line) for line in child.stdout if line.endswith("\n")]
        found = numbers(path)
        assert found == list(range(1, len(found) + 1))
        assert said[-1] <= len(found) <= said[-1] + 1
