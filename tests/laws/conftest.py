"""Runs the two passes on a program in memory, with wishes put into the plan by hand."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeAlias

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Intention
from gpost.plan.plan import Plan
from gpost.plan.rehearsal import rehearsed
from gpost.read.source import CHUNK_BYTES, Source
from gpost.survey.build import survey_source
from gpost.survey.model import Survey
from gpost.write.output import Written
from gpost.write.rewriter import Rewriter
from tests.reference.outputs import Output, take_apart
from tests.reference.state import Dialect

Wishes: TypeAlias = Iterable[Intention] | Callable[[Survey], Iterable[Intention]]


@dataclass(frozen=True)
class Rewritten:
    """One program before and after."""

    source: bytes
    output: bytes
    survey: Survey
    plan: Plan
    written: Written
    dialect: Dialect

    @cached_property
    def apart(self) -> Output:
        """The output in lines of the source and inserted blocks, run by the reference interpreter."""
        return take_apart(self.output, self.written.places.values(), self.dialect)

    @cached_property
    def before(self) -> Output:
        """The source, the same way."""
        return take_apart(self.source, (), self.dialect)


Rewrite: TypeAlias = Callable[..., Rewritten]


@pytest.fixture(scope="session")
def rewrite(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rewrite]:
    """rewrite(program, wishes, dialect=, config=, chunk_bytes=, rehearse_mm=); `config` changes keys of a roomy machine."""
    path = tmp_path_factory.mktemp("laws") / "piece.gcode"

    def run(
        program: bytes,
        wishes: Wishes,
        *,
        dialect: Dialect | None = None,
        config: dict[str, Any] | None = None,
        chunk_bytes: int = CHUNK_BYTES,
        rehearse_mm: float | None = None,
    ) -> Rewritten:
        spoken = dialect if dialect is not None else Dialect()
        path.write_bytes(program)
        source = Source(path, chunk_bytes=chunk_bytes)
        survey = survey_source(source, roomy(spoken, config or {}))
        wanted = wishes(survey) if callable(wishes) else wishes
        plan = Plan(survey, roomy(spoken, config or {})).adding("test", wanted)
        if rehearse_mm is not None:
            plan = rehearsed(plan, rehearse_mm)
        out = io.BytesIO()
        written = Rewriter(source, plan, "(test)").write(out)
        return Rewritten(program, out.getvalue(), survey, plan, written, spoken)

    yield run
    path.unlink(missing_ok=True)


def roomy(dialect: Dialect, changes: dict[str, Any]) -> Config:
    """A machine of a dialect with a park far from where generated programs go, and some keys changed."""
    machine: dict[str, Any] = {
        "bed": {"x_min_mm": -200, "x_max_mm": 500, "y_min_mm": -200, "y_max_mm": 500},
        "ceiling_mm": 900,
        "park": {"x_mm": -150, "y_mm": -150},
        "home": dict(zip(("x_mm", "y_mm", "z_mm"), dialect.home_mm, strict=True)),
        "dwell_p": dialect.dwell_p,
        "axis_mode_sets_e": dialect.axis_mode_sets_e,
        "arc_tolerance_mm": dialect.arc_tolerance_mm,
        "allow_commands": ["M400", "M42"],
    }
    rest = {key: value for key, value in changes.items() if key != "machine"}
    return Config.model_validate({"machine": {**machine, **changes.get("machine", {})}, **rest})
