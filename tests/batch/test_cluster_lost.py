"""A cluster that goes wrong: a real scheduler and real workers, each a process of its own that can be killed."""

from __future__ import annotations

import functools
import os
import re
import select
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path

import pytest

pytest.importorskip("distributed")

from gpost.batch import cluster
from gpost.batch import folder as batch
from gpost.batch.cluster import in_cluster
from gpost.batch.folder import Job, Row, run_batch
from gpost.demo.gcode import Piece, SliceStyle
from gpost.errors import ClusterError
from tests.config_files import load_files
from tests.sliced import slice_piece

VASE = slice_piece(Piece(height_mm=8, radius_mm=30, segments=12, base_layers=1), SliceStyle()).text
PATIENCE_S = 60
FAST = ("a.gcode", "b.gcode", "c.gcode")
SLOW = "slow.gcode"
STEP = '''
"""A step that says that it has begun with a slow file, and goes on when it is told to."""

from pathlib import Path
from gpost.api import Settings, Step, hookimpl

HOME = Path(__file__).parent.parent

class Mind(Step[Settings]):
    """Minds the name of the file."""

    name = "mind"
    Settings = Settings

    def plan(self, survey, plan):
        if survey.name.startswith("slow"):
            (HOME / "begun").write_text("x")
            (HOME / "go_on").open("rb", 0).read(1)
        return []

@hookimpl
def gpost_steps():
    return [Mind]
'''


class Cluster:
    """A scheduler with workers that are started, and killed, one by one."""

    def __init__(self, stack: ExitStack) -> None:
        self._stack = stack
        command = ("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        self.scheduler, self.address = self._start(r"Scheduler at: +(\S+)", *command)

    def worker(self, *options: str) -> subprocess.Popen[str]:
        """One more, with one thread, when it is there."""
        command = ("worker", self.address, "--no-nanny", "--nthreads", "1", "--no-dashboard", *options)
        return self._start(r"(Registered to)", *command)[0]

    def _start(self, sign: str, *command: str) -> tuple[subprocess.Popen[str], str]:
        process = self._process("-m", "dask", *command)
        assert process.stderr is not None
        found = next(match for line in process.stderr if (match := re.search(sign, line)))
        return process, found[1]

    def batch(self, home: Path) -> subprocess.Popen[str]:
        """`gpost batch` on the cluster."""
        args = ("-c", "studio.yaml", "-o", "out", "--steps-from", "steps", "--cluster", self.address)
        return self._process("-P", "-m", "gpost", "batch", "in", *args, cwd=home)

    def _process(self, *args: str, cwd: Path | None = None) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, *args],
            cwd=cwd,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )
        self._stack.enter_context(process)
        self._stack.callback(process.kill)
        return process


