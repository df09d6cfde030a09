"""Runs the tests that concern a change against it, each in a child of its own, in which alone the change is made.

The child is a fork: what the tests need is loaded once, and no file is touched.
"""

from __future__ import annotations

import contextlib
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import os
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import CodeType
from typing import Literal, NamedTuple

import pytest

from tests.mutation.mutants import NEAR, ROOT, TESTS, Mutant

Verdict = Literal["noticed", "too slow", "not noticed", "not tried"]
NOT_RUN = 70
"""Status of a child that could not run the tests: more than any of pytest's."""
LOADED = (
    "numpy",
    "scipy.stats",
    "scipy.optimize",
    "scipy.integrate",
    "hypothesis",
    "pydantic",
    "click.testing",
    "yaml",
)


class Run(NamedTuple):
    """How one change came out."""

    mutant: Mutant
    verdict: Verdict
    by: str
    """The test that noticed it."""
    seconds: float


class _Loader(importlib.machinery.SourceFileLoader):
    """Loads a module as if its file said something else."""

    def __init__(self, name: str, path: str, text: str) -> None:
        super().__init__(name, path)
        self._text = text

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._text, self.path, "exec", dont_inherit=True)


class _Finder(importlib.abc.MetaPathFinder):
    """Finds the one module that is changed."""

    def __init__(self, name: str, path: Path, text: str) -> None:
        self._name, self._path, self._text = name, str(path), text

    def find_spec(self, fullname, path=None, target=None):  # type: ignore[no-untyped-def]
        if fullname != self._name:
            return None
        loader = _Loader(fullname, self._path, self._text)
        folders = [str(Path(self._path).parent)] if self._path.endswith("__init__.py") else None
        return importlib.util.spec_from_file_location(
            fullname, self._path, loader=loader, submodule_search_locations=folders
        )


class _NoShrinking:
    """Failing examples are not made smaller: that one fails is all there is to know."""

    @pytest.hookimpl(trylast=True)
    def pytest_configure(self) -> None:
        from hypothesis import Phase, settings

        settings.register_profile("mutation", settings(), phases=(Phase.explicit, Phase.generate))
        settings.load_profile("mutation")


def load() -> None:
    """Load what all tests need, before the forks; nothing of the project itself."""
    for name in LOADED:
        importlib.import_module(name)
    assert not any(name.split(".")[0] in ("gpost", "gpost_plugins") for name in sys.modules)


def module_of(path: str) -> str:
    """The dotted name under which a file is imported."""
    parts = Path(path.removeprefix("plugins/")).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def tests_of(path: str) -> list[list[str]]:
    """The tests that concern a file, in stages: its own and those near it, those of its folder, what is built on it."""
    folder = next(name for name in TESTS if path.startswith(f"{name}/"))
    stem = Path(path).stem
    groups = [_files_of(name) for name in TESTS[folder]]
    rest = [file for group in groups for file in group]
    own = [file for file in rest if stem in Path(file).stem]
    near = [file for name in NEAR.get(path, ()) for file in _files_of(name)]
    stages, seen = [], set[str]()
    for stage in ([*own, *near], groups[0], rest):
        fresh = [file for file in dict.fromkeys(stage) if file not in seen]
        seen.update(fresh)
        stages.append(fresh)
    return [stage for stage in stages if stage]


def _files_of(name: str) -> list[str]:
    files = sorted((ROOT / name).rglob("test_*.py")) or [ROOT / name]
    return [str(file.relative_to(ROOT)) for file in files]


def unchanged(mutants: Sequence[Mutant]) -> list[Mutant]:
    """For each folder that is changed one run of its tests without any change: these must pass."""
    folders = dict.fromkeys(str(Path(mutant.path).parent) for mutant in mutants)
    return [Mutant(f"{folder}/__init__.py", 0, 0, "", 0) for folder in folders]


def results(mutants: Sequence[Mutant], processes: int, most_s: float) -> Iterator[Run]:
    """How each comes out, as it does; so many at a time, none longer than `most_s`."""
    waiting, running = list(reversed(mutants)), dict[int, tuple[Mutant, float, Path]]()
    with tempfile.TemporaryDirectory() as folder:
        while waiting or running:
            while waiting and len(running) < processes:
                mutant = waiting.pop()
                told = Path(folder) / f"{len(waiting)}.txt"
                running[_start(mutant, told)] = (mutant, time.monotonic(), told)
            for pid in list(running):
                mutant, begun, told = running[pid]
                ended, status = os.waitpid(pid, os.WNOHANG)
                late = time.monotonic() - begun > most_s
                if not ended and not late:
                    continue
                if not ended:
                    os.killpg(pid, signal.SIGKILL)
                    os.waitpid(pid, 0)
                del running[pid]
                yield Run(mutant, *_verdict(ended, status, told), time.monotonic() - begun)
            time.sleep(0.05)


def _start(mutant: Mutant, told: Path) -> int:
    """Fork a child that tests one change and ends with pytest's status; returns its process id."""
    pid = os.fork()
    if pid:
        with contextlib.suppress(OSError):
            os.setpgid(pid, pid)  # both do it, as either may come first
        return pid
    status = NOT_RUN
    try:
        os.setpgid(0, 0)
        out = os.open(told, os.O_WRONLY | os.O_CREAT)
        os.dup2(out, 1)
        os.dup2(out, 2)
        if mutant.operator:
            sys.meta_path.insert(0, _Finder(module_of(mutant.path), ROOT / mutant.path, mutant.source()))
        options = ("-x", "-q", "--no-header", "--tb=no", "-p", "no:cacheprovider")
        ours = ("-W", "ignore::pytest.PytestAssertRewriteWarning")  # of what was loaded before the fork
        for stage in tests_of(mutant.path):
            status = pytest.main([*options, *ours, *stage], plugins=[_NoShrinking()])
            if status != pytest.ExitCode.OK:
                break
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(int(status))


def _verdict(ended: int, status: int, told: Path) -> tuple[Verdict, str]:
    if not ended:
        return "too slow", ""
    code = os.waitstatus_to_exitcode(status)
    text = told.read_text("utf-8", "replace") if told.exists() else ""
    if code == pytest.ExitCode.OK:
        return "not noticed", ""
    if code in (pytest.ExitCode.NO_TESTS_COLLECTED, pytest.ExitCode.INTERNAL_ERROR, NOT_RUN):
        return "not tried", text[-2000:]
    if code == pytest.ExitCode.USAGE_ERROR and "ImportError while loading conftest" not in text:
        return "not tried", text[-2000:]
    failed = [line.split(" - ")[0] for line in text.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return "noticed", failed[0].split(" ", 1)[1] if failed else f"the run ended with {code}"
