"""What is timed: gpost's own work, and what somebody could do instead. Each runs in a process of its own."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import warnings
from collections.abc import Callable
from pathlib import Path

SAMPLE_BYTES = 16_000_000
"""The slow parsers read only so much of the file; they are linear in it."""


def _as_the_program() -> None:
    from gpost.cli import prepare_process

    prepare_process()


def whole_job(path: Path) -> int:
    """gpost run with all seven steps, from the sliced file to the file to run."""
    _as_the_program()
    from gpost.manager import build_manager
    from gpost.pipeline import run_file
    from tests.bench.recipe import config_and_steps

    config, steps = config_and_steps(build_manager())
    run_file(path, path.with_suffix(".out"), config, steps, overwrite=True)
    return path.stat().st_size


def command(path: Path) -> int:
    """The same as it is typed, with a preflight: a process of its own, its start and its end included."""
    from tests.bench.recipe import TEXT

    config, out = path.with_suffix(".yaml"), path.with_suffix(".out")
    config.write_text(TEXT)
    words = ["run", path, "-c", config, "-o", out, "--overwrite"]
    subprocess.run([sys.executable, "-m", "gpost", *words], check=True, stdout=subprocess.DEVNULL)
    return path.stat().st_size


def survey_only(path: Path) -> int:
    """The first pass alone."""
    _as_the_program()
    from gpost.config.model import Config
    from gpost.pipeline import survey_file

    survey_file(path, Config())
    return path.stat().st_size


def read_only(path: Path) -> int:
    """Reading and finding words alone."""
    _as_the_program()
    from gpost.read.source import Source
    from gpost.read.words import read_block

    for chunk in Source(path).chunks():
        read_block(chunk)
    return path.stat().st_size


def every_line(path: Path) -> int:
    """gpost run with the steps that change numbers on every line: place, slab, base on 100 layers, taper."""
    _as_the_program()
    from gpost.manager import build_manager
    from gpost.pipeline import run_file
    from tests.bench.recipe import EVERY_LINE, config_and_steps

    config, steps = config_and_steps(build_manager(), EVERY_LINE)
    run_file(path, path.with_suffix(".out"), config, steps, overwrite=True)
    return path.stat().st_size


def plain_loop(path: Path) -> int:
    """One regular expression per line, and its words as numbers by letter: what a script would begin with."""
    word = re.compile(rb"([A-Za-z])([-+]?[0-9.]+)")
    with path.open("rb") as file:
        for line in file:
            {letter: float(number) for letter, number in word.findall(line)}
    return path.stat().st_size


def bare_loop(path: Path) -> int:
    """The same expression per line alone: no number is made of what it finds."""
    word = re.compile(rb"([A-Za-z])([-+]?[0-9.]+)")
    with path.open("rb") as file:
        for line in file:
            word.findall(line)
    return path.stat().st_size


def gcodeparser(path: Path) -> int:
    """Parse-only by the general-purpose PyPI parser gcodeparser."""
    from gcodeparser import parse_gcode_lines

    text = _sample(path)
    for _ in parse_gcode_lines(text):
        pass
    return len(text)


def pygcode(path: Path) -> int:
    """Parse-only by the general-purpose PyPI parser pygcode."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pygcode import Line

        text = _sample(path)[: SAMPLE_BYTES // 32]
        text = text[: text.rfind("\n")]
        for line in text.splitlines():
            Line(line)
    return len(text)


def awk_scale(path: Path) -> int:
    """awk multiplies every F by a factor: the least a script for feeds would do."""
    program = '{for(i=1;i<=NF;i++)if(substr($i,1,1)=="F")$i="F"substr($i,2)*0.8;print}'
    awk = shutil.which("mawk") or shutil.which("awk")
    if awk is None:
        raise LookupError("no awk on this machine")
    with path.with_suffix(".out").open("wb") as out:
        subprocess.run([awk, program, str(path)], stdout=out, check=True)
    return path.stat().st_size


def copy(path: Path) -> int:
    """cp."""
    subprocess.run(["cp", str(path), str(path.with_suffix(".out"))], check=True)
    return path.stat().st_size


CONTENDERS: dict[str, Callable[[Path], int]] = {
    f.__name__: f
    for f in (
        whole_job,
        command,
        every_line,
        survey_only,
        read_only,
        plain_loop,
        bare_loop,
        gcodeparser,
        pygcode,
        awk_scale,
        copy,
    )
}


def _sample(path: Path) -> str:
    with path.open("rb") as file:
        data = file.read(SAMPLE_BYTES)
    return data[: data.rfind(b"\n") + 1].decode()
