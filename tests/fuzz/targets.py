"""What is fuzzed: each takes bytes, and may end with a result or a GpostError, but with nothing else."""

from __future__ import annotations

import math
import signal
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import fields
from pathlib import Path
from types import FrameType
from typing import NoReturn, TypeAlias, TypeVar
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from gpost.config.load import load_config
from gpost.config.model import Config
from gpost.errors import GpostError, StepError
from gpost.motion import bycolumns as motion_by_columns
from gpost.motion import follow, pacecolumns, profile
from gpost.pipeline import run_file, survey_file
from gpost.preflight.model import ALLOWABLE
from gpost.preflight.ofsurvey import survey_findings
from gpost.read import bycolumns, words
from gpost.read.block import Block
from gpost.read.source import Chunk, Source
from gpost.report.jsonout import to_json
from gpost.report.survey import survey_json, survey_text
from gpost.report.text import to_text
from gpost.steps.recipe import make_recipe
from gpost.survey.build import survey_source
from gpost.survey.model import Survey
from tests.config_files import load_files

try:
    from gpost.read import onepass
except ImportError:  # there was no compiler
    onepass = None  # type: ignore[assignment]

T = TypeVar("T")
PATIENCE_S = 20
"""A case that takes longer hangs."""
LONGEST_SENTENCE = 40_000
CUT = b"#=====\n"
"""In a case of `job` the line between recipe and sliced file."""
STUDIO = (
    "machine: {bed: {x_max_mm: 300, y_max_mm: 300}, park: {x_mm: 15, y_mm: 15}}\n"
    "clay: {metering: {unit: filament, diameter_mm: 1.75}}\n"
)
Target: TypeAlias = Callable[[bytes, Path], None]
"""Does one case in a folder that is empty before."""


class Hang(BaseException):
    """The case takes too long."""


class Wrong(Exception):
    """A result that can't be right."""


def reader(data: bytes, folder: Path) -> None:
    """Survey a file, in chunks of the usual size and in tiny ones, which must come to the same."""
    path = folder / "case.gcode"
    path.write_bytes(data)
    _read_by_each(data)
    config = Config()
    found = _outcome(lambda: survey_file(path, config))
    with (
        patch.object(follow, "find_way", motion_by_columns.find_way),
        patch.object(follow, "straight", pacecolumns.straight),
        patch.multiple(profile, limits=pacecolumns.limits, settled=pacecolumns.settled),
    ):
        if _told(found) != _told(by_columns := _outcome(lambda: survey_file(path, config))):
            raise Wrong(f"followed by columns: {by_columns}; else: {found}")
    small = _outcome(lambda: survey_source(Source(path, chunk_bytes=64), config))
    if isinstance(found, Survey) and isinstance(small, Survey):
        _check_survey(found)
        if not _alike(found, small):
            raise Wrong("another result in chunks of 64 bytes")
    elif type(found) is not type(small):
        raise Wrong(f"in chunks of 64 bytes: {small}; else: {found}")
    if isinstance(found, GpostError):
        raise found


def _read_by_each(data: bytes) -> None:
    """Read it by columns and, where that is compiled, in one pass: the words are the same, or the refusal."""
    if onepass is None:
        return
    found = []
    for module in (bycolumns, onepass):
        with patch.object(words, "find_words", module.find_words):
            found.append(_outcome(lambda: words.read_block(Chunk(data, 0, 0))))
    ours, theirs = found
    if not (isinstance(ours, Block) and isinstance(theirs, Block)):
        if str(ours) != str(theirs):
            raise Wrong(f"by columns: {ours}; in one pass: {theirs}")
        return
    for column in fields(ours.words):
        pair = getattr(ours.words, column.name), getattr(theirs.words, column.name)
        if not np.array_equal(*pair, equal_nan=column.name == "value"):
            raise Wrong(f"another {column.name} by columns and in one pass")


