"""Pipes whose other end has gone, and standard streams that are closed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

PATIENCE_S = 120
BROKEN_PIPE = 141
"""As a shell reports a program that SIGPIPE ended (common practice: 128 + 13)."""
RUN = ("run", "-", "-c", "recipe.yaml", "-o", "-")


@pytest.fixture
def home(shelf: Path, bottle) -> Path:
    """A folder with the bottle, its recipe and an empty folder `spool` for temporary files."""
    bottle.put(shelf)
    (shelf / "spool").mkdir()
    return shelf


def started(home: Path, *args: str, prepare: Callable[[], None] | None = None) -> subprocess.Popen[bytes]:
    """`gpost ARGS` with the sliced file as its standard input."""

    def in_child() -> None:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        if prepare is not None:
            prepare()

    options: dict[str, Any] = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "preexec_fn": in_child}
    with (home / "pot.gcode").open("rb") as source:
        return subprocess.Popen(
            [sys.executable, "-P", "-m", "gpost", *args],
            stdin=source,
            cwd=home,
            env={**os.environ, "TMPDIR": str(home / "spool")},
            **options,
        )


@pytest.mark.parametrize(
    ("args", "first"),
    [(RUN, 0), (RUN, 1), (RUN, 100_000), (("survey", "-"), 0), (("steps",), 0)],
)
def test_reader_goes_early(home, bottle, args, first) -> None:
    """When the reader goes after the `first` bytes (`| head`), gpost ends without a word and tidies up."""
    with started(home, *args) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert len(process.stdout.read(first)) == first
        process.stdout.close()
        status, err = process.wait(PATIENCE_S), process.stderr.read()
    assert status == BROKEN_PIPE
    assert b"Error" not in err
    assert b"Traceback" not in err
    assert list((home / "spool").iterdir()) == []
    assert (home / "pot.gcode").read_bytes() == bottle.source


def test_whole_pipe(home, bottle) -> None:
    """A reader that stays gets the whole output, and nothing but it."""
    with started(home, *RUN) as process:
        out, _err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0
    assert out.splitlines()[1:] == bottle.output.splitlines()[1:]
    assert list((home / "spool").iterdir()) == []


@pytest.mark.parametrize(
    ("closed", "args", "status", "sentence"),
    [
        ((1,), ("run", "pot.gcode", "-c", "recipe.yaml", "-o", "-"), 1, b"standard output is closed"),
        ((0,), ("run", "-", "-c", "recipe.yaml", "-o", "out.gcode"), 1, b"standard input is closed"),
        ((1,), ("run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode"), 0, b""),
        ((0, 1, 2), ("run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode"), 0, b""),
        ((0, 1, 2), ("batch", ".", "-c", "recipe.yaml", "-o", "out", "--jobs", "2"), 0, b""),
    ],
)
def test_closed_streams(home, bottle, closed, args, status, sentence) -> None:
    """A standard stream that is closed is told if it is needed; no file ever takes its place."""

    def close() -> None:
        for number in closed:
            os.close(number)

    if args[0] == "batch":
        (home / "second.gcode").write_bytes(bottle.source)
    with started(home, *args, prepare=close) as process:
        _out, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == status
    assert sentence in err
    assert b"Traceback" not in err
    outputs = [home / "out.gcode"] if status == 0 else []
    if args[0] == "batch":
        outputs = [home / "out" / name for name in ("pot.gcode", "second.gcode")]
    assert [
        path for path in outputs if path.read_bytes().splitlines()[1:] != bottle.output.splitlines()[1:]
    ] == []
    assert (home / "out.gcode").exists() == (status == 0 and args[0] == "run")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no /dev/full here")
def test_output_complete_but_nothing_can_be_said(home, bottle) -> None:
    """When the summary can't be shown, the sentence says that the output is complete."""
    with (home / "pot.gcode").open("rb"), open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-P", "-m", "gpost", "run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode"],
            cwd=home,
            stdout=full,
            stderr=subprocess.PIPE,
            check=False,
            timeout=PATIENCE_S,
        )
    assert done.returncode == 1
    assert done.stderr.startswith(b"Error: out.gcode is complete, but its summary is not: standard output")
    assert (home / "out.gcode").read_bytes() == bottle.output


@pytest.mark.parametrize("args", [("run", "-", "-o", "out.gcode"), ("check", "-"), ("survey", "-")])
def test_a_pipe_without_end_is_refused(home, args) -> None:
    """`yes | gpost` ends with a sentence when it has sent what may be kept, and leaves nothing behind."""
    (home / "small.yaml").write_text("reading: {most_piped_gb: 0.005}\n")
    with subprocess.Popen(["yes", "G1 X1"], stdout=subprocess.PIPE) as endless:
        done = subprocess.run(
            [sys.executable, "-P", "-m", "gpost", *args, "-c", "small.yaml"],
            stdin=endless.stdout,
            capture_output=True,
            cwd=home,
            env={**os.environ, "TMPDIR": str(home / "spool")},
            timeout=PATIENCE_S,
        )
        endless.kill()
    assert done.returncode == 1
    assert b"more than 0.005 GB" in done.stderr
    assert list((home / "spool").iterdir()) == []
    assert not (home / "out.gcode").exists()
