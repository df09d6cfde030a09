"""Layers that get no clay though beads are laid, and what makes clay by E and by the path disagree."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from gpost.config.model import Clay, Config, Filament
from gpost.survey.model import Survey
from gpost.testing import survey_of as surveyed
from tests.survey.rings import Rings

SurveyOf = Callable[..., Survey]
BOTH = pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])


@BOTH
def test_a_g92_that_is_missing(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """E begins at 0 in each ring, unsaid: each ring but the first only gives back what is drawn back before it.

    By hand: the first bead of a ring is no bead then, but draws back all of the ring but that bead.
    """
    rings = Rings(restart=True)
    survey = survey_of(rings.text, chunk_bytes=chunk_bytes)
    assert survey.layers["clay_ml"][1:] == pytest.approx([0.0] * 5, abs=1e-6)
    beads_ml = rings.ring_ml - rings.bead_ml
    (said,) = survey.warnings
    assert said.startswith(
        f"layer 2 gets 0.00 ml for beads of {beads_ml:.2f} ml, and so in 5 layers, {5 * beads_ml:.3g} ml too "
        f"little in all: E falls by {beads_ml:.2f} ml on line {rings.line_of(2)}, and nothing gives that back"
    )


def test_e_that_begins_anew_as_it_should(survey_of: SurveyOf) -> None:
    """With a G92, every ring gets its clay."""
    assert survey_of(Rings(restart=True, before_ring="G92 E0\n").text).warnings == ()


def test_what_is_drawn_back_and_given_back(survey_of: SurveyOf) -> None:
    """As much as a third of a ring before each, and given back where the ring begins."""
    text = Rings().text.replace("G0 X120", "M83\nG1 E-460 F600\nG0 Z30\nG1 E460\nM82\nG0 X120")
    assert survey_of(text).warnings == ()


@BOTH
def test_half_arcs(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Where the second of two arcs gives back just what the first draws back, nothing is left for it."""
    lines = ["G21", "G90", "M82", "G28", "G92 E0", "G0 F3000"]
    for ring in range(5):
        lines += [f"G0 X120 Y100 Z{2 * ring + 2}", "G3 X80 Y100 I-20 J0 E690", "G3 X120 Y100 I20 J0 E1380"]
    (said,) = survey_of("\n".join(lines) + "\nG0 Z40\n", chunk_bytes=chunk_bytes).warnings
    assert said.startswith(
        "layer 2 gets 0.00 ml for beads of 0.69 ml, and so in 4 layers, 2.76 ml too little"
    )
    assert "E falls by 0.69 ml on line 11, " in said


@BOTH
@pytest.mark.parametrize("ring", [2, 6])
def test_one_layer_alone(survey_of: SurveyOf, ring: int, chunk_bytes: int) -> None:
    """One ring, the last too, with E that falls in place before it and isn't given back."""
    rings = Rings()
    lines = list(rings.lines())
    at = rings.line_of(ring) - 1
    lines[at:at] = [
        "M83",
        f"G1 E{-rings.ring_ml * 1000:.4f} F600",
        "M82",
        f"G92 E{rings.ring_ml * 1000 * (ring - 1):.4f}",
    ]
    (said,) = survey_of("\n".join(lines) + "\nG1 Z60\n", chunk_bytes=chunk_bytes).warnings
    assert said.startswith(
        f"layer {ring} gets 0.00 ml for beads of {rings.ring_ml:.2f} ml, {rings.ring_ml:.3g} ml too"
    )
    assert f"on line {at + 2}, " in said


@pytest.mark.parametrize("end_e", ["E-5000", "E-60000"])
def test_a_long_relief_at_the_end(survey_of: SurveyOf, end_e: str) -> None:
    """What is drawn back after the last bead is missed nowhere."""
    assert survey_of(f"{Rings().text}M83\nG1 {end_e} F600\nG0 Z60\n").warnings == ()


@pytest.mark.parametrize(("part", "said"), [(0.4, False), (0.6, True)])
def test_reliefs_that_are_kept(survey_of: SurveyOf, part: float, said: bool) -> None:
    """What is drawn back before each ring and never given back leaves too little where it is half of the ring."""
    rings = Rings()
    relief = f"G1 E-{part * rings.ring_ml * 1000:.3f} F600\nG92 E0\n"
    survey = survey_of(Rings(restart=True, before_ring="G92 E0\n" + relief).text)
    assert survey.layers["clay_ml"][1:] == pytest.approx([rings.ring_ml * (1 - part)] * 5, abs=1e-5)
    assert any("too little in all" in text for text in survey.warnings) == said


@BOTH
@pytest.mark.parametrize("percent", [150, 60])
def test_a_flow_factor(survey_of: SurveyOf, percent: int, chunk_bytes: int) -> None:
    """M221 over the second bead on: it is named with the line where it works first, and what comes without it."""
    rings = Rings()
    lines = list(rings.lines())
    at = rings.line_of(1, 2) - 1
    lines.insert(at, f"M221 S{percent}")
    (said,) = survey_of("\n".join(lines) + "\n", chunk_bytes=chunk_bytes).warnings
    assert f"flow factor (M221, in force on line {at + 2} first) makes it so" in said
    assert f"without it they take {6 * rings.ring_ml:.3g} ml" in said


def test_a_flow_factor_that_is_not_the_cause(survey_of: SurveyOf) -> None:
    """A wrong unit of E stays a wrong unit: without the factor it would be as wrong."""
    config = Config(clay=Clay(metering=Filament(unit="filament", diameter_mm=1.75), bead_width_mm=6.0))
    (said,) = survey_of("M221 S110\n" + Rings().text, config=config).warnings
    assert "check `clay: metering`" in said
    assert "M221" not in said


@BOTH
def test_dashes_that_each_give_back(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Rings of short beads, 0.3 ml drawn back after each, and come again with the next: nothing is missing."""
    rings = Rings(sides=12)
    lines = []
    for line in rings.lines():
        lines.append(line)
        if line.startswith("G1 "):
            e = float(line.split()[3][1:])
            lines.append(f"G1 E{e - 300:.4f} F600")
    assert survey_of("\n".join(lines) + "\n", chunk_bytes=chunk_bytes).warnings == ()


def test_a_double_wall_that_breaks_joint() -> None:
    """Its two rings at each level are half a layer apart; they are as high as a layer rises, not as one steps.

    A bead 6 mm wide and 2 mm high, round at its sides, is 4 x 2 + pi mm² by hand: E is right.
    """
    lines = ["G21", "G90", "M83", "G28", "G0 X200 Y100 Z20 F1500"]
    for level in range(1, 11):
        for radius, lower in ((45, 0), (40, 1)):
            push = math.pi * radius * (8 + math.pi)
            x, z = 150 - radius, 2 * level - lower
            lines += [
                f"G0 Z{z + 5}",
                f"G0 X{150 + radius} Y100",
                f"G0 Z{z}",
                f"G3 X{x} Y100 I{-radius} J0 E{push:.3f}",
                f"G3 X{150 + radius} Y100 I{radius} J0 E{push:.3f}",
            ]
    survey = surveyed(lines, {"clay": {"metering": {"unit": "mm3"}, "bead_width_mm": 6}})
    assert list(survey.layers["height_mm"]) == [2.0 * level for level in range(1, 11)]
    assert survey.warnings == ()
