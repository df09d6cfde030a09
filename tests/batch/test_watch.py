"""`gpost watch` as a process: real files that come, grow, change and go; waited for by what is said."""

from __future__ import annotations

import gzip
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest
import watchfiles

from gpost.batch import watch as watching
from gpost.batch.folder import BatchReport, Job, run_batch
from gpost.config.load import load_config
from gpost.demo.gcode import Piece, SliceStyle
from gpost.errors import ConfigError
from tests.sliced import slice_piece

DEADLINE_S = 40.0
"""In which whatever is waited for comes, also on a machine that is busy."""
STEP = '''
"""A step that does to a file what its name says."""

import os
import signal

from gpost.api import Note, Settings, Step, hookimpl

class Mind(Step[Settings]):
    """Minds the name of the file."""

    name = "mind"
    Settings = Settings

    def plan(self, survey, plan):
        if survey.name.startswith("killer"):
            os.kill(os.getpid(), signal.SIGKILL)
        if survey.name.startswith("slow"):
            print("slow", flush=True)
            signal.pause()
        return [Note("WORD")]

@hookimpl
def gpost_steps():
    return [Mind]
'''
STUDIO = """
machine: {bed: {x_max_mm: 300, y_max_mm: 300}}
clay: {metering: {unit: filament, diameter_mm: 1.75}}
steps: [mind]
"""


@pytest.fixture(scope="module")
def vase() -> bytes:
    return slice_piece(
        Piece(height_mm=8, radius_mm=30, segments=12, base_layers=1), SliceStyle(heaters=True)
    ).text


class Watcher:
    """The program at work, and what it says."""

    def __init__(self, home: Path, *args: str, settle_s: float) -> None:
        command = [sys.executable, "-m", "gpost", "watch", "in", "-c", "studio.yaml", "-o", "out"]
        command += ["--steps-from", "steps", "--settle-s", str(settle_s), "--jobs", "1", *args]
        self.process = subprocess.Popen(
            command,
            cwd=home,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )
        self.said: list[str] = []
        self._lines: queue.Queue[str | None] = queue.Queue()
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(line)
        self._lines.put(None)

    def until(self, *words: str) -> str:
        """The next line that has all these words; all said meanwhile are kept in `said`."""
        ends_s = time.monotonic() + DEADLINE_S
        while True:
            try:
                line = self._lines.get(timeout=max(ends_s - time.monotonic(), 0))
            except queue.Empty:
                line = None
            assert line is not None, f"{words} was not said, but {self.said}"
            self.said.append(line)
            if all(word in line for word in words):
                return line

    def end(self, number: int = signal.SIGINT) -> int:
        """Send a signal; the exit status. What is said to the end is in `said`."""
        self.process.send_signal(number)
        status = self.process.wait(DEADLINE_S)
        while (line := self._lines.get(timeout=DEADLINE_S)) is not None:
            self.said.append(line)
        return status


class Studio:
    """A folder that is watched, and what belongs to it."""

    def __init__(self, home: Path) -> None:
        self.home, self.folder, self.out = home, home / "in", home / "out"
        self.folder.mkdir()
        (home / "steps").mkdir()
        self.word("plain")
        (home / "studio.yaml").write_text(STUDIO)
        self.watchers: list[Watcher] = []

    def word(self, word: str) -> None:
        (self.home / "steps" / "minding.py").write_text(STEP.replace("WORD", word))

    def watch(self, *args: str, settle_s: float = 0.3) -> Watcher:
        self.watchers.append(Watcher(self.home, *args, settle_s=settle_s))
        self.watchers[-1].until("watching in; Ctrl-C ends it")
        return self.watchers[-1]

    def put(self, name: str, content: bytes) -> None:
        """Put a file into the folder at once."""
        spare = self.home / "spare"
        spare.write_bytes(content)
        spare.replace(self.folder / name)

    def record(self, name: str) -> str:
        return (self.out / f"{name}.gpost.json").read_text()


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    found = Studio(tmp_path)
    yield found
    for watcher in found.watchers:
        watcher.process.kill()
        watcher.process.wait()
        assert watcher.process.stdout is not None
        watcher.reader.join()
        watcher.process.stdout.close()


