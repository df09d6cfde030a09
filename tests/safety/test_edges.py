"""The edges of a run: signals before and after the work, streams that are full, Python without docstrings, long names."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from pathlib import Path

import pytest

from gpost.batch.record import read_record, record_path
from gpost.cli import COMMANDS

PATIENCE_S = 120
STATUSES = {"SIGINT": 130, "SIGTERM": 143, "SIGHUP": 129}
"""Of a program that a signal ends: 128 + its number (common practice of shells)."""
SUBCOMMANDS = ("log add", "log show", "log drop", "log fit")

STRUCK = """
import atexit, os, signal, sys
from gpost import start

at, number = int(sys.argv[1]), getattr(signal, sys.argv[2])
signal.signal(signal.SIGINT, signal.default_int_handler)  # whatever started us may have had it ignored
calls = 0

def watch(frame, event, called):
    global calls
    calls += 1
    if calls == at:
        sys.setprofile(None)
        os.kill(os.getpid(), number)

def listen(really=start.listen):
    really()
    atexit.register(lambda: print("calls", calls, file=sys.stderr))
    sys.setprofile(watch)

start.listen = listen
sys.argv[:3] = ["gpost"]
start.main()
"""
"""A gpost that is struck by a signal at some call, or return, of any function, its imports included, from where it
listens: what Python does before that, and the one line in which it begins to, can't be made to."""


def struck(folder: Path, at: int, name: str, *args: str) -> subprocess.CompletedProcess[str]:
    """`gpost ARGS` in a folder, struck by the signal of that name at the call `at`, counted from 1."""
    command = [sys.executable, "-c", STRUCK, str(at), name, *args]
    env = {**os.environ, "TMPDIR": str(folder)}
    return subprocess.run(
        command, cwd=folder, env=env, capture_output=True, text=True, check=False, timeout=PATIENCE_S
    )


def gpost(folder: Path, *args: str, **env: str) -> subprocess.CompletedProcess[str]:
    """`gpost ARGS` in a folder."""
    command = [sys.executable, "-P", "-m", "gpost", *args]
    env = {**os.environ, **env}
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("name", STATUSES)
def test_stopped_while_it_starts(shelf, bowl, name, long) -> None:
    """From its first act on: one sentence, the signal's status, no traceback, nothing left behind."""
    bowl.put(shelf)
    args = ("run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode")
    calls = int(struck(shelf, 0, name, *args).stderr.split()[-1])
    (shelf / "out.gcode").unlink()
    draw = random.Random(name)
    for at in [1, 2, 5, *(draw.randrange(calls) for _ in range(60 if long else 4))]:
        ended = struck(shelf, at, name, *args)
        assert ended.returncode == STATUSES[name], (at, ended)
        said = [line for line in ended.stderr.splitlines() if not line.startswith("calls")]
        assert len(said) == 1, (at, ended)
        assert said[0].endswith("no half-written file is left behind")
        assert {path.name for path in shelf.iterdir()} - {"out.gcode"} == {"pot.gcode", "recipe.yaml"}
        (shelf / "out.gcode").unlink(missing_ok=True)


@pytest.mark.parametrize("name", STATUSES)
@pytest.mark.parametrize(("first", "status"), [(True, 0), (False, None)])
def test_stopped_at_its_end(tmp_path, name, first, status) -> None:
    """While the interpreter tidies up: by the signal's status, or, when nothing is left to stop, by its own."""
    register = f"atexit.register(os.kill, os.getpid(), signal.{name})"
    code = f"""
import atexit, os, signal
signal.signal(signal.SIGINT, signal.default_int_handler)
{register if first else ""}
from gpost import cli
from gpost.start import main
cli.main = lambda: {register if not first else "None"}
main()
"""
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ended.returncode == (STATUSES[name] if status is None else status)
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize("first", [True, False])
@pytest.mark.parametrize(("args", "status"), [(["--version"], 0), (["nothing"], 2)])
def test_ends_when_all_is_done(first, args, status) -> None:
    """What is to be done at the end is done, whoever asked for it first, and the status is the command's."""
    register = 'atexit.register(print, "done")'
    code = f"""
import atexit, sys
{register if first else ""}
from gpost import start
def listen(really=start.listen):
    really()
    {register if not first else "pass"}
start.listen = listen
start.main()
"""
    ended = subprocess.run(
        [sys.executable, "-c", code, *args], capture_output=True, text=True, check=False, timeout=PATIENCE_S
    )
    assert ended.returncode == status
    assert ended.stdout.splitlines()[-1] == "done"
    assert bool(ended.stderr) == bool(status)


def test_a_signal_that_is_to_be_ignored_is_ignored(shelf, bowl) -> None:
    """As a job that goes on when its terminal is closed."""
    bowl.put(shelf)
    code = (
        "import os, signal\nsignal.signal(signal.SIGHUP, signal.SIG_IGN)\nfrom gpost.start import main\n"
        "os.kill(os.getpid(), signal.SIGHUP)\nmain()"
    )
    args = ("run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode")
    ended = subprocess.run([sys.executable, "-c", code, *args], cwd=shelf, capture_output=True, check=False)
    assert ended.returncode == 0
    assert (shelf / "out.gcode").read_bytes() == bowl.output


# -- streams that are full -------------------------------------------------------------------------

