"""Travels that count as clay by the path, in a file that switches its auger by codes of its own.

M3 and M5: NISTIR 6556, section 3.6.2. M42: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.preflight.checks import Preflight, refusal
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.survey.build import survey_source

Check = Callable[..., dict[str, Finding]]
BY_PATH: dict[str, Any] = {"clay": {"metering": {"unit": "path", "bead_height_mm": 2}}}


def rings(on: str, off: str, travel: str = "G1") -> str:
    """Three rings of a square; off on the way up to each, 2 + 100 mm and 2 + 2 times 60 mm on the level."""
    lines = ["G28", "G90", off]
    for z_mm in (2, 4, 6):
        lines += [f"{travel} X160 F3000", f"{travel} X100 Y100 F3000", f"G0 Z{z_mm}", on]
        lines += [f"G1 X{x} Y{y} F1200" for x, y in ((140, 100), (140, 140), (100, 140), (100, 100))]
        lines.append(off)
    return "\n".join([*lines, ""])


@pytest.mark.parametrize(("on", "off"), [("M3 S600", "M5"), ("M42 P5 S255", "M42 P5 S0"), ("M126", "M127"), ("M101", "M103")])
def test_clay_that_is_counted_while_it_is_off_is_told(check: Check, on: str, off: str) -> None:
    """160 + hypot(60, 100) + 2 times (60 + 60) mm, on three ways; with the key that ends it."""
    finding = check(rings(on, off), BY_PATH)["off-path"]
    assert (finding.severity, finding.line, finding.count) == ("warning", 3, 3)
    assert f"by the path, 0.517 m of it while what {on} (line 7) switches on is off" in finding.text
    assert "`auger: {on: " in finding.text


@pytest.mark.parametrize("chunk_bytes", [30, 200, 1 << 18])
def test_where_the_file_is_cut_can_t_be_seen(tmp_path: Path, chunk_bytes: int) -> None:
    """The same place, number and length."""
    path = tmp_path / "pot.gcode"
    path.write_text(rings("M3 S600", "M5"))
    config = Config.model_validate(BY_PATH)
    preflight = Preflight(config)
    survey = survey_source(Source(path, chunk_bytes=chunk_bytes), config, None, (preflight.observe,))
    (found,) = [one for one in preflight.findings(Plan(survey, config)) if one.name == "off-path"]
    assert (found.line, found.count, "0.517 m" in found.text) == (3, 3, True)


@pytest.mark.parametrize(
    ("text", "config"),
    [
        (rings("M3 S600", "M5", "G0"), BY_PATH),
        # a light, always on
        ("M42 P5 S9\n" + rings("G4 P1", "G4 P1"), BY_PATH),
        # switched off once, and never on
        (rings("G4 P1", "M5"), BY_PATH),
        (rings("M3 S600", "M5"), {**BY_PATH, "machine": {"pushes_no_clay": ["M3"]}}),
        (rings("M3 S600", "M5"), {**BY_PATH, "machine": {"auger": {"on": "M3 S<level>", "off": "M5"}}}),
        (rings("M3 S600", "M5").replace("F1200", "E1 F1200"), {}),
    ],
)
def test_other_files_are_as_they_should_be(check: Check, text: str, config: dict[str, Any]) -> None:
    """Nothing counts that is laid by nothing, or nobody knows."""
    assert "off-path" not in check(text, config)


def test_it_is_told_where_it_may_be_why_a_job_is_refused() -> None:
    """Travels that count as clay make layers and pieces of their own."""
    found = (Finding("plan", "error", None, "can't be done"), Finding("off-path", "warning", 3, "so much", 2))
    assert refusal(found).splitlines()[-1] == "off-path, line 4 (first of 2): so much"
