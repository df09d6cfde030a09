"""Small hand-made files, and what preflight finds in them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeAlias

import pytest

from gpost.config.model import Config
from gpost.pipeline import check_file
from gpost.preflight.model import Finding
from gpost.steps.step import Step

SAID = ("odd", "step", "command")
"""Names under which others say what they found or did."""

Check: TypeAlias = Callable[..., dict[str, Finding]]


@pytest.fixture
def check(tmp_path: Path) -> Check:
    """Findings by name of a program in text, under a config; one unit of E is one ml unless it says else.

    What the survey finds odd about such small files, and what steps say, is left out.
    """

    def run(
        text: str, config: Mapping[str, Any] | None = None, steps: Sequence[Step[Any]] = ()
    ) -> dict[str, Finding]:
        parts = {key: dict(part) for key, part in (config or {}).items()}
        parts.setdefault("clay", {}).setdefault("metering", {"unit": "ml", "ml_per_unit": 1})
        path = tmp_path / "pot.gcode"
        path.write_text(text)
        found = [f for f in check_file(path, Config.model_validate(parts), steps) if f.name not in SAID]
        assert len({finding.name for finding in found}) == len(found)
        return {finding.name: finding for finding in found}

    return run


@pytest.fixture
def pot() -> Callable[..., str]:
    """A square of two layers, 2 mm and 4 mm high, 40 mm wide: lines 0 to 12; `end` starts at line 13."""

    def text(*, start: Sequence[str] = ("G28", "G90", "M83"), end: Sequence[str] = ()) -> str:
        lines = [*start]
        for z_mm in (2, 4):
            lines += [f"G1 X100 Y100 Z{z_mm} F1200"]
            lines += [f"G1 X{x} Y{y} E1" for x, y in ((140, 100), (140, 140), (100, 140), (100, 100))]
        return "\n".join([*lines, *end, ""])

    return text
