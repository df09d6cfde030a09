"""The log's file: SQLite, one row a print, each added whole or not at all; a row is never deleted.

A change is on the disk when `add` or `drop` returns (rollback journal, synchronous EXTRA). Whatever ends the
program before leaves the log as it was: SQLite rolls a half-written change back when the log is next opened.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import astuple, fields
from datetime import UTC, datetime
from pathlib import Path

from gpost.common.plain import shown
from gpost.errors import ConfigError, OutputError, PlanError
from gpost.workbook.log.model import Found, Predicted, PrintRow, senseless

APPLICATION = 0x67706F74
"""Marks the file as a log of gpost's (SQLite's application_id)."""
VERSIONS = (
    """
    CREATE TABLE prints (
        number INTEGER PRIMARY KEY,
        added TEXT NOT NULL,
        source TEXT NOT NULL,
        clay_ml REAL NOT NULL,
        piece_g REAL NOT NULL,
        predicted_min REAL NOT NULL,
        density_g_ml REAL NOT NULL,
        ml_per_unit REAL,
        weighed_g REAL,
        found_min REAL,
        left_g REAL,
        softness INTEGER,
        notes TEXT NOT NULL
    ) STRICT
    """,
    "ALTER TABLE prints ADD COLUMN dropped TEXT",
    "ALTER TABLE prints ADD COLUMN turned TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE prints ADD COLUMN flow_share REAL NOT NULL DEFAULT 1.0",
    "ALTER TABLE prints ADD COLUMN time_share REAL NOT NULL DEFAULT 1.0",
    "ALTER TABLE prints ADD COLUMN slab_g REAL NOT NULL DEFAULT 0.0",
    "ALTER TABLE prints ADD COLUMN rest_g REAL",
)
"""What makes each version of the tables out of the one before; never change one, add another."""
_COPY = "leave the file as it is, and go on with your latest copy of it"
_USUAL = "gpost-log.sqlite"
_WAIT_S = 10.0
"""How long to wait for another gpost that writes."""
_ADDED = (
    "added, source, clay_ml, piece_g, predicted_min, density_g_ml, ml_per_unit, slab_g, rest_g, weighed_g, "
    "found_min, left_g, softness, notes, turned, flow_share, time_share"
)
_COLUMNS = f"number, {_ADDED}, dropped"
_INSERT = f"INSERT INTO prints ({_ADDED}) VALUES ({', '.join('?' * (_ADDED.count(',') + 1))})"


class Log:
    """An open log."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._connection, self._path = connection, path

    def add(self, predicted: Predicted, found: Found) -> int:
        """Add a print of today; returns its number once it is safe on the disk, and was read back from there.

        Raises PlanError for one that makes no sense, OutputError if it can't be read back.
        """
        if wrong := senseless(PrintRow(0, _now(), predicted, found)):
            raise PlanError(f"the print makes no sense, and is not kept: {wrong}")
        with _transaction(self._connection):
            row = (_now(), *astuple(predicted), *astuple(found))
            number = self._connection.execute(_INSERT, row).lastrowid
        with _connected(self._path) as afresh:  # what this one reads may come from its own memory
            _check_whole(afresh, self._path)
            back = [row for row in Log(afresh, self._path).prints() if row.number == number]
        if number is None or [(row.predicted, row.found) for row in back] != [(predicted, found)]:
            raise OutputError(
                f"the print can't be read back from the log {shown(self._path)}, so it is not kept; {_COPY}"
            )
        return number

    def drop(self, number: int) -> PrintRow:
        """Mark a print as dropped, and return it as it was; its row stays, and nothing is learnt from it.

        Raises PlanError if the log has no print of that number, or it is dropped already.
        """
        with _transaction(self._connection):
            row = next((row for row in self.prints() if row.number == number), None)
            for other, wrong in self.left_out():
                if other == number:
                    raise PlanError(f"print {number} is left out already: {wrong}")
            if row is None:
                raise PlanError(f"the log has no print {number}; gpost log show lists them")
            if row.dropped is not None:
                raise PlanError(f"print {number} was dropped already, on {row.dropped[:10]}")
            self._connection.execute("UPDATE prints SET dropped = ? WHERE number = ?", (_now(), number))
        return row

    def prints(self) -> list[PrintRow]:
        """All prints that make sense, in the order of adding; dropped ones too."""
        return [row for row in self._rows() if not senseless(row)]

    def left_out(self) -> list[tuple[int, str]]:
        """Number of each row that makes no sense, and what is wrong with it."""
        return [(row.number, wrong) for row in self._rows() if (wrong := senseless(row))]

    def _rows(self) -> list[PrintRow]:
        rows = self._connection.execute(f"SELECT {_COLUMNS} FROM prints ORDER BY number").fetchall()
        said = len(fields(Predicted)) + 2
        return [
            PrintRow(row[0], row[1], Predicted(*row[2:said]), Found(*row[said:-1]), row[-1]) for row in rows
        ]


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


