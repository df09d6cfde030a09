"""Builds gpost's packages by setuptools: the same source gives the same bytes, and nothing else gets in.

Each wheel is built in a folder of its own: what an earlier build has left in `build/` or in an `egg-info`
is not looked at, so that no module that is gone comes back. Times are SOURCE_DATE_EPOCH where that is set;
modes, owners and order never hang on the machine. Compiled modules carry no symbols and no paths: the path of
the folder that they were built in is what made two of them differ.

The bytes hang on the versions of setuptools, Cython and the compiler all the same.
"""

from __future__ import annotations

import gzip
import io
import os
import sys
import sysconfig
import tarfile
import tempfile
import time
from collections.abc import Iterator, Mapping
from configparser import RawConfigParser
from contextlib import contextmanager
from email.parser import BytesParser
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

from setuptools import build_meta
from setuptools.build_meta import (
    build_editable,
    get_requires_for_build_editable,
    get_requires_for_build_wheel,
    prepare_metadata_for_build_editable,
    prepare_metadata_for_build_wheel,
)

__all__ = [
    "build_editable",
    "build_sdist",
    "build_wheel",
    "get_requires_for_build_editable",
    "get_requires_for_build_sdist",
    "get_requires_for_build_wheel",
    "prepare_metadata_for_build_editable",
    "prepare_metadata_for_build_wheel",
]

TOP = (
    *(".ci", ".gitignore", "DEVELOPERS.md", "README.md", "pyproject.toml"),
    *("configs", "gpost", "plugins", "tests"),
)
"""What the source is: nothing else beside them gets into a package, such as what the demo has written."""
Settings = Mapping[str, Any] | None


def get_requires_for_build_sdist(_settings: Settings = None) -> list[str]:
    """An sdist takes setuptools alone."""
    return []


def build_sdist(sdist_directory: str, _settings: Settings = None) -> str:
    """Pack all of the source, tests and configs too, as a tar file; returns its name."""
    with tempfile.TemporaryDirectory() as folder, _environment({}):
        found = prepare_metadata_for_build_wheel(folder)
        metadata = (Path(folder) / found / "METADATA").read_bytes()
    said = BytesParser().parsebytes(metadata, headersonly=True)
    name = f"{said['Name']}-{said['Version']}"
    epoch = int(os.environ.get("SOURCE_DATE_EPOCH") or time.time())
    target = Path(sdist_directory) / f"{name}.tar.gz"
    with (
        target.open("wb") as file,
        gzip.GzipFile("", "wb", fileobj=file, mtime=epoch) as packed,
        tarfile.open(fileobj=packed, mode="w", format=tarfile.PAX_FORMAT) as tar,
    ):
        _add(tar, f"{name}/PKG-INFO", metadata, 0o644, epoch)
        for path in source_files(Path()):
            mode = 0o755 if os.access(path, os.X_OK) and path.parts[0] == ".ci" else 0o644
            _add(tar, f"{name}/{path.as_posix()}", path.read_bytes(), mode, epoch)
    return target.name


def build_wheel(
    wheel_directory: str, settings: Settings = None, metadata_directory: str | None = None
) -> str:
    """Build a wheel in a folder that is fresh, with compiled modules stripped; returns its name."""
    with tempfile.TemporaryDirectory() as folder:
        config = RawConfigParser()
        config.read(os.environ.get("DIST_EXTRA_CONFIG", ()))
        config.read_dict(
            {
                "build": {"build_base": str(Path(folder) / "build")},
                "build_ext": {"force": "1"},
                "egg_info": {"egg_base": folder},
            }
        )
        extra = Path(folder) / "setup.cfg"
        with extra.open("w", encoding="utf-8") as file:
            config.write(file)
        with _environment({"DIST_EXTRA_CONFIG": str(extra), **_stripping()}):
            made: str = build_meta.build_wheel(wheel_directory, dict(settings or {}), metadata_directory)
            return made


def source_files(root: Path) -> list[Path]:
    """All files of the source, from the root, in order; what `.gitignore` names is made of it."""
    made = (root / ".gitignore").read_text("utf-8").split()
    found = []
    for top in TOP:
        path = root / top
        for file in sorted(path.rglob("*")) if path.is_dir() else [path]:
            own = file.relative_to(root)
            if file.is_file() and not _is_made(own, made):
                found.append(own)
    return found


def _is_made(path: Path, patterns: list[str]) -> bool:
    """Whether a pattern fits the file, or for one that ends in a slash a folder of it."""
    for pattern in patterns:
        if "/" in pattern.rstrip("/"):
            fits = fnmatch(path.as_posix(), pattern)
        elif pattern.endswith("/"):
            fits = any(fnmatch(part, pattern.rstrip("/")) for part in path.parts[:-1])
        else:
            fits = fnmatch(path.name, pattern)
        if fits:
            return True
    return False


def _add(tar: tarfile.TarFile, name: str, data: bytes, mode: int, epoch: int) -> None:
    member = tarfile.TarInfo(name)
    member.size, member.mode, member.mtime = len(data), mode, epoch
    tar.addfile(member, io.BytesIO(data))


def _stripping() -> dict[str, str]:
    """Flags for the compiler and the linker behind those that are set already."""
    if sys.platform == "win32":  # its compiler puts symbols into a file of their own
        return {}
    strip = "-Wl,-S,-x" if sys.platform == "darwin" else "-Wl,--strip-all"
    # CFLAGS stand instead of Python's own, by which it optimises: setuptools 76 and later
    compiler = os.environ.get("CFLAGS") or sysconfig.get_config_var("CFLAGS") or "-O3"
    return {"CFLAGS": f"{compiler} -g0", "LDFLAGS": f"{os.environ.get('LDFLAGS', '')} {strip}".strip()}


@contextmanager
def _environment(variables: Mapping[str, str]) -> Iterator[None]:
    """Work with these, and with the usual modes for new files."""
    before = dict(os.environ)
    mask = os.umask(0o022)
    os.environ.update(variables)
    try:
        yield
    finally:
        os.umask(mask)
        os.environ.clear()
        os.environ.update(before)
