"""A stop of the file's own that says after how many seconds it goes on: nobody is asked to come for it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import gpost
from gpost.report.model import Summary
from gpost.report.visits import visits, when_to_be_there

RING = "".join(f"G1 X{x} Y{y} E1\n" for x, y in ((140, 100), (140, 140), (100, 140), (100, 100)))
POT = f"G28\nG90\nM83\nG1 X100 Y100 Z2 F1200\n{RING}{{}}\nG1 Z4\n{RING}"
"""Two rings, with something between them."""


@pytest.fixture
def told(tmp_path: Path) -> Callable[[str], Summary]:
    """The summary of the pot with a line between its rings."""

    def run(line: str) -> Summary:
        source, studio = tmp_path / "pot.gcode", tmp_path / "studio.yaml"
        source.write_text(POT.format(line))
        studio.write_text("clay: {metering: {unit: ml, ml_per_unit: 1}, rim_min: 8}\n")
        return gpost.run(source, studio, tmp_path / "out.gcode", overwrite=True)

    return run


@pytest.mark.parametrize("line", ["M0 S600", "M0 S600 Look at the rim"])
def test_it_is_told_as_one_that_ends(told: Callable[[str], Summary], line: str) -> None:
    """How long it takes; no limit for a wait that the potter can't end, and no word that she is waited for."""
    summary = told(line)
    (pause,), (visit,) = summary.pauses, visits(summary)
    assert (pause.kind, pause.goes_on_after_s) == ("own", 600.0)
    assert visit.why.startswith("it stands still for 10 min and goes on by itself, the file's own M0")
    assert visit.doing == "keep your hands off: it goes on by itself after 10 min"
    assert (visit.limits, visit.rim_unknown) == ((), False)
    assert "rim" not in "".join(map(str, when_to_be_there(summary, long=False)))


def test_its_time_is_in_the_clock(told: Callable[[str], Summary]) -> None:
    """As that of a dwell; what waits for the potter is in none."""
    without = told("M0")
    assert told("M0 S600 Look").time_s == told("M0 S600").time_s == pytest.approx(without.time_s + 600, abs=0.1)
    assert without.pauses[0].goes_on_after_s is None
    assert visits(without)[0].why == "it waits for you, the file's own M0"