@contextmanager
def open_log(path: Path, *, create: bool = False) -> Iterator[Log]:
    """The log in a file; a new one is made if `create` allows it.

    Raises ConfigError if there is none, OutputError if the file is no log, of a later gpost, damaged, or
    can't be read or written.
    """
    if not create and (not path.is_file() or not path.stat().st_size):
        raise ConfigError(
            f"there is no log {shown(path)}; begin one with gpost log add, or name it with --log"
        )
    try:
        with _connected(path) as connection:
            stands_at = _stands_at(connection, path)
            _check_whole(connection, path)
            _bring_up_to_date(connection, path, stands_at)
            yield Log(connection, path)
    except sqlite3.Error as error:
        raise OutputError(_sentence(error, path)) from error


@contextmanager
def _connected(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path, timeout=_WAIT_S, isolation_level=None)) as connection:
        connection.text_factory = lambda text: text.decode("utf-8", "replace")
        connection.execute("PRAGMA synchronous = EXTRA")
        yield connection


def _check_whole(connection: sqlite3.Connection, path: Path) -> None:
    """Raise OutputError if the file is damaged, so that nothing is added to what can't be read."""
    found = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        raise OutputError(_damaged(path))


def _damaged(path: Path) -> str:
    return f"the log {shown(path)} is damaged, perhaps cut short; {_COPY}"


def _sentence(error: sqlite3.Error, path: Path) -> str:
    """What SQLite's error means for a potter; its primary code is the lowest byte."""
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return f"the log {shown(path)} is in use by another program; close that, and try again"
    if code == sqlite3.SQLITE_READONLY:
        return f"the log {shown(path)} is write-protected; change its permissions, or those of its folder"
    if code == sqlite3.SQLITE_CORRUPT:
        return _damaged(path)
    if code == sqlite3.SQLITE_NOTADB:
        return _no_log(path)
    if code == sqlite3.SQLITE_CANTOPEN:
        return _not_opened(path)
    return f"the log {shown(path)} can't be used: {error}"


def _no_log(path: Path) -> str:
    return f"{shown(path)} is not a log of gpost's; name another file with --log"


def _not_opened(path: Path) -> str:
    """Why there is nothing to open, as far as it can be seen."""
    if path.is_dir():
        return f"{shown(path)} is a folder; name a file in it with --log, such as {shown(path / _USUAL)}"
    if not path.parent.is_dir():
        return f"there is no folder {shown(path.parent)} for the log; make it, or name another with --log"
    return (
        f"the log {shown(path)} can't be opened; see whether you may read and write it and its folder, or "
        "name another file with --log"
    )


def _bring_up_to_date(connection: sqlite3.Connection, path: Path, stands_at: int) -> None:
    """Make the tables, or those of a later version out of an earlier one's."""
    if stands_at == len(VERSIONS):
        return
    with _transaction(connection):
        for version in VERSIONS[_stands_at(connection, path) :]:
            connection.execute(version)
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
        connection.execute(f"PRAGMA user_version = {len(VERSIONS)}")


def _stands_at(connection: sqlite3.Connection, path: Path) -> int:
    """Version of the tables in the file; 0 for a new one. Raises OutputError if it is none of ours."""
    (owner,), (version,) = (
        connection.execute(f"PRAGMA {name}").fetchone() for name in ("application_id", "user_version")
    )
    tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if owner != APPLICATION and (owner or version or tables):
        raise OutputError(_no_log(path))
    if version > len(VERSIONS):
        raise OutputError(f"the log {shown(path)} was written by a later gpost; use that one")
    return int(version)


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All of the block, or nothing of it; no other program writes meanwhile."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if connection.in_transaction:  # a full disk has ended it already
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")
