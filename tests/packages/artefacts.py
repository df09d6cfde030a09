"""Builds gpost's packages from a copy of the source, and puts them into environments that hold nothing else."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
OLDEST = (3, 11)
EPOCH = "1700000000"
"""SOURCE_DATE_EPOCH: 14 November 2023."""


def backend() -> ModuleType:
    """What builds the packages, loaded as a module."""
    spec = importlib.util.spec_from_file_location("backend", ROOT / ".ci" / "backend.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def copy_source(folder: Path) -> Path:
    """The source alone, in a folder of its own."""
    for file in backend().source_files(ROOT):
        target = folder / file
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / file, target)
    return folder


@cache
def pythons() -> dict[str, str]:
    """Every Python of this machine that gpost is for, one of each minor version: its name, and where it is."""
    names = [f"python3.{minor}" for minor in range(OLDEST[1], 30)]
    found = [sys.executable, *(path for name in names if (path := shutil.which(name)))]
    for folder in (Path.home() / ".pyenv/versions", Path.home() / ".local/share/uv/python", Path("/opt/python")):
        found += [str(path) for path in sorted(folder.glob("*/bin/python3"))]
    known: dict[str, str] = {}
    for path in found:
        said = subprocess.run(
            [path, "-c", "import sys, venv, ensurepip; print(*sys.version_info[:2], sys.implementation.name)"],
            capture_output=True,
            text=True,
            check=False,
        )
        version = re.fullmatch(r"(\d+) (\d+) cpython\n", said.stdout)
        if said.returncode == 0 and version and (int(version[1]), int(version[2])) >= OLDEST:
            known.setdefault(f"{version[1]}.{version[2]}", path)
    return known


def ran(*words: str | Path, folder: Path, status: int = 0, variables: Mapping[str, str] | None = None) -> str:
    """What a program prints, in a folder and without anything of this checkout on its path; it must end so."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
    done = subprocess.run(
        [str(word) for word in words],
        cwd=folder,
        env={**kept, **(variables or {})},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    assert done.returncode == status, f"{words}: {done.stdout}"
    return done.stdout


def build(source: Path, target: Path, kind: str, **variables: str) -> Path:
    """The sdist or the wheel of a folder, as this Python builds it."""
    ran(sys.executable, "-m", "build", f"--{kind}", "-o", target, source, folder=source, variables=variables)
    (made,) = target.iterdir()
    return made


class Shop(NamedTuple):
    """A fresh environment, and an empty folder to work in."""

    folder: Path
    python: Path

    def pip(self, *words: str | Path) -> str:
        """Install something, or take it out."""
        return ran(self.python, "-m", "pip", "-q", *words, folder=self.folder)

    def gpost(self, *words: str | Path, status: int = 0) -> str:
        """What the installed program says."""
        program = self.python.with_name("gpost" + self.python.suffix)
        return ran(program, *words, folder=self.folder, status=status)

    def has(self, package: str) -> bool:
        """Whether it is installed there."""
        code = f"import importlib.metadata as m; print(any(d.name == {package!r} for d in m.distributions()))"
        return ran(self.python, "-c", code, folder=self.folder) == "True\n"


def new_shop(python: str, folder: Path) -> Shop:
    """An environment of that Python with nothing in it."""
    folder.mkdir()
    ran(python, "-m", "venv", folder / "env", folder=folder)
    (folder / "work").mkdir()
    bin_folder = folder / "env" / ("Scripts" if os.name == "nt" else "bin")
    return Shop(folder / "work", bin_folder / ("python.exe" if os.name == "nt" else "python"))