SAYING = [("--help",), ("--version",), ("steps",), ("explain", "cold"), ("log", "add", "--help")]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no /dev/full here")
@pytest.mark.parametrize("args", [*SAYING, *((name, "--help") for name in COMMANDS)], ids=" ".join)
def test_nothing_can_be_said(args) -> None:
    """Standard output takes nothing: a sentence, status 1, no traceback."""
    with open("/dev/full", "wb") as full:
        command = [sys.executable, "-m", "gpost", *args]
        ended = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert ended.stderr == "Error: standard output can't be written: No space left on device\n"
    assert ended.returncode == 1


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no /dev/full here")
@pytest.mark.parametrize(
    ("args", "status"),
    [
        (("nosuch",), 2),
        (("run",), 2),
        (("run", "no.gcode", "--no-config", "-o", "x"), 2),
        (("log", "show"), 2),
        (("steps",), 0),
    ],
)
def test_not_even_what_is_wrong_can_be_said(tmp_path, args, status) -> None:
    """Standard error takes nothing: the status is the same as ever."""
    with open("/dev/full", "wb") as full:
        command = [sys.executable, "-P", "-m", "gpost", *args]
        ended = subprocess.run(command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=full, check=False)
    assert ended.returncode == status


# -- Python without docstrings and asserts ---------------------------------------------------------


@pytest.mark.parametrize("args", ["--help", *(f"{name} --help" for name in (*COMMANDS, *SUBCOMMANDS))])
def test_help_without_docstrings(tmp_path, args) -> None:
    """It is the same, word for word."""
    said = [gpost(tmp_path, *args.split(), PYTHONOPTIMIZE=level).stdout for level in ("", "2")]
    assert len(said[0].splitlines()) > 4
    assert said[0] == said[1]


def test_steps_without_docstrings(tmp_path) -> None:
    """All steps can be listed, explained and used; a step of one's own, too."""
    (tmp_path / "look.py").write_text(
        '"""A step."""\nfrom gpost.api import *\nclass Look(Step[Settings]):\n    """Looks.\n\n    Well.\n    """\n'
        "    name = 'look'\n    Settings = Settings\n    def plan(self, survey, plan): return []\n"
        "@hookimpl\ndef gpost_steps(): return [Look]\n"
    )
    for args in (("steps",), ("explain", "cold"), ("explain", "look")):
        said = [gpost(tmp_path, *args, "--steps-from", ".", PYTHONOPTIMIZE=level) for level in ("", "2")]
        assert said[1].returncode == 0, said[1].stderr
        assert said[0].stdout == said[1].stdout
    assert said[1].stdout.startswith("look\n\nLooks.\n\nWell.\n")


def test_the_demo_without_docstrings(tmp_path) -> None:
    """A whole demo comes out byte for byte as ever."""
    for level in ("", "2"):
        ended = gpost(tmp_path, "demo", f"demo{level}", PYTHONOPTIMIZE=level)
        assert ended.returncode == 0, ended.stderr
    names = sorted(path.name for path in (tmp_path / "demo").iterdir())
    assert len(names) >= 5
    assert [name for name in names if not same(tmp_path / "demo" / name, tmp_path / "demo2" / name)] == []


def same(one: Path, other: Path) -> bool:
    """Whether two files say the same, but for the names of their folders."""
    return one.read_bytes().replace(b"demo2", b"demo") == other.read_bytes().replace(b"demo2", b"demo")


# -- long names ------------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", ["a", "é", "花"])
def test_long_names_in_a_batch(shelf, bowl, letter) -> None:
    """Names up to the 255 bytes that a disk takes are done, and known again; each has a record of its own."""
    bowl.put(shelf)
    (shelf / "in").mkdir()
    names = set()
    for ending in (".gcode", ".nc"):
        for size in (240, 244, 245, 249, 250, 253, 254, 255):
            room = size - len(ending)
            stem = letter * (room // len(letter.encode()))
            names.add(stem + "x" * (room - len(stem.encode())) + ending)
    for name in names:
        (shelf / "in" / name).write_bytes(bowl.source)
    for result in ("done", "unchanged"):
        ended = gpost(shelf, "batch", "in", "-c", "recipe.yaml", "-o", "out", "--jobs", "1")
        assert ended.returncode == 0, ended.stdout + ended.stderr
        assert f" {len(names)} {result}" in ended.stdout.splitlines()[-1]
    assert len(list((shelf / "out").iterdir())) == 2 * len(names)
    for name in names:
        record = read_record(shelf / "out" / name)
        assert record is not None
        assert record.source == name
        assert len(os.fsencode(record_path(shelf / "out" / name).name)) <= 255


@pytest.mark.parametrize("size", [251, 255])
def test_a_long_name_for_one_run(shelf, bowl, size) -> None:
    """Both the source and the output may have one."""
    bowl.put(shelf)
    name, output = "s" * (size - 6) + ".gcode", "o" * (size - 6) + ".gcode"
    (shelf / "pot.gcode").rename(shelf / name)
    ended = gpost(shelf, "run", name, "-c", "recipe.yaml", "-o", output)
    assert ended.returncode == 0, ended.stderr
    assert (shelf / output).read_bytes().splitlines()[1:] == bowl.output.splitlines()[1:]
