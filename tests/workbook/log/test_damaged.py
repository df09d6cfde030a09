"""A log that is cut short, in use, write-protected or full of nonsense: a sentence, and nothing said to be kept that is not."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.errors import ConfigError, GpostError, OutputError, PlanError
from gpost.workbook.log.fit import fit_prints
from gpost.workbook.log.model import Found, Predicted
from gpost.workbook.log.store import open_log
from gpost.workbook.log.words import log_json, log_text

PRINT = Predicted("vase.gcode", 300.0, 500.0, 40.0, 1.9, 0.0024)
LONG = Found(480.0, notes="x" * 700)


def filled(path: Path, prints: int) -> bytes:
    """A log of so many prints, and its bytes."""
    with open_log(path, create=True) as log:
        for _ in range(prints):
            log.add(PRINT, LONG)
    return path.read_bytes()


def kept(path: Path) -> int | None:
    """The number under which one more print is said to be kept; None if it is refused."""
    try:
        with open_log(path, create=True) as log:
            return log.add(PRINT, Found(490.0))
    except GpostError:
        return None


def shown(path: Path) -> list[int] | None:
    """The numbers of all prints; None if the log can't be shown."""
    try:
        with open_log(path) as log:
            return [row.number for row in log.prints()]
    except GpostError:
        return None


def test_cut_short_anywhere(tmp_path: Path) -> None:
    """Whatever is missing at its end: what is said to be kept can be shown, and a refusal changes no byte."""
    whole = filled(tmp_path / "log", 40)
    refused = 0
    for size in {*range(1, len(whole), 997), *range(4096, len(whole), 4096)}:
        path = tmp_path / f"cut-{size}"
        path.write_bytes(whole[:size])
        number = kept(path)
        if number is None:
            refused += 1
            assert path.read_bytes() == whole[:size]
        else:
            assert number in (shown(path) or ())
    assert refused > 20


@given(st.data())
def test_bytes_overwritten(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    """Whatever is written over a part of it: what is said to be kept can be shown, and nothing else is raised."""
    path = tmp_path_factory.mktemp("log") / "log"
    whole = bytearray(filled(path, 12))
    start = data.draw(st.integers(0, len(whole) - 1))
    new = data.draw(st.binary(min_size=1, max_size=40))
    whole[start : start + len(new)] = new
    path.write_bytes(whole)
    number = kept(path)
    assert number is None or number in (shown(path) or ())


def test_the_sentence_for_a_log_cut_short(tmp_path: Path) -> None:
    """For every verb, in a process of its own: what is wrong, what to do, status 1, no traceback."""
    path = tmp_path / "gpost-log.sqlite"
    path.write_bytes(filled(path, 40)[:-4096])
    for args in (("show",), ("show", "--json"), ("drop", "1"), ("fit",)):
        command = [sys.executable, "-P", "-m", "gpost", "log", *args]
        ended = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
        said = " ".join(ended.stderr.split())
        assert "Error: the log gpost-log.sqlite is damaged, perhaps cut short; leave the file as it is" in said
        assert ended.returncode == 1
        assert "Traceback" not in ended.stderr


def test_an_empty_file_is_no_log_to_show(tmp_path: Path) -> None:
    """As one of which nothing is left; it is not made into a log by looking."""
    path = tmp_path / "log"
    path.touch()
    with pytest.raises(ConfigError, match="there is no log"), open_log(path):
        pass
    assert path.read_bytes() == b""


def test_in_use(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another program holds it: said so, and nothing is added."""
    path = tmp_path / "log"
    filled(path, 1)
    monkeypatch.setattr("gpost.workbook.log.store._WAIT_S", 0.0)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(OutputError, match="is in use by another program; close that"), open_log(path):
            pass
        assert kept(path) is None
    assert shown(path) == [1]


def test_write_protected(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It can be shown, but nothing added."""
    path, connect = tmp_path / "log", sqlite3.connect
    before = filled(path, 1)

    def read_only(of: Path, **more: Any) -> sqlite3.Connection:
        return connect(f"file:{of}?mode=ro", uri=True, **more)

    monkeypatch.setattr(sqlite3, "connect", read_only)
    assert shown(path) == [1]
    with pytest.raises(OutputError, match="is write-protected; change its permissions"), open_log(path) as log:
        log.add(PRINT, Found())
    assert path.read_bytes() == before


def test_what_cannot_be_read_back_is_not_said_to_be_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that takes a change and gives back something else."""
    path = tmp_path / "log"
    filled(path, 1)
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TRIGGER lose AFTER INSERT ON prints BEGIN DELETE FROM prints WHERE number > 1; END")
        other.commit()
    with pytest.raises(OutputError, match="can't be read back from the log"), open_log(path) as log:
        log.add(PRINT, Found())


NONSENSE = [
    *(("piece_g", 0), ("piece_g", -5), ("piece_g", 9e999), ("predicted_min", 0), ("density_g_ml", 0)),
    *(("density_g_ml", 1e-320), ("clay_ml", -1), ("ml_per_unit", 0), ("weighed_g", -480), ("found_min", 9e999)),
    *(("left_g", 1e300), ("softness", 9), ("softness", -(2**62)), ("added", ""), ("added", "yesterday")),
    *(("dropped", "5"), ("dropped", "\x1b[31m")),
]


@pytest.mark.parametrize(("column", "value"), NONSENSE)
def test_rows_that_make_no_sense(tmp_path: Path, column: str, value: object) -> None:
    """They are named and left out: of the table, of the JSON, and of what is learnt."""
    path = tmp_path / "log"
    filled(path, 3)
    with open_log(path) as log:
        alone = fit_prints(log.prints(), without=[2])
    with closing(sqlite3.connect(path)) as other:
        other.execute(f"UPDATE prints SET {column} = ? WHERE number = 2", (value,))
        other.commit()
    with open_log(path) as log:
        rows, left_out = log.prints(), log.left_out()
        with pytest.raises(PlanError, match="print 2 is left out already: its"):
            log.drop(2)
    assert [row.number for row in rows] == [1, 3]
    assert [number for number, _ in left_out] == [2]
    assert f"its {column} is " in left_out[0][1]
    assert fit_prints(rows) == alone
    assert log_text(rows).endswith("2 prints\n")
    assert '"left_out": [\n  {\n   "number": 2,' in log_json(rows, left_out)


def test_rows_left_out_are_named_on_the_screen(tmp_path: Path) -> None:
    """Above the table, on standard error, with no control character passed on."""
    path = tmp_path / "gpost-log.sqlite"
    filled(path, 2)
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE prints SET piece_g = 0, source = CAST(x'ff41' AS TEXT) WHERE number = 1")
        other.commit()
    command = [sys.executable, "-P", "-m", "gpost", "log", "show"]
    ended = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert ended.stderr == "print 1 makes no sense, and is left out: its piece_g is 0\n"
    assert ended.stdout.endswith("\n1 print\n")
    assert ended.returncode == 0


@pytest.mark.parametrize("found", [Found(1e12), Found(left_g=-1.0), Found(minutes=float("nan"))])
def test_nonsense_is_not_added(tmp_path: Path, found: Found) -> None:
    """It would be left out at once."""
    with open_log(tmp_path / "log", create=True) as log:
        with pytest.raises(PlanError, match="makes no sense, and is not kept: its"):
            log.add(PRINT, found)
        assert log.prints() == []
