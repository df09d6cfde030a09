"""Surveys of programs held in memory, and of walls given as points."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import TypeAlias

import pytest

from gpost.config.model import Clay, Config, CubicMillimetres
from gpost.read.source import CHUNK_BYTES, Source
from gpost.survey.build import survey_source
from gpost.survey.model import Survey

Point: TypeAlias = tuple[float, float, float, bool]
"""x, y, z in mm, and whether clay is laid on the way there."""

SECTION_MM2 = 12.0
CONFIG = Config(clay=Clay(metering=CubicMillimetres(unit="mm3"), bead_width_mm=6.0))
"""E counts cubic millimetres; beads are 6 mm wide."""


@pytest.fixture(scope="session")
def survey_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Survey]:
    """The survey of a program: `survey_of(program, config=..., chunk_bytes=...)`."""
    path = tmp_path_factory.mktemp("survey") / "pot.gcode"

    def survey(program: bytes | str, *, config: Config = CONFIG, chunk_bytes: int = CHUNK_BYTES) -> Survey:
        path.write_bytes(program.encode() if isinstance(program, str) else program)
        return survey_source(Source(path, chunk_bytes=chunk_bytes), config)

    return survey


def write_wall(points: Iterable[Point], *, decimals: int = 3) -> str:
    """A program that goes through points, laying an even bead where they say so."""
    rows = ["G21", "G90", "M83", "G28", "G0 F3000"]
    here = (0.0, 0.0, 0.0)
    for x, y, z, lays in points:
        words = f"X{x:.{decimals}f} Y{y:.{decimals}f} Z{z:.{decimals}f}"
        path = math.dist(here, (x, y, z))
        rows.append(f"G1 {words} E{path * SECTION_MM2:.5f} F1800" if lays else f"G0 {words}")
        here = (x, y, z)
    return "\n".join(rows) + "\n"


@pytest.fixture(scope="session")
def wall_of(survey_of: Callable[..., Survey]) -> Callable[..., Survey]:
    """The survey of a wall through points: `wall_of(points, decimals=3)`."""
    return lambda points, decimals=3: survey_of(write_wall(points, decimals=decimals))