@pytest.fixture
def dask(tmp_path: Path) -> Iterator[Cluster]:
    """A scheduler without workers; all ends with the test."""
    with ExitStack() as stack:
        yield Cluster(stack)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder `in` of three vases and a slow one, a folder with the step, and a config that uses it."""
    for name in ("in", "steps"):
        (tmp_path / name).mkdir()
    for name in (*FAST, SLOW):
        (tmp_path / "in" / name).write_bytes(VASE)
    (tmp_path / "steps" / "minding.py").write_text(STEP)
    (tmp_path / "studio.yaml").write_text("steps: [mind]\n")
    for name in ("begun", "go_on"):
        os.mkfifo(tmp_path / name)
    return tmp_path


def wait_until_begun(home: Path) -> None:
    """Return when the step has begun with the slow file."""
    with open(os.open(home / "begun", os.O_RDONLY | os.O_NONBLOCK), "rb", 0) as begun:
        assert select.select([begun], [], [], PATIENCE_S)[0]
        assert begun.read(1) == b"x"


def written(home: Path) -> list[str]:
    """All that stands in the folder of outputs, hidden files too."""
    return sorted(path.name for path in (home / "out").iterdir())


def with_records(names: Sequence[str]) -> list[str]:
    """Outputs, each with its record."""
    return sorted([*names, *(f"{name}.gpost.json" for name in names)])


def test_the_scheduler_dies(dask: Cluster, home: Path) -> None:
    """A sentence, a true count, no traceback, nothing half-written; the same command does the rest."""
    dask.worker()
    process = dask.batch(home)
    wait_until_begun(home)
    dask.scheduler.kill()
    out, err = process.communicate(timeout=PATIENCE_S)
    assert err == (
        f"Error: the cluster's scheduler at {dask.address} has ended. 3 of 4 files are done, nothing is "
        "half-written; the same command does the rest\n"
    )
    assert out.splitlines()[-1] == "3 of 4 files: 3 done, 0 unchanged, 0 skipped, 0 failed"
    assert process.returncode == 1
    assert written(home) == with_records(FAST)


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_stopped_while_a_worker_works(dask: Cluster, home: Path, number: int, status: int) -> None:
    """It ends though the worker goes on; what the worker does afterwards leaves nothing."""
    dask.worker()
    process = dask.batch(home)
    wait_until_begun(home)
    process.send_signal(number)
    out, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == status
    assert err.startswith("Error: ")
    assert len(err.splitlines()) == 1
    assert number != signal.SIGINT or "3 of 4 files: 3 done" in out
    assert written(home) == with_records(FAST)
    with open(os.open(home / "go_on", os.O_RDWR), "wb", 0) as go_on:
        go_on.write(b"x")
        assert list(in_cluster([5], plain, dask.address)) == [
            (5, 5)
        ]  # its one thread has ended the slow file
    assert written(home) == with_records(FAST)


def plain() -> Callable[[int], int]:
    """Gives the function that does an item."""
    return int


def test_stopped_while_there_is_no_worker(dask: Cluster, home: Path) -> None:
    """After a few seconds it is said that there is none; Ctrl-C then ends it and leaves nothing."""
    process = dask.batch(home)
    assert process.stderr is not None
    said = process.stderr.readline()
    assert said.startswith(f"the cluster at {dask.address} has no worker; it is given up in ")
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=PATIENCE_S)
    assert err == "Error: stopped; the files that are done stay done, nothing is half-written\n"
    assert process.returncode == 130
    assert written(home) == []


def test_no_worker_comes(dask: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is said once, and given up after a time."""
    monkeypatch.setattr(cluster, "SAID_S", 0.0)
    monkeypatch.setattr(cluster, "PATIENCE_S", 2.0)
    said: list[str] = []
    with pytest.raises(ClusterError, match=r"had no worker for 2 s; start one"):
        list(in_cluster([5], plain, dask.address, say=said.append))
    assert [re.sub(r"\d s", "N s", text) for text in said] == [
        f"the cluster at {dask.address} has no worker; it is given up in N s"
    ]