def test_new_and_changed_files(studio: Studio, vase: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """What lies there, what comes and what changes is done each time, with the batch's own output and record."""
    studio.put("a.gcode", vase)
    watcher = studio.watch("--summary")
    watcher.until("a.gcode: done, 4 layers, ")
    studio.put("b.gcode", vase)
    watcher.until("b.gcode: done, ")
    studio.put("a.gcode", vase + b"; changed\n")
    watcher.until("a.gcode: done, ")
    assert watcher.end() == 130
    monkeypatch.chdir(studio.home)
    job = Job(Path("other"), load_config([Path("studio.yaml")]), (Path("steps"),))
    assert {row.result for row in run_batch(Path("in"), job, processes=1).rows} == {"done"}
    for name in ("a.gcode", "b.gcode"):
        assert (studio.out / name).read_bytes() == (studio.home / "other" / name).read_bytes()
    assert (studio.out / "a.gcode").read_bytes().endswith(b"; changed\n")
    assert (studio.out / "a.gcode.txt").is_file()
    again = run_batch(Path("in"), Job(Path("out"), job.loaded, job.folders), processes=1)
    assert {row.result for row in again.rows} == {"unchanged"}


def test_recipes_configs_and_steps(studio: Studio, vase: bytes) -> None:
    """A recipe beside a file does that file anew; the studio's config and a step's code do all."""
    for name in ("a.gcode", "b.gcode"):
        studio.put(name, vase)
    watcher = studio.watch()
    for _ in range(2):
        watcher.until("done, ")
    said = len(watcher.said)
    (studio.folder / "b.yaml").write_text("clay: {colour: grey}\n")
    watcher.until("b.gcode: done, ")
    assert not any("a.gcode" in line for line in watcher.said[said:])
    assert "grey" in studio.record("b.gcode")
    (studio.home / "studio.yaml").write_text(STUDIO.replace("steps: [mind]", "steps: [mind, cold]"))
    for name in ("a.gcode", "b.gcode"):
        watcher.until(f"{name}: done, ")
        assert '"cold"' in studio.record(name)
    studio.word("brighter")
    for name in ("a.gcode", "b.gcode"):
        watcher.until(f"{name}: done, ")
        assert "brighter" in studio.record(name)
    assert watcher.end() == 130


def test_a_half_written_file_is_waited_for(studio: Studio, vase: bytes) -> None:
    """Cut in the middle of a line it is not done, and that is said; it is done when it is whole."""
    watcher = studio.watch(settle_s=2)
    half = vase.rindex(b"\nG1") + 5
    with (studio.folder / "a.gcode").open("wb") as file:
        file.write(vase[:half])
        file.flush()
        watcher.until("a.gcode ends in the middle of a line, or is empty; waiting")
        file.write(vase[half:])
    watcher.until("a.gcode: done, ")
    assert sum("done" in line for line in watcher.said) == 1
    assert (studio.out / "a.gcode").read_bytes().endswith(vase[-40:])


def test_packed_files_whole_and_damaged(studio: Studio, vase: bytes) -> None:
    """A packed file is done as any; of half a one it is said that it is damaged, and it is done when it is whole."""
    packed = gzip.compress(vase)
    watcher = studio.watch()
    studio.put("a.gcode.gz", packed[: len(packed) // 2])
    watcher.until("a.gcode.gz is damaged or cut short")
    assert not (studio.out / "a.gcode.gz").exists()
    studio.put("a.gcode.gz", packed)
    watcher.until("a.gcode.gz: done, ")
    assert gzip.decompress((studio.out / "a.gcode.gz").read_bytes())


def test_a_file_that_is_gone(studio: Studio, vase: bytes) -> None:
    """It is said, and what was made of it stays; its record too."""
    studio.put("a.gcode", vase)
    watcher = studio.watch()
    watcher.until("a.gcode: done, ")
    (studio.folder / "a.gcode").unlink()
    watcher.until("a.gcode is gone; what was made of it stays in out")
    assert {path.name for path in studio.out.iterdir()} == {"a.gcode", "a.gcode.gpost.json"}


def test_pages_and_index_follow_the_folder(studio: Studio, vase: bytes) -> None:
    """A new file gets its page and a place in the index, a changed one a new page; a file that is gone, and one
    that is bad, are said there too."""

    def index() -> str:
        return (studio.out / "index.html").read_text("utf-8")

    studio.put("a.gcode", vase)
    watcher = studio.watch("--pages")
    watcher.until("a.gcode: done")
    assert 'data-piece="a.gcode"' in index()
    assert 'href="./a.gcode.html"' in index()
    before = (studio.out / "a.gcode.html").read_bytes()
    studio.put("b.gcode", vase)
    watcher.until("b.gcode: done")
    assert index().index('data-piece="a.gcode"') < index().index('data-piece="b.gcode"')
    studio.put("a.gcode", vase.replace(b"F1800", b"F1500"))
    watcher.until("a.gcode: done")
    assert (studio.out / "a.gcode.html").read_bytes() != before
    studio.put("bad.gcode", b"G1 X[#1]\n")
    watcher.until("bad.gcode:")
    assert "<strong>bad.gcode</strong>: " in index()
    (studio.folder / "b.gcode").unlink()
    watcher.until("b.gcode is gone")
    studio.put("c.gcode", vase)
    watcher.until("c.gcode: done")
    assert index().count("Its sliced file is gone") == 1
    assert watcher.end() == 130


def test_bad_files_cost_the_others_nothing(studio: Studio, vase: bytes) -> None:
    """One that can't be read, and one that ends the process that does it, are told; the others are done."""
    studio.put("bad.gcode", b"G1 X[#1]\n")
    studio.put("killer.gcode", vase)
    studio.put("vase.gcode", vase)
    watcher = studio.watch()
    watcher.until("killer.gcode: its process died")
    told = "".join(watcher.said)
    assert "vase.gcode: done, " in told
    assert "bad.gcode: line 1: " in told
    studio.put("later.gcode", vase)
    watcher.until("later.gcode: done, ")
    assert not any("made of it before" in line for line in watcher.said)
    studio.put("later.gcode", b"G1 X[#1]\n")
    watcher.until("later.gcode: out still has what was made of it before")
    assert watcher.end() == 130


def test_what_is_wrong_is_said_once(studio: Studio, vase: bytes) -> None:
    """Of a bad file, an empty one and a link to nothing nothing more is said when only the common config changes."""
    studio.put("bad.gcode", b"G1 X[#1]\n")
    studio.put("empty.gcode", b"")
    (studio.folder / "link.gcode").symlink_to(studio.home / "nowhere.gcode")
    studio.put("vase.gcode", vase)
    watcher = studio.watch()
    watcher.until("empty.gcode is empty; slice the piece again")
    told = "".join(watcher.said)
    assert "link.gcode: it is a link to a file that isn't there" in told
    assert "empty.gcode: empty.gcode" not in told
    said = len(watcher.said)
    (studio.home / "studio.yaml").write_text(STUDIO.replace("steps: [mind]", "steps: [mind, cold]"))
    watcher.until("vase.gcode: done, ")
    studio.put("empty.gcode", vase)
    watcher.until("empty.gcode: done, ")
    assert not any(f"{name}.gcode: " in line for line in watcher.said[said:] for name in ("bad", "link"))
    studio.put("bad.gcode", b"G1 X[#1]\nG1 X1\n")
    watcher.until("bad.gcode: line 1: ")


def test_a_file_cut_short_at_a_line_s_end(studio: Studio, vase: bytes) -> None:
    """It is done, since it may be meant so, and warned of as by every command."""
    laid = [line for line in vase.split(b"\n") if line.startswith(b"G1") and b"X" in line and b"E" in line]
    studio.put("cut.gcode", vase[: vase.index(laid[-5]) + len(laid[-5]) + 1])
    watcher = studio.watch()
    watcher.until("cut.gcode: the file ends while it lays clay (line ")
    watcher.until("cut.gcode: done, ")


def test_a_config_that_goes_wrong_and_right(studio: Studio, vase: bytes) -> None:
    """While a common config is wrong nothing is done, and that is said; put right, all that waited is done."""
    watcher = studio.watch()
    (studio.home / "studio.yaml").write_text("machin: {}\n")
    studio.put("a.gcode", vase)
    watcher.until("nothing is done until this is put right: studio.yaml:1:1: machin")
    assert not (studio.out / "a.gcode").exists()
    (studio.home / "studio.yaml").write_text(STUDIO)
    watcher.until("a.gcode: done, ")


def test_wrong_from_the_start(studio: Studio) -> None:
    """No folder, and a config or a step that is wrong, end it at once with status 2."""
    command = [sys.executable, "-m", "gpost", "watch"]

    def run(folder: str, config: str) -> subprocess.CompletedProcess[str]:
        args = [*command, folder, "-c", config, "-o", "out"]
        return subprocess.run(
            args, cwd=studio.home, capture_output=True, text=True, timeout=DEADLINE_S, check=False
        )

    (studio.home / "wrong.yaml").write_text("machin: {}\n")
    for ended, said in (
        (run("nowhere", "studio.yaml"), "nowhere is no folder"),
        (run("in", "wrong.yaml"), "wrong.yaml:1:1: machin"),
        (run("in", "studio.yaml"), "mind"),
    ):
        assert ended.returncode == 2, ended.stderr
        assert said in ended.stderr


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
@pytest.mark.parametrize("name", ["a.gcode", "slow.gcode"])
def test_it_ends_cleanly(studio: Studio, vase: bytes, number: int, status: int, name: str) -> None:
    """Told to end while it waits or works it says so in a sentence, and leaves nothing half-written."""
    watcher = studio.watch()
    studio.put(name, vase)
    watcher.until("slow" if name == "slow.gcode" else "done, ")
    assert watcher.end(number) == status
    assert watcher.said[-1].startswith("Error: ")
    assert watcher.said[-1].endswith("no half-written file is left behind\n")
    assert not any("Traceback" in line for line in watcher.said)
    left = {path.name for path in studio.out.iterdir()}
    assert left == (set() if name == "slow.gcode" else {name, f"{name}.gpost.json"})


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="the system tells no handles")
def test_handles_and_memory_stay_flat(studio: Studio, vase: bytes) -> None:
    """After many files it holds no more open than after the first ones, and hardly more memory."""
    watcher = studio.watch()
    found: list[tuple[int, int]] = []
    for count in range(7):
        studio.put("a.gcode", vase + b"; %d\n" % count)
        watcher.until("a.gcode: done, ")
        place = Path("/proc", str(watcher.process.pid))
        status = (place / "status").read_text().partition("VmRSS:")[2]
        found.append((len(os.listdir(place / "fd")), int(status.split()[0])))
    handles, memory_kb = zip(*found, strict=True)
    assert max(handles[3:]) <= max(handles[:3])
    assert memory_kb[-1] - memory_kb[2] < 4096


class Enough(Exception):
    """Ends a watch that runs in the test itself."""


def watched_here(
    studio: Studio, on_report: Callable[[BatchReport], None], say: Callable[[str], None]
) -> NoReturn:
    config = studio.home / "studio.yaml"

    def job_of() -> Job:
        return Job(studio.out, load_config([config]), (studio.home / "steps",))

    watching.watch(studio.folder, job_of, [config], settle_s=0.1, processes=1, on_report=on_report, say=say)


@pytest.mark.parametrize(
    "error", [OSError("no more watches"), watchfiles._rust_notify.WatchfilesRustInternalError("odd")]
)
def test_a_system_that_tells_nothing(
    studio: Studio, vase: bytes, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    """Where changes can't be watched, that is said, and the folder is looked at all the same."""
    said: list[str] = []

    def refuse(*_args: Any, **_more: Any) -> NoReturn:
        raise error

    def enough(report: BatchReport) -> NoReturn:
        raise Enough(report.rows[0].name)

    monkeypatch.setattr(watchfiles, "watch", refuse)
    studio.put("a.gcode", vase)
    with pytest.raises(Enough, match=r"a\.gcode"):
        watched_here(studio, enough, said.append)
    assert said[1:] == [f"the system doesn't tell what changes ({error}); looking every 0.1 s instead"]


def test_a_folder_that_goes_away_and_comes_back(studio: Studio, vase: bytes) -> None:
    """That is said once; when it is there again only what is new in it is done."""
    studio.put("a.gcode", vase)
    said: list[str] = []
    done: list[str] = []
    away = studio.home / "away"

    def on_report(report: BatchReport) -> None:
        done.extend(row.name for row in report.rows)
        if done[-1] == "b.gcode":
            raise Enough
        studio.folder.rename(away)

    def say(text: str) -> None:
        if text.startswith("watching"):
            return
        said.append(text)
        away.rename(studio.folder)
        studio.put("b.gcode", vase)

    with pytest.raises(Enough):
        watched_here(studio, on_report, say)
    assert done == ["a.gcode", "b.gcode"]
    assert len(said) == 1
    assert "can't be read" in said[0]


def test_without_the_package(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """It says what to install, and not that it watches."""
    said: list[str] = []
    monkeypatch.setitem(sys.modules, "watchfiles", None)
    with pytest.raises(ConfigError, match=r"pip install 'gpost\[watch\]'"):
        watched_here(studio, lambda _report: None, said.append)
    assert said == []


def test_a_full_disk_is_told_and_waited_out(
    studio: Studio, vase: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What keeps a round from being done at all ends nothing: it is said, and the next change is done."""
    studio.put("a.gcode", vase)
    said: list[str] = []
    real, calls = watching.run_batch, [0]

    def full(*args: Any, **more: Any) -> BatchReport:
        calls[0] += 1
        if calls[0] == 1:
            raise OSError(28, "No space left on device", "out")
        return real(*args, **more)

    def say(text: str) -> None:
        if text.startswith("watching"):
            return
        said.append(text)
        studio.put("a.gcode", vase + b"; again\n")

    def enough(report: BatchReport) -> NoReturn:
        raise Enough(report.rows[0].result)

    monkeypatch.setattr(watching, "run_batch", full)
    with pytest.raises(Enough, match="done"):
        watched_here(studio, enough, say)
    assert said == ["a.gcode can't be done: out: No space left on device; then save again what is to be done"]
