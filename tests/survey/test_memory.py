"""What the survey holds at once of files that are made to fill the memory; whole ones: tests/bench/peaks.py."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest

from gpost.config.model import Config
from gpost.read.source import Source
from gpost.survey.build import survey_source
from tests.bench.peaks import SHAPES

MOST_MB = 55
"""Blocks take some 40, whatever the file is; read whole, each of these files would take more than twice that."""


@pytest.mark.parametrize(("shape", "count"), [("level-ring", 250_000), ("level-strokes", 40_000)])
def test_a_first_level_is_not_held_whole(shape: str, count: int, tmp_path: Path) -> None:
    """A ring in segments as fine as hairs, and strokes two kilometres long in all, under a ring that stands on them.

    Whether they are the piece's is asked of where their clay lies.
    """
    path = tmp_path / "piece.gcode"
    with path.open("w") as out:
        out.writelines(f"{line}\n" for line in SHAPES[shape][0](count))
    tracemalloc.start()
    try:
        survey = survey_source(Source(path), Config(), helper=False)
        peak_mb = tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()
    assert len(survey.layers) == 4
    assert peak_mb < MOST_MB