def test_a_worker_comes_late(dask: Cluster, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who starts the worker when it is said that there is none has lost nothing."""
    monkeypatch.setattr(cluster, "SAID_S", 0.0)
    found = in_cluster(
        [5, 6], plain, dask.address, say=lambda _text: functools.partial(dask.worker)() and None
    )
    assert sorted(found) == [(5, 5), (6, 6)]


def test_the_last_worker_dies(dask: Cluster, home: Path) -> None:
    """That there is none is said in mid-run, too; another one does what it left, from its beginning."""
    worker = dask.worker()
    process = dask.batch(home)
    wait_until_begun(home)
    worker.kill()
    assert process.stderr is not None
    assert "has no worker" in process.stderr.readline()
    dask.worker()
    wait_until_begun(home)
    with open(os.open(home / "go_on", os.O_RDWR), "wb", 0) as go_on:
        go_on.write(b"x")
        out, err = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, err) == (0, "")
    assert out.splitlines()[-1].startswith("4 of 4 files: ")  # one whose answer died with the worker: unchanged
    assert out.splitlines()[-1].endswith(" 0 skipped, 0 failed")
    assert written(home) == with_records((*FAST, SLOW))


def test_a_worker_dies_with_its_answer(dask: Cluster, monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer that nobody has any more is waited for again; the scheduler is not said to have ended."""
    import distributed

    asked: list[str] = []
    result = distributed.Future.result

    def lost_once(future: distributed.Future, timeout: float) -> object:
        asked.append(future.key)
        if len(asked) == 1:
            raise TimeoutError
        return result(future, timeout)

    monkeypatch.setattr(distributed.Future, "result", lost_once)
    dask.worker()
    assert sorted(in_cluster([5, 6], plain, dask.address)) == [(5, 5), (6, 6)]
    assert len(asked) == 3


HIDE = """
from pathlib import Path

def exists(path, really=Path.exists):
    return not str(path).startswith({hidden!r}) and really(path)

Path.exists = exists
"""


@pytest.mark.parametrize("hidden", ["in", "out", "steps"])
def test_a_path_that_a_worker_cannot_see(dask: Cluster, home: Path, hidden: str) -> None:
    """The worker and the path are named, and nothing is written."""
    (home / "hide.py").write_text(HIDE.format(hidden=str(home / hidden)))
    dask.worker("--preload", str(home / "hide.py"))
    process = dask.batch(home)
    out, err = process.communicate(timeout=PATIENCE_S)
    path = re.escape(str(home / hidden)) + (r"/\.gpost-\w+" if hidden == "out" else "")
    assert re.fullmatch(
        rf"Error: the worker tcp://[\d.:]+ can't see {path}; share that folder with it under the same path\. "
        r"0 of 4 files are done, nothing is half-written; the same command does the rest\n",
        err,
    )
    assert process.returncode == 1
    assert out.splitlines()[-1].startswith("0 of 4 files")
    assert written(home) == []


def test_a_worker_that_cannot_begin(dask: Cluster) -> None:
    """As where gpost is not installed: a sentence with the reason."""
    dask.worker()
    with pytest.raises(
        ClusterError,
        match=r"can't do its work \(ZeroDivisionError: integer division or modulo by zero\); install",
    ):
        list(in_cluster([5], unable, dask.address))


def test_a_worker_without_gpost(dask: Cluster, home: Path) -> None:
    """So, too, where the work can't even be read."""
    (home / "without.py").write_text("import sys\nsys.modules['gpost'] = None\n")
    dask.worker("--preload", str(home / "without.py"))
    process = dask.batch(home)
    _, err = process.communicate(timeout=PATIENCE_S)
    assert err.startswith("Error: a worker of the cluster can't do its work (")
    assert "Traceback" not in err
    assert process.returncode == 1
    assert written(home) == []


def unable() -> Callable[[int], int]:
    """Can't give a function."""
    return (lambda zero: int)(1 // 0)


# -- what is written without anybody's hearing of it -----------------------------------------------


@pytest.mark.parametrize("ends", [ClusterError("the cluster has ended"), KeyboardInterrupt()])
def test_files_whose_result_never_came_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ends: BaseException
) -> None:
    """Of four files one is heard of, one done unheard, one lacks its record still, and one is not begun."""
    source = tmp_path / "in"
    source.mkdir()
    for name in (*FAST, "d.gcode"):
        (source / name).write_bytes(VASE)
    job = Job(tmp_path / "out", load_files([("recipe.yaml", "steps: [tally]\n")]))

    def breaks(
        items: Sequence[Path], prepare: Callable[[], Callable[[Path], Row]], *_: str, **__: object
    ) -> Iterator[tuple[Path, Row]]:
        do = prepare()
        yield items[0], do(items[0])
        do(items[1])
        do(items[2])
        (tmp_path / "out" / "c.gcode.gpost.json").unlink()
        raise ends

    monkeypatch.setattr(batch, "in_cluster", breaks)
    report = run_batch(source, job, cluster="tcp://127.0.0.1:9")
    assert [(row.name, row.result) for row in report.rows] == [
        ("a.gcode", "done"),
        ("b.gcode", "done"),
        ("c.gcode", "failed"),
    ]
    assert report.rows[0].layers == report.rows[1].layers > 1
    assert "its output is written, but not the record of it" in report.rows[2].reason
    assert (report.ready, report.total) == (2, 4)
    assert report.stopped == isinstance(ends, KeyboardInterrupt)
    monkeypatch.undo()
    again = run_batch(source, job, processes=1)
    assert [row.result for row in again.rows] == ["unchanged", "unchanged", "done", "done"]


def test_what_stood_there_before_is_not_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Outputs of an earlier batch that nobody has looked at in this one."""
    source = tmp_path / "in"
    source.mkdir()
    (source / "a.gcode").write_bytes(VASE)
    job = Job(tmp_path / "out", load_files([("recipe.yaml", "steps: [tally]\n")]))
    assert run_batch(source, job, processes=1).ready == 1

    def breaks(*_: object, **__: object) -> Iterator[tuple[Path, Row]]:
        raise ClusterError("the cluster has ended")
        yield

    monkeypatch.setattr(batch, "in_cluster", breaks)
    assert run_batch(source, job, cluster="tcp://127.0.0.1:9").rows == ()
