"""Sliced pots with their recipes, and processes of gpost that can be limited, struck and killed."""

from __future__ import annotations

import contextlib
import json
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from gpost.demo.folder import stock_recipe
from gpost.demo.gcode import Piece, SliceStyle, class_pieces
from tests.sliced import slice_piece

FORKER = Path(__file__).with_name("forker.py")
PATIENCE_S = 120.0
"""How long to wait for anything before the test fails."""


@dataclass(frozen=True)
class Ended:
    """How a process ended: its status (negative: the signal that killed it), what it said, what it took."""

    status: int
    out: str
    err: str
    memory_mb: float = 0.0
    """The most it held at once, with what it shares with the forker."""


@dataclass
class Running:
    """A process of gpost under way."""

    forker: Forker
    number: int
    ended: Ended | None = None

    def wait(self, seconds: float = PATIENCE_S) -> Ended | None:
        """How it ended, or None if it is still under way after so many seconds."""
        if self.ended is None:
            status = self.forker.answer(seconds)
            if status is not None:
                said = [path.read_bytes().decode("utf-8") for path in (self.forker.out, self.forker.err)]
                code, kib = status.split()
                self.ended = Ended(int(code), said[0], said[1], int(kib) / 1024)
        return self.ended

    def end(self) -> Ended:
        """How it ended; fails the test if it doesn't end."""
        ended = self.wait()
        assert ended is not None, "it doesn't end"
        return ended

    def kill(self, number: int = signal.SIGKILL) -> None:
        """Send a signal, if it is still there."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.number, number)


@dataclass
class Forker:
    """Starts processes of gpost from one that has imported everything."""

    home: Path
    """Standard output and error of the processes, and their folder for temporary files."""
    process: subprocess.Popen[bytes]
    _heard: bytes = field(default=b"", init=False)

    def __post_init__(self) -> None:
        self.out, self.err, self.spool = (self.home / name for name in ("out", "err", "spool"))
        self.spool.mkdir()

    def start(
        self,
        folder: Path,
        *args: object,
        file_bytes: int | None = None,
        memory_bytes: int | None = None,
        at: int | None = None,
        number: int = signal.SIGKILL,
        operations: tuple[str, ...] = (),
        out: Path | None = None,
    ) -> Running:
        """Start `gpost ARGS` in a folder; its standard output goes to `out`, or to where `Ended` finds it.

        No file may grow beyond `file_bytes`, nor its memory by more than `memory_bytes`. It is struck by the signal `number` just before the change
        `at` of the disk, counted from 1; what counts are calls of the names `operations` (all, if empty).
        """
        job = {
            "folder": str(folder),
            "spool": str(self.spool),
            "out": str(out or self.out),
            "err": str(self.err),
            "args": [os.fsdecode(arg) if isinstance(arg, bytes) else str(arg) for arg in args],
            "file_bytes": file_bytes,
            "memory_bytes": memory_bytes,
            "at": at,
            "signal": number,
            "operations": operations,
        }
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(job).encode() + b"\n")
        self.process.stdin.flush()
        answer = self.answer(PATIENCE_S)
        assert answer is not None, "no process starts"
        return Running(self, int(answer))

    def do(self, folder: Path, *args: object, **fate: object) -> Ended:
        """Start it as `start` does, and wait for its end."""
        return self.start(folder, *args, **fate).end()  # type: ignore[arg-type]

    def answer(self, seconds: float) -> bytes | None:
        """The next line of what the forker says; None if none comes in time."""
        assert self.process.stdout is not None
        until = time.monotonic() + seconds
        while b"\n" not in self._heard:
            left = max(0.0, until - time.monotonic())
            if not select.select([self.process.stdout], [], [], left)[0]:
                return None
            heard = os.read(self.process.stdout.fileno(), 1 << 16)
            assert heard, "the forker has died"
            self._heard += heard
        line, _, self._heard = self._heard.partition(b"\n")
        return line


@pytest.fixture(scope="session")
def forker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Forker]:
    """Processes of gpost on demand."""
    with subprocess.Popen(
        [sys.executable, FORKER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0
    ) as process:
        yield Forker(tmp_path_factory.mktemp("forker"), process)
        assert process.stdin is not None
        process.stdin.close()
        process.wait(PATIENCE_S)


RECIPE = """
machine: {bed: {x_max_mm: 300, y_max_mm: 300}, park: {x_mm: 15, y_mm: 15}}
clay: {metering: {unit: filament, diameter_mm: 1.75}}
steps: [cold, purge: {volume_ml: 5}, swap: {at_layer: 3, colour: blue, clear: purge, onto: park}, tally]
"""
"""For the small bowl."""


@dataclass(frozen=True)
class Pot:
    """A sliced file, a recipe for it, and what gpost makes of it."""

    source: bytes
    recipe: str
    output: bytes

    def put(self, folder: Path) -> None:
        """Put `pot.gcode` and `recipe.yaml` into a folder."""
        (folder / "pot.gcode").write_bytes(self.source)
        (folder / "recipe.yaml").write_text(self.recipe)


def made(source: bytes, recipe: str, folder: Path, forker: Forker) -> Pot:
    """The pot, with its output from a run that nobody disturbed."""
    pot = Pot(source, recipe, b"")
    pot.put(folder)
    ended = forker.do(folder, "run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode")
    assert ended.status == 0, ended.err
    return Pot(source, recipe, (folder / "out.gcode").read_bytes())


@pytest.fixture(scope="session")
def bottle(forker: Forker, tmp_path_factory: pytest.TempPathFactory) -> Pot:
    """A bottle of 1.2 MB, and the stock recipe."""
    source = slice_piece(*class_pieces()["twisted-bottle"]).text
    return made(source, stock_recipe(), tmp_path_factory.mktemp("bottle"), forker)


@pytest.fixture(scope="session")
def bowl(forker: Forker, tmp_path_factory: pytest.TempPathFactory) -> Pot:
    """A bowl of a few kB."""
    piece = Piece(height_mm=12, radius_mm=30, segments=24, base_layers=1)
    source = slice_piece(piece, SliceStyle(heaters=True)).text
    return made(source, RECIPE, tmp_path_factory.mktemp("bowl"), forker)


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A folder to work in."""
    folder = tmp_path / "shelf"
    folder.mkdir()
    return folder


@pytest.fixture(scope="session")
def long(request: pytest.FixtureRequest) -> bool:
    """Whether the long profile was asked for."""
    return bool(request.config.getoption("--long"))
