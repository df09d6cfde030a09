"""A bead that pushes far more than those around it is named with its line, and where E is counted from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from gpost.survey.model import Survey
from tests.survey.rings import SECTION_MM2, Rings

SurveyOf = Callable[..., Survey]
NO_G92 = Rings(head="G21\nG90\nM82\nG28\nG0 F3000\n")
BOTH = pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])


@BOTH
@pytest.mark.parametrize("sides", [24, 6])
def test_e_that_nothing_sets(survey_of: SurveyOf, sides: int, chunk_bytes: int) -> None:
    """The first bead pushes all of the E from which the file goes on: it is named, and not the metering."""
    rings = replace(NO_G92, first_e=5000.0, sides=sides)
    survey = survey_of(rings.text, chunk_bytes=chunk_bytes)
    assert survey.layers["laid_ml"][0] == pytest.approx(rings.ring_ml + 5.0, abs=1e-3)
    (said,) = survey.warnings
    assert said.startswith(
        f"the bead on line {rings.line_of(1)} pushes {5 + rings.bead_ml:.3g} ml, where those around it would "
        f"push {rings.bead_ml:.2g} ml over its length: E stands there for the first time and is counted from 0"
    )


@pytest.mark.parametrize(
    "head",
    ["G92 E5000\n", "G92 X0 E5000\n", "G92 E5000\nG92 Z0\n"],
)
def test_e_that_is_set(survey_of: SurveyOf, head: str) -> None:
    """A G92 before it says from where E goes on."""
    rings = replace(NO_G92, head=f"G21\nG90\nM82\nG28\nG0 F3000\n{head}", first_e=5000.0)
    assert not any("pushes" in text for text in survey_of(rings.text).warnings)


def test_e_from_0_needs_no_g92(survey_of: SurveyOf) -> None:
    """Nor does E that is relative, or a little beyond 0."""
    assert survey_of(NO_G92.text).warnings == ()
    assert survey_of(replace(NO_G92, first_e=900.0).text).warnings == ()


@BOTH
@pytest.mark.parametrize("head", ["G92", "G92 E0"])
def test_e_that_is_set_wrong(survey_of: SurveyOf, head: str, chunk_bytes: int) -> None:
    """Then nothing is said of E that nothing sets."""
    rings = replace(NO_G92, head=f"G21\nG90\nM82\nG28\nG0 F3000\n{head}\n", first_e=5000.0)
    (said,) = survey_of(rings.text, chunk_bytes=chunk_bytes).warnings
    assert "a lump of clay" in said
    assert "nothing sets it" not in said


@BOTH
@pytest.mark.parametrize(("ring", "side"), [(1, 1), (1, 2), (3, 1), (3, 7), (6, 23), (6, 24)])
def test_a_lump_anywhere(survey_of: SurveyOf, ring: int, side: int, chunk_bytes: int) -> None:
    """Wherever it is, and however the file is read in blocks, the line is named with how much too much."""
    rings = Rings()
    lines = list(rings.lines())
    at = rings.line_of(ring, side) - 1
    words = lines[at].split()
    words[3] = f"E{float(words[3][1:]) + 2000:.4f}"
    lines[at : at + 1] = [" ".join(words), f"G92 E{float(words[3][1:]) - 2000:.4f}"]
    (said,) = survey_of("\n".join(lines) + "\n", chunk_bytes=chunk_bytes).warnings
    assert said.startswith(f"the bead on line {at + 1} pushes {2 + rings.bead_ml:.3g} ml, ")
    assert "a lump of clay" in said


def test_g92_too_many(survey_of: SurveyOf) -> None:
    """Set back before each ring while the script counts on: as many lumps as rings, the first one named."""
    rings = Rings(before_ring="G92 E0\n")
    found = survey_of(rings.text).warnings
    assert found[0].startswith(f"the bead on line {rings.line_of(2)} pushes ")
    assert "(the first of 5 such beads)" in found[0]
    assert len(found) == 1  # without the lumps, clay by E and by the path agree


@pytest.mark.parametrize("unit", ["G20\n", ""])
def test_arcs_and_inches(survey_of: SurveyOf, unit: str) -> None:
    """Half arcs of rings, with a wrong digit in one of them."""
    mm = 25.4 if unit else 1.0
    e = SECTION_MM2 * 20 * 3.14159265 / mm
    lines = [unit.strip() or "G21", "G90", "M83", "G28", f"G0 F{3000 / mm:.4f}"]
    for ring in range(5):
        lines.append(f"G0 X{120 / mm:.5f} Y{100 / mm:.5f} Z{(2 * ring + 2) / mm:.5f}")
        for x in (80, 120):
            wrong = 10 if (ring, x) == (3, 80) else 1
            radius = 20 / mm * (1 if x == 120 else -1)
            lines.append(f"G3 X{x / mm:.5f} Y{100 / mm:.5f} I{radius:.5f} J0 E{e * wrong:.5f}")
    (said,) = survey_of("\n".join(lines) + "\n").warnings
    assert said.startswith("the bead on line 16 pushes 6.91 ml, where those around it would push 0.69 ml")


def test_what_is_no_lump(survey_of: SurveyOf) -> None:
    """A thick base under a thin wall, and two thick sides of four."""
    base = [f"G1 X{x} E{4 * SECTION_MM2 * 60} F1500" for x in (140, 80, 140, 80)]
    head = "G90\nM83\nG28\nG0 F3000\nG0 X80 Y100 Z2"
    walls = [f"G1 X{x} E{SECTION_MM2 * 60} F1500" for x in (140, 80) * 4]
    assert not any("pushes" in text for text in survey_of("\n".join([head, *base, *walls]) + "\n").warnings)
    sides = "".join(
        f"G0 X0 Y0 Z{z}\nG1 X200 E4400\nG1 Y200 E2200\nG1 X0 E4400\nG1 Y0 E2200\n" for z in (2, 4, 6)
    )
    assert not any("pushes" in text for text in survey_of(f"M83\nG28\nG0 F3000\n{sides}").warnings)


@BOTH
def test_a_bead_that_gives_back_what_was_drawn_back(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """E is absolute, and goes on in the next bead from where it was before 2 ml were drawn back."""
    rings = Rings(before_ring="")
    lines = list(rings.lines())
    for ring in (5, 3):
        at = rings.line_of(ring) - 2
        e = rings.ring_ml * 1000 * (ring - 1)
        lines[at:at] = [f"G1 E{e - 2000:.4f} F600"]
    assert survey_of("\n".join(lines) + "\n", chunk_bytes=chunk_bytes).warnings == ()


@pytest.mark.parametrize("length_mm", [5, 60])
def test_a_prime_in_a_line_of_its_own(survey_of: SurveyOf, length_mm: int) -> None:
    """Thick as it is, laid beside the piece before it."""
    rings = Rings()
    prime = f"G0 X20 Y20 Z2\nG1 X{20 + length_mm} E4000 F300\nG92 E0\nG0 Z9\n"
    assert not any(
        "lump" in text for text in survey_of(replace(rings, head=rings.head + prime).text).warnings
    )


def test_a_prime_beside_the_piece_is_no_lump(survey_of: SurveyOf) -> None:
    """A thick line laid before layer 1 is what the file means."""
    rings = Rings()
    prime = "G0 X5 Y5 Z2\nG1 X5.5 E3000 F300\nG92 E0\nG0 Z9\n"
    survey = survey_of(replace(rings, head=rings.head + prime).text)
    assert survey.lead_in_ml == pytest.approx(3.0)
    assert survey.warnings == ()
