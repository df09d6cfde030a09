"""What is found of the survey alone: what is odd about the file, and layers that are a guess or don't fit."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.preflight.model import Finding
from gpost.preflight.wall import wall_findings
from gpost.survey.model import Survey


def odd_findings(survey: Survey) -> Iterator[Finding]:
    """What the survey says itself."""
    yield from (Finding("odd", "warning", None, text) for text in survey.warnings)
    yield from (Finding("odd-layers", "warning", odd.first_line, odd.text) for odd in survey.odd)


def survey_findings(survey: Survey, nozzle_mm: float | None) -> tuple[Finding, ...]:
    """What `gpost check` says of the file's layers whatever the steps are.

    `nozzle_mm` None: no nozzle is known that the layers could fit.
    """
    wall = () if nozzle_mm is None else wall_findings(survey, nozzle_mm)
    return (*odd_findings(survey), *wall)
