"""What is timed: gpost's own work, and what somebody could do instead. Each runs in a process of its own.

Each contender makes ready, which is not timed, and gives the work. `command` alone has its start-up timed too.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path

Work = Callable[[], object]
"""What is timed; it gives the bytes done if these are not the whole file."""

SAMPLE_BYTES = 16_000_000
"""The slow parsers read only so much of the file; they are linear in it."""


def whole_job(path: Path) -> Work:
    """gpost run with all seven steps, from the sliced file to the file to run."""
    from tests.bench.recipe import TEXT

    return _job(path, TEXT)


def every_line(path: Path) -> Work:
    """gpost run with the steps that change numbers on every line: place, slab, base on 100 layers, taper."""
    from tests.bench.recipe import EVERY_LINE

    return _job(path, EVERY_LINE)


def _job(path: Path, recipe: str) -> Work:
    _as_the_program()
    from gpost.demo.gcode import class_pieces
    from gpost.pipeline import run_file
    from gpost.steps.manager import build_manager
    from tests.bench.recipe import config_and_steps
    from tests.sliced import write_piece

    config, steps = config_and_steps(build_manager(), recipe)
    out = path.with_suffix(".out")

    def work(sliced: Path = path) -> object:
        return run_file(sliced, out, config, steps, overwrite=True)

    with tempfile.TemporaryDirectory() as folder:  # what a job loads on its way is loaded by another
        short = Path(folder) / "short.gcode"
        write_piece(short, *class_pieces()["tall-bottle"])
        work(short)
    out.unlink()  # or the time to free what is replaced would be counted
    return work


def command(path: Path) -> Work:
    """The whole job as it is typed, with a preflight: a process of its own, its start and its end included."""
    from tests.bench.recipe import TEXT
    from tests.bench.start import compiled

    compiled()
    config, out = path.with_suffix(".yaml"), path.with_suffix(".out")
    config.write_text(TEXT)
    words = [sys.executable, "-m", "gpost", "run", path, "-c", config, "-o", out]
    out.unlink(missing_ok=True)
    return lambda: subprocess.run(words, check=True, stdout=subprocess.DEVNULL)


def survey_only(path: Path) -> Work:
    """The first pass alone."""
    _as_the_program()
    from gpost.config.model import Config
    from gpost.pipeline import survey_file

    return lambda: survey_file(path, Config())


def read_only(path: Path) -> Work:
    """Reading and finding words alone, by the reader in use."""
    _as_the_program()
    from gpost.read.source import Source
    from gpost.read.words import read_block

    def work() -> None:
        for chunk in Source(path).chunks():
            read_block(chunk)

    return work


def follow_only(path: Path) -> Work:
    """Reading and following the machine: blocks and motion, no survey."""
    _as_the_program()
    from gpost.config.model import Config
    from gpost.motion.follow import Follower
    from gpost.motion.state import MachineState
    from gpost.read.source import Source
    from gpost.read.words import read_block

    config = Config()

    def work() -> None:
        state = MachineState(relative=False)
        for chunk in Source(path).chunks():
            state = Follower(read_block(chunk), state, config.machine, config.clay.metering).end

    return work


def rewrite_only(path: Path) -> Work:
    """The second pass alone, of a plan of all seven steps that is made before, not flushed to the disk."""
    _as_the_program()
    from gpost.pipeline import make_plan
    from gpost.read.source import Source
    from gpost.steps.manager import build_manager
    from gpost.survey.build import survey_source
    from gpost.write.rewriter import Rewriter
    from tests.bench.recipe import config_and_steps

    config, steps = config_and_steps(build_manager())
    source = Source(path)
    plan = make_plan(survey_source(source, config), steps, config)

    def work() -> None:
        with path.with_suffix(".out").open("wb") as file:
            Rewriter(source, plan, "bench").write(file)

    return work


def read_by_columns(path: Path) -> Work:
    """The same by the reader for machines without a compiler."""
    _by_columns()
    return read_only(path)


def job_by_columns(path: Path) -> Work:
    """The whole job without what is compiled."""
    _by_columns()
    return whole_job(path)


def _by_columns() -> None:
    """As gpost works where there was no compiler."""
    from gpost.motion import bycolumns as motion_by_columns
    from gpost.motion import follow, pacecolumns, profile
    from gpost.read import bycolumns, words
    from gpost.survey import bycolumns as moves
    from gpost.survey import path, rounds, table
    from gpost.write import decimals, edits, figures

    follow.find_way, follow.straight = motion_by_columns.find_way, pacecolumns.straight
    profile.limits, profile.settled = pacecolumns.limits, pacecolumns.settled
    words.find_words, words.by_letter = bycolumns.find_words, bycolumns.by_letter
    edits.as_text, edits.splice, edits.raised = figures.as_text, figures.splice, figures.raised
    table.added_up, path.flags, rounds.wound = moves.added_up, moves.flags, moves.wound
    decimals.count_decimals = figures.count_decimals


def _as_the_program() -> None:
    from gpost.common.memory import keep_memory
    from gpost.common.process import prepare_process

    prepare_process()
    keep_memory()  # as the survey does: of reading alone most would else be the clearing of new memory


def plain_loop(path: Path) -> Work:
    """One regular expression per line, and its words as numbers by letter: what a script would begin with."""
    word = re.compile(rb"([A-Za-z])([-+]?[0-9.]+)")

    def work() -> None:
        with path.open("rb") as file:
            for line in file:
                {letter: float(number) for letter, number in word.findall(line)}

    return work


def text_loop(path: Path) -> Work:
    """The same as most would write it: lines of text, and a match at a time."""
    word = re.compile(r"([A-Za-z])([-+]?[0-9.]+)")

    def work() -> None:
        with path.open() as file:
            for line in file:
                words = {}
                for match in word.finditer(line):
                    words[match.group(1)] = float(match.group(2))

    return work


def bare_loop(path: Path) -> Work:
    """The expression per line alone: no number is made of what it finds."""
    word = re.compile(rb"([A-Za-z])([-+]?[0-9.]+)")

    def work() -> None:
        with path.open("rb") as file:
            for line in file:
                word.findall(line)

    return work


def gcodeparser(path: Path) -> Work:
    """Parse-only by the general-purpose PyPI parser gcodeparser."""
    from gcodeparser import parse_gcode_lines

    text = _sample(path, SAMPLE_BYTES)

    def work() -> int:
        for _ in parse_gcode_lines(text):
            pass
        return len(text)

    return work


def pygcode(path: Path) -> Work:
    """Parse-only by the general-purpose PyPI parser pygcode."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pygcode import Line

    text = _sample(path, SAMPLE_BYTES // 32)

    def work() -> int:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for line in text.splitlines():
                Line(line)
        return len(text)

    return work


def awk_scale(path: Path) -> Work:
    """awk multiplies every F by a factor: the least a script for feeds would do."""
    program = '{for(i=1;i<=NF;i++)if(substr($i,1,1)=="F")$i="F"substr($i,2)*0.8;print}'
    awk = shutil.which("mawk") or shutil.which("awk")
    if awk is None:
        raise LookupError("no awk on this machine")

    def work() -> None:
        with path.with_suffix(".out").open("wb") as out:
            subprocess.run([awk, program, str(path)], stdout=out, check=True)

    return work


def copy(path: Path) -> Work:
    """cp."""
    return lambda: subprocess.run(["cp", str(path), str(path.with_suffix(".out"))], check=True)


CONTENDERS: dict[str, Callable[[Path], Work]] = {
    f.__name__: f
    for f in (
        whole_job,
        command,
        every_line,
        survey_only,
        read_only,
        follow_only,
        rewrite_only,
        job_by_columns,
        read_by_columns,
        plain_loop,
        text_loop,
        bare_loop,
        gcodeparser,
        pygcode,
        awk_scale,
        copy,
    )
}


def _sample(path: Path, size: int) -> str:
    with path.open("rb") as file:
        data = file.read(size)
    return data[: data.rfind(b"\n") + 1].decode()