def config(data: bytes, folder: Path) -> None:
    """Load a config and make its steps."""
    path = folder / "case.yaml"
    path.write_bytes(data)
    make_recipe(load_config([path]))


def job(data: bytes, folder: Path) -> None:
    """Do a sliced file with a recipe; on an error there must be no output."""
    recipe, _, sliced = data.partition(CUT)
    path, out = folder / "case.gcode", folder / "out.gcode"
    path.write_bytes(sliced)
    try:
        text = recipe.decode("utf-8", "replace")
        made = make_recipe(load_files({"studio.yaml": STUDIO, "case.yaml": text}))
        summary = run_file(path, out, made.config, made.steps, allow=ALLOWABLE)
    except GpostError as error:
        if {found.name for found in folder.iterdir()} != {"case.gcode"}:
            raise Wrong(f"something is left behind after: {error}") from error
        if isinstance(error, StepError):  # all steps are our own here
            raise Wrong(str(error)) from error
        raise
    if path.read_bytes() != sliced:
        raise Wrong("the source is changed")
    if not (to_text(summary) and to_json(summary)):
        raise Wrong("no summary")
    if out.read_bytes() != sliced and isinstance(_outcome(lambda: survey_file(out, made.config)), Survey):
        raise Wrong("a second run over the output is not refused")


TARGETS: dict[str, Target] = {"reader": reader, "config": config, "job": job}


def do(target: Target, data: bytes, folder: Path) -> str:
    """Do one case; returns how it ended, in a few words.

    Raises whatever is neither a result nor a GpostError, and Hang.
    """
    for path in folder.iterdir():
        path.unlink()
    with _patience(), warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            target(data, folder)
        except GpostError as error:
            text = str(error)
            if len(text) > LONGEST_SENTENCE or not all(c.isprintable() or c == "\n" for c in text):
                raise Wrong(f"a sentence that can't be shown: {text[:2000]!r}") from error
            return "".join(c for c in text[:200] if not c.isdigit())
    return "done"


@contextmanager
def _patience() -> Iterator[None]:
    def over(_number: int, _frame: FrameType | None) -> NoReturn:
        raise Hang

    before = signal.signal(signal.SIGALRM, over)
    signal.setitimer(signal.ITIMER_REAL, PATIENCE_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def _outcome(make: Callable[[], T]) -> T | GpostError:
    try:
        return make()
    except GpostError as error:
        return error


def _told(outcome: Survey | GpostError) -> object:
    """The layers of a survey to the last bit, and where it ends; or why there is none."""
    if isinstance(outcome, GpostError):
        return str(outcome)
    return outcome.layers.tobytes(), repr(outcome.end_state)


def _floats(survey: Survey) -> list[NDArray[np.float64]]:
    """The columns of the layer table that hold measures."""
    columns = [survey.layers[name] for name in survey.layers.dtype.names or ()]
    return [column for column in columns if column.dtype.kind == "f"]


def _alike(one: Survey, other: Survey) -> bool:
    """Whether two surveys are the same but for the order of sums."""
    if one.layers["first_line"].tolist() != other.layers["first_line"].tolist():
        return False
    pairs = [*zip(_floats(one), _floats(other), strict=True), (one.clay_ml, other.clay_ml)]
    return all(np.allclose(a, b, rtol=1e-6, atol=1e-3) for a, b in pairs)


def _check_survey(survey: Survey) -> None:
    """All numbers are numbers, and the survey can be shown."""
    if not all(np.isfinite(column).all() for column in _floats(survey)):
        raise Wrong("a number of a layer is none")
    if not all(
        map(math.isfinite, (survey.clay_ml, survey.time_s, survey.laid_path_mm, survey.travel_path_mm))
    ):
        raise Wrong("a sum is no number")
    found = survey_findings(survey, Config().machine.nozzle_mm)
    shown = survey_text(survey, found, name="case", whole=True)
    if not (shown and survey_json(survey, found, name="case", sha256="")):
        raise Wrong("nothing to show")
