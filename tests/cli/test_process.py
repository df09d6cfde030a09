"""The program as a process: what it imports, and how it ends when it is interrupted."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from contextlib import suppress
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

import pytest

from gpost import __version__
from gpost.demo.gcode import class_pieces
from tests.sliced import write_piece

HEAVY = {
    "numpy",
    "pydantic",
    "yaml",
    "pluggy",
    "gpost_plugins",
    "gpost.pipeline",
    "concurrent.futures",
    "watchfiles",
}
LIST_MODULES = """
import sys
from contextlib import suppress
from gpost.cli import cli
try:
    cli(sys.argv[1:], standalone_mode=False)
finally:
    print("\\n".join(sys.modules), file=sys.stderr)
"""


@pytest.mark.parametrize(
    "args",
    [["--help"], *([name, "--help"] for name in ("run", "batch", "watch", "resume"))],
)
def test_help_is_light(args: list[str]) -> None:
    """Asking for help imports neither numpy nor the config nor any step."""
    found = subprocess.run(
        [sys.executable, "-c", LIST_MODULES, *args], capture_output=True, text=True, check=True
    )
    assert HEAVY.isdisjoint(found.stderr.split())
    assert found.stdout


@pytest.mark.parametrize(
    "steps", ["", "- taper: {from_height_mm: 5, to_percent: 60}\n- refill: {prime_ml: 5}\n"], ids=["few", "more"]
)
@pytest.mark.parametrize("wall", ["flat", "rise"])
def test_a_run_loads_only_what_it_needs(tmp_path: Path, wall: Literal["flat", "rise"], steps: str) -> None:
    """No masked arrays, no pattern matcher without a pattern, no schema, none of the other commands."""
    piece, style = class_pieces()["small-bowl-1"]
    write_piece(tmp_path / "pot.gcode", piece, replace(style, wall=wall))
    (tmp_path / "pot.yaml").write_text(
        f"steps:\n- cold\n- fan: {{bands: [{{from_layer: 1, level_percent: 20}}]}}\n{steps}"
    )
    paths = [str(tmp_path / name) for name in ("pot.gcode", "pot.yaml", "out.gcode")]
    args = ["run", paths[0], "-c", paths[1], "-o", paths[2]]
    found = subprocess.run(
        [sys.executable, "-c", LIST_MODULES, *args], capture_output=True, text=True, check=True
    )
    loaded = set(found.stderr.split())
    assert {"gpost.pipeline", "gpost_plugins.fan", "numpy"} <= loaded
    assert loaded.isdisjoint(
        {"numpy.ma", "re2", "scipy", "sqlite3", "gpost.batch.folder", "gpost_plugins.swap"}
    )


def test_importing_gpost_is_light() -> None:
    """`import gpost` imports nothing but the version."""
    code = "import gpost, sys; print(*(m for m in sys.modules if m.startswith('gpost')))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.split() == ["gpost"]


def test_runs_as_a_module() -> None:
    """`python -m gpost` is the program."""
    found = subprocess.run(
        [sys.executable, "-m", "gpost", "--version"], capture_output=True, text=True, check=True
    )
    assert found.stdout.startswith(f"gpost {__version__}; reader: ")


@pytest.mark.parametrize(("reader", "writer"), [("compiled", "compiled"), ("columns", "compiled"), ("columns", "columns")])
def test_the_version_says_what_reads_and_writes(reader: str, writer: str) -> None:
    """Where a compiled module is not there, or can't be loaded, columns are in use, and it is said."""
    gone = [f"gpost.{part}.onepass" for part, way in (("read", reader), ("write", writer)) if way == "columns"]
    if any(find_spec(f"gpost.{part}.onepass") is None for part in ("read", "write")):
        reader = writer = "columns"
    code = (
        f"import sys; sys.modules.update(dict.fromkeys({gone})); from gpost.cli import cli; cli(['--version'])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout == f"gpost {__version__}; reader: {reader}, writer: {writer}\n"


def heed_interrupts() -> None:
    """In the child: Ctrl-C counts, even if the parent runs in the background and ignores it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_interrupted_while_reading(tmp_path: Path, number: int, status: int) -> None:
    """Interrupted while it reads, the program ends with a sentence and leaves no file behind."""
    spool = tmp_path / "spool"
    spool.mkdir()
    with subprocess.Popen(
        [sys.executable, "-m", "gpost", "run", "-", "--no-config", "-o", tmp_path / "out.gcode"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "TMPDIR": str(spool)},
        bufsize=0,
        preexec_fn=heed_interrupts,
    ) as process:
        assert process.stdin is not None
        assert process.stderr is not None
        process.stdin.write(b"; more than a pipe holds, so it is being read\n" * 50_000)
        process.send_signal(number)
        with suppress(BrokenPipeError):  # wakes it, if the signal came just before it began to wait
            process.stdin.write(b"; more\n" * 50_000)
        status_found, err = process.wait(60), process.stderr.read()
    assert status_found == status
    assert err.endswith(b"no half-written file is left behind\n")
    assert list(spool.iterdir()) == []
    assert not (tmp_path / "out.gcode").exists()


def test_the_file_behind_standard_input_is_not_overwritten(tmp_path: Path) -> None:
    """It is read as well, though no name says so."""
    path = tmp_path / "pot.gcode"
    write_piece(path, *class_pieces()["small-bowl-1"])
    before = path.read_bytes()
    command = [sys.executable, "-m", "gpost", "run", "-", "--no-config", "-o", path, "--overwrite"]
    with path.open("rb") as stdin:
        found = subprocess.run(command, stdin=stdin, capture_output=True, text=True, check=False)
    assert (found.returncode, found.stdout) == (1, "")
    assert "pot.gcode is the file on standard input that is read here; choose another name" in found.stderr
    assert path.read_bytes() == before


def test_nobody_reads() -> None:
    """When the reader of standard output has gone, the program ends without a word."""
    read, write = os.pipe()
    os.close(read)
    process = subprocess.run(
        [sys.executable, "-m", "gpost", "steps"], stdout=write, stderr=subprocess.PIPE, text=True, check=False
    )
    os.close(write)
    assert (process.returncode, process.stderr) == (141, "")


def test_terminal_of_few_letters() -> None:
    """A terminal that can't show a letter gets it written out, and no error."""
    found = subprocess.run(
        [sys.executable, "-m", "gpost", "explain", "\u010dep"],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONIOENCODING": "latin-1"},
        check=False,
    )
    assert found.returncode == 2
    assert r"there is no step, key or finding \u010dep" in found.stderr
