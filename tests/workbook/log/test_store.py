"""The log's file: what goes in comes out, and what is no log is refused."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.errors import ConfigError, OutputError, PlanError
from gpost.workbook.log.model import Found, Predicted
from gpost.workbook.log.store import APPLICATION, VERSIONS, open_log

PRINT = Predicted("vase.gcode", 300.0, 500.0, 40.0, 1.9, 0.0024)
AMOUNT = st.none() | st.floats(0, 1e6)
SHARE = st.floats(0.1, 4)
TEXT = st.text(st.characters(codec="utf-8"), max_size=30)


@given(
    st.lists(
        st.builds(Found, AMOUNT, AMOUNT, AMOUNT, st.none() | st.integers(1, 5), TEXT, TEXT, SHARE, SHARE),
        max_size=5,
    ),
    TEXT,
)
def test_what_goes_in_comes_out(
    tmp_path_factory: pytest.TempPathFactory, found: list[Found], name: str
) -> None:
    """Prints come back as they were added, numbered from 1, whatever their notes hold."""
    path = tmp_path_factory.mktemp("log") / "log.sqlite"
    said = Predicted(name, 1.5, 2.5, 3.5, 4.5, None, 0.5, 1.25)
    with open_log(path, create=True) as log:
        assert [log.add(said, one) for one in found] == list(range(1, len(found) + 1))
    with open_log(path) as log:
        rows = log.prints()
    assert [(row.predicted, row.found) for row in rows] == [(said, one) for one in found]


def test_the_day_is_kept(tmp_path: Path) -> None:
    """Each print has the time of adding, in UTC."""
    before = datetime.now(UTC).replace(microsecond=0)
    with open_log(tmp_path / "log.sqlite", create=True) as log:
        log.add(PRINT, Found())
        added = datetime.fromisoformat(log.prints()[0].added)
    assert before <= added <= datetime.now(UTC)


def test_dropping_keeps_the_row(tmp_path: Path) -> None:
    """A dropped print stays as it was, with the time of dropping; later prints go on counting."""
    path = tmp_path / "log.sqlite"
    with open_log(path, create=True) as log:
        for grams in (480.0, 4.8):
            log.add(PRINT, Found(grams))
        assert log.drop(2).dropped is None
        assert log.add(PRINT, Found(490.0)) == 3
    with open_log(path) as log:
        rows = log.prints()
    assert [(row.number, row.found.weighed_g) for row in rows] == [(1, 480.0), (2, 4.8), (3, 490.0)]
    assert [row.dropped is None for row in rows] == [True, False, True]
    assert datetime.fromisoformat(rows[1].dropped or "") >= datetime.fromisoformat(rows[1].added)


@pytest.mark.parametrize("number", [3, 10**30])
def test_what_is_not_there_cannot_be_dropped(tmp_path: Path, number: int) -> None:
    """No such print, or one that is dropped already: refused, and the log stays as it was."""
    with open_log(tmp_path / "log.sqlite", create=True) as log:
        log.add(PRINT, Found())
        log.drop(log.add(PRINT, Found()))
        before = log.prints()
        with pytest.raises(PlanError, match=f"no print {number}"):
            log.drop(number)
        with pytest.raises(PlanError, match="was dropped already"):
            log.drop(2)
        assert log.prints() == before


def test_a_log_from_before_dropping(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A log of the first tables keeps its prints, of which none is dropped, and can drop from then on."""
    path = tmp_path / "log.sqlite"
    with monkeypatch.context() as earlier:
        earlier.setattr("gpost.workbook.log.store.VERSIONS", VERSIONS[:1])
        with open_log(path, create=True):
            pass
    with sqlite3.connect(path) as connection:
        row = (
            None,
            "2026-03-01T10:00:00+00:00",
            "vase.gcode",
            300,
            500,
            40,
            1.9,
            0.0024,
            480,
            None,
            None,
            4,
            "",
        )
        connection.execute(f"INSERT INTO prints VALUES ({', '.join('?' * 13)})", row)
    connection.close()
    with open_log(path) as log:
        (found,) = log.prints()
        assert (found.predicted, found.found, found.dropped) == (PRINT, Found(480.0, softness=4), None)
        log.drop(1)
        assert log.prints()[0].dropped is not None


def test_two_programs(tmp_path: Path) -> None:
    """Two programs that have the log open add one after the other, and both see all."""
    path = tmp_path / "log.sqlite"
    with open_log(path, create=True) as one, open_log(path, create=True) as other:
        assert [one.add(PRINT, Found()), other.add(PRINT, Found()), one.add(PRINT, Found())] == [1, 2, 3]
        assert len(one.prints()) == len(other.prints()) == 3


def test_no_log(tmp_path: Path) -> None:
    """A log that is not there is only made for adding."""
    with pytest.raises(ConfigError, match="there is no log"), open_log(tmp_path / "log.sqlite"):
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_no_log(tmp_path: Path) -> None:
    """Other files and other programs' databases are refused and stay as they are."""
    text, database = tmp_path / "text", tmp_path / "database"
    text.write_bytes(b"G1 X10\n" * 400)
    with sqlite3.connect(database) as connection:
        connection.execute("CREATE TABLE birds (name TEXT)")
    connection.close()
    for path, words in (
        (text, "is not a log of gpost's; name another file with --log"),
        (database, "is not a log"),
        (tmp_path, "is a folder; name a file in it with --log, such as .*gpost-log.sqlite"),
        (tmp_path / "none" / "log.sqlite", "there is no folder .*none for the log; make it"),
    ):
        before = path.read_bytes() if path.is_file() else None
        with pytest.raises(OutputError, match=words), open_log(path, create=True) as log:
            log.add(PRINT, Found())
        assert before is None or path.read_bytes() == before


def test_a_later_log(tmp_path: Path) -> None:
    """A log of a later gpost is refused, not spoiled."""
    with open_log(tmp_path / "log.sqlite", create=True):
        pass
    with sqlite3.connect(tmp_path / "log.sqlite") as connection:
        connection.execute(f"PRAGMA user_version = {len(VERSIONS) + 1}")
    connection.close()
    with pytest.raises(OutputError, match="written by a later gpost"), open_log(tmp_path / "log.sqlite"):
        pass


def test_an_earlier_log_is_brought_up_to_date(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The scripts of later versions run over an earlier log, which keeps its prints."""
    path = tmp_path / "log.sqlite"
    with open_log(path, create=True) as log:
        log.add(PRINT, Found(480.0))
    more = ("CREATE TABLE glazes (name TEXT)", "INSERT INTO glazes VALUES ('celadon')")
    monkeypatch.setattr("gpost.workbook.log.store.VERSIONS", (*VERSIONS, *more))
    for _ in range(2):
        with open_log(path) as log:
            assert [row.found.weighed_g for row in log.prints()] == [480.0]
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT name FROM glazes").fetchall() == [("celadon",)]
        assert connection.execute("PRAGMA user_version").fetchone() == (len(VERSIONS) + 2,)
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION,)
    connection.close()


def test_a_broken_change_leaves_the_log_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If one script of several fails, none has happened."""
    path = tmp_path / "log.sqlite"
    with open_log(path, create=True) as log:
        log.add(PRINT, Found())
    before = path.read_bytes()
    monkeypatch.setattr(
        "gpost.workbook.log.store.VERSIONS", (*VERSIONS, "CREATE TABLE glazes (a)", "NONSENSE")
    )
    with pytest.raises(OutputError, match="can't be used"), open_log(path):
        pass
    assert path.read_bytes() == before
