"""What is found of the survey alone: what is odd about the file, and layers that are a guess or don't fit."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np

from gpost.motion import codes
from gpost.preflight.model import Finding, Severity
from gpost.preflight.wall import wall_findings
from gpost.survey.findings import RELIEVES
from gpost.survey.layerrows import MUCH_BESIDE_MM, OddStretch
from gpost.survey.model import Survey

MOST_SHOWN = 5
"""Stretches whose layers are a guess that are told one by one."""


def odd_findings(survey: Survey, since: int = 0, silenced: Collection[int] = ()) -> Iterator[Finding]:
    """What the survey says itself of the lines from `since` on, but for pushes on lines that are silenced.

    Much clay pushed in one place is a note before the first bead: so the file fills the nozzle. That G10 and
    G11 relieve pressure is one too, since all is well then.
    """
    for text in survey.warnings_since(since):
        line = survey.own_primes.get(text)
        if line in silenced:
            continue
        right = text == RELIEVES or (line is not None and line < survey.first_bead)
        severity: Severity = "note" if right else "warning"
        yield Finding("e-mode" if text == survey.wrong_mode else "odd", severity, None, text)
    yield from _filled(survey, since, silenced)
    yield from _spread(survey, since)
    yield from _guesses([stretch for stretch in survey.odd if stretch.end_line > since])


def _filled(survey: Survey, since: int, silenced: Collection[int]) -> Iterator[Finding]:
    """That the file fills the nozzle by its auger alone."""
    found = survey.pushed_standing(survey.first_bead) if len(survey.lines_with("M", (codes.CLAY_ON,))) else ()
    lines = [stand.line for stand in found if stand.line >= since and stand.line not in silenced]
    if lines:
        yield Finding("odd", "note", lines[0], (
            f"the file lets its auger run while the nozzle stands beside the piece (line {lines[0] + 1}, "
            "G4): if that fills the nozzle, all is well, but what comes out is counted nowhere; weigh it "
            "once, and load so much more"
        ), len(lines))  # fmt: skip


def _guesses(odd: list[OddStretch]) -> Iterator[Finding]:
    """One for each stretch whose layers are a guess; where there are many, one for all but the first."""
    shown = odd if len(odd) <= MOST_SHOWN else odd[: MOST_SHOWN - 1]
    yield from (Finding("odd-layers", "warning", stretch.first_line, stretch.text) for stretch in shown)
    rest = odd[len(shown) :]
    if rest:
        low_mm, high_mm = min(one.low_mm for one in rest), max(one.high_mm for one in rest)
        yield Finding("odd-layers", "warning", rest[0].first_line, (
            f"so it is on {len(rest)} more stretches, from {low_mm:.1f} to {high_mm:.1f} mm: of layers "
            f"{rest[0].first_layer} to {rest[-1].last_layer}, as counted, those are a guess, too"
        ), len(rest))  # fmt: skip


def _spread(survey: Survey, since: int) -> Iterator[Finding]:
    """That turns from line `since` on go up and down by much: what a height means there."""
    beside_mm = survey.counted.beside_mm
    wide = np.flatnonzero((beside_mm > MUCH_BESIDE_MM) & (survey.layers["first_line"] >= since))
    if not len(wide):
        return
    widest = int(wide[beside_mm[wide].argmax()])
    low_mm, high_mm = (float(survey.layers[name][widest]) for name in ("low_mm", "height_mm"))
    many = f", the most of {len(wide)} such layers" if len(wide) > 1 else ""
    text = (
        f"the wall tilts or waves: layer {widest + 1} goes from {low_mm:.1f} to {high_mm:.1f} mm{many}. A "
        "height that a step asks for counts as the middle of a turn, and its bead lies lower or higher round "
        "the wall"
    )
    yield Finding("odd", "note", int(survey.layers["first_line"][wide[0]]), text, len(wide))


def survey_findings(survey: Survey, nozzle_mm: float | None) -> tuple[Finding, ...]:
    """What `gpost check` says of the file's layers whatever the steps are.

    `nozzle_mm` None: no nozzle is known that the layers could fit.
    """
    wall = () if nozzle_mm is None else wall_findings(survey, nozzle_mm)
    return (*odd_findings(survey), *wall)
