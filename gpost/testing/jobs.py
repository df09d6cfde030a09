"""Whole jobs in a passing folder: a step on lines or on the demo's bottle, and the machine's states."""

from __future__ import annotations

import dataclasses
import re
import tempfile
import weakref
from collections.abc import Collection, Iterable, Mapping
from contextlib import ExitStack
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import Any

from gpost.config.load import load_text
from gpost.config.model import Config
from gpost.demo.folder import PIECE, stock_recipe
from gpost.demo.gcode import class_pieces, slice_piece
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.pipeline import run_file, survey_file
from gpost.plan.plan import Plan
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.report.model import Summary
from gpost.steps.step import Step
from gpost.survey.marks import REMARK
from gpost.survey.model import Survey
from gpost.testing.pot import made_step

ConfigLike = Config | Mapping[str, Any] | None
SETTLED_LATER = ("motion", "feed_mm_min")
"""What a block may leave to the next line that needs it, whose own words set it."""
_BEGINS = re.compile(rf"{REMARK}([^:]+): ")
_NEAR = 1e-9
FULL_ML = 1000.0


@dataclasses.dataclass(frozen=True)
class Block:
    """One block that gpost has put into the output."""

    kind: str
    """What it is for: a pause's kind, `ask`, or `clay beside the piece`."""
    first_line: int
    """Its first line in the output, counted from 0."""
    lines: tuple[str, ...]
    before: MachineState
    """What the machine knows before its first line: place, registers, modes, feed, air."""
    after: MachineState
    """The same after its last line."""

    @property
    def changed(self) -> tuple[str, ...]:
        """Names of what is not as it was. Feed and motion mode are set by the line that needs them next."""
        names = [field.name for field in dataclasses.fields(MachineState) if field.name not in SETTLED_LATER]
        return tuple(
            name for name in names if not _same(getattr(self.before, name), getattr(self.after, name))
        )


@dataclasses.dataclass(frozen=True)
class Job:
    """A file that a step has been run on, and what came of it."""

    sliced: bytes
    output: bytes
    plan: Plan
    summary: Summary

    @property
    def lines(self) -> list[str]:
        """Those of the output, without their ends."""
        return [line.decode("utf-8", "replace") for line in self.output.splitlines()]

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """All that was put in with a remark where it begins and where it ends, in order."""
        lines = self.lines
        found = list(_blocks(lines))
        at = sorted({line for _, *ends in found for line in ends})
        known = dict(zip(at, states(self.output, at, self.plan.config), strict=True))
        return tuple(
            Block(kind, first, tuple(lines[first:end]), known[first], known[end])
            for kind, first, end in found
        )


def survey_of(lines: str | bytes | Iterable[str], config: ConfigLike = None) -> Survey:
    """The survey of a sliced file of these lines.

    None as `config`: gpost's own machine and clay. Raises SourceError, as for a file.
    """
    with ExitStack() as stack:
        folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="gpost-testing-"))
        path = Path(folder, "lines.gcode")
        path.write_bytes(_data(lines))
        survey = survey_file(path, _checked(config))
        # it reads single lines again when it is asked for them
        weakref.finalize(survey, stack.pop_all().close)
        return survey


def run_on_lines(
    step_class: type[Step[Any]],
    settings: Mapping[str, Any],
    lines: str | bytes | Iterable[str],
    config: ConfigLike = None,
    *,
    before: Iterable[Step[Any]] = (),
    allow: Collection[str] = (),
) -> Job:
    """Run the step on a sliced file of these lines, after the steps in `before`, as `gpost run` does.

    `allow` names findings that stop nothing. Raises pydantic.ValidationError for settings and config that are
    wrong, and GpostError for what `gpost run` refuses.
    """
    step, checked = made_step(step_class, settings, config)
    data = _data(lines)
    plans: list[Plan] = []
    with tempfile.TemporaryDirectory(prefix="gpost-testing-") as folder:
        source, output = Path(folder, "piece.gcode"), Path(folder, "piece-print.gcode")
        source.write_bytes(data)
        summary = run_file(source, output, checked, (*before, step), allow=allow, on_plan=plans.append)
        return Job(data, output.read_bytes(), plans[0], summary)


def run_on_bottle(
    step_class: type[Step[Any]],
    settings: Mapping[str, Any],
    config: ConfigLike = None,
    *,
    before: Iterable[Step[Any]] = (),
    allow: Collection[str] = (),
) -> Job:
    """Run the step on the bottle that `gpost demo` makes: 165.6 mm high, a wall that rises all the way round.

    None as `config`: what `bottle_config` gives. Raises as `run_on_lines`.
    """
    data = slice_piece(*class_pieces()[PIECE])
    given = bottle_config() if config is None else config
    return run_on_lines(step_class, settings, data, given, before=before, allow=allow)


def bottle_config() -> dict[str, Any]:
    """Machine and clay of the demo, without its steps, as plain values to change as you like.

    The cartridge holds all of the bottle, so that no step is needed to refill it.
    """
    config = load_text("recipe.yaml", stock_recipe()).config
    parts = {"machine", "clay", "cartridge"}
    found: dict[str, Any] = config.model_dump(mode="json", include=parts, exclude_unset=True)
    found["cartridge"]["volume_ml"] = FULL_ML
    return found


def states(
    gcode: str | bytes | Iterable[str], before_lines: Collection[int], config: ConfigLike = None
) -> list[MachineState]:
    """What the machine knows before each of these lines, counted from 0 and ascending.

    Past the last line: when all is done. Raises SourceError for a line that can't be followed.
    """
    checked, raw = _checked(config), _data(gcode).splitlines(keepends=True)
    state, found, offset = MachineState(), [], 0
    for start, end in pairwise([0, *before_lines]):
        data = b"".join(raw[start:end])
        if data:
            block = read_block(Chunk(data, offset, start))
            state = Follower(block, state, checked.machine, checked.clay.metering).end
        offset += len(data)
        found.append(state)
    return found


def _blocks(lines: list[str]) -> Iterable[tuple[str, int, int]]:
    """Kind, first line, and the line after the last, of each block that is in no other."""
    at = 0
    while at < len(lines):
        begins = _BEGINS.match(lines[at])
        ends = f"{REMARK}{begins[1]} ends" if begins else None
        if begins is None or ends not in lines[at:]:
            at += 1
            continue
        end = lines.index(str(ends), at) + 1
        yield begins[1], at, end
        at = end


def _data(lines: str | bytes | Iterable[str]) -> bytes:
    """The bytes of a file; blanks at both ends of a line are left out."""
    if isinstance(lines, bytes):
        return lines
    given = lines.strip().splitlines() if isinstance(lines, str) else lines
    return "".join(f"{line.strip()}\n" for line in given).encode()


def _checked(config: ConfigLike) -> Config:
    return config if isinstance(config, Config) else Config.model_validate(config or {})


def _same(one: Any, other: Any) -> bool:
    """Whether two values of a state are the same but for rounding."""
    if isinstance(one, tuple):
        return all(map(_same, one, other))
    if isinstance(one, float):
        return one == other or abs(one - other) <= _NEAR or (one != one and other != other)
    return bool(one == other)
