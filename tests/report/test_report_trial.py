"""What trials gave, in words."""

from __future__ import annotations

from gpost.clay.mixing import fit_line
from gpost.clay.trials import Weighing
from gpost.config.load import config_from_texts
from gpost.config.model import Config, CubicMillimetres, Metering, PathSection, StepUse
from gpost.report.trial import colour_text, slump_text, strip_report, weighings_text
from gpost.trial.weighings import calibrate

MM3 = CubicMillimetres(unit="mm3")


def said(pairs: list[tuple[float, float]], metering: Metering = MM3) -> str:
    """The words about weighings of clay of 2 g/ml."""
    return weighings_text(calibrate([Weighing(*pair) for pair in pairs], 2.0, metering))


def lines_of_config(text: str) -> Config:
    """What stands after the empty line, as a config."""
    return config_from_texts([("printed", text.partition("\n\n")[2])]).config


def test_the_lines_are_a_config() -> None:
    """What is printed for the config loads as one."""
    metering = lines_of_config(said([(1000, 1.9), (2000, 3.8)])).clay.metering
    assert metering.model_dump() == {"unit": "ml", "ml_per_unit": 0.00095}
    cartridge = lines_of_config(colour_text(fit_line([(40, 95)]), [(40, 95)])).cartridge
    found = fit_line([(40, 95)]).line
    assert cartridge.line_ml == round(found.holdup_ml, 1)
    assert cartridge.mixing_stages == round(found.stages or 0, 1)


def test_what_the_weighings_say() -> None:
    """How much more or less comes, and the flow that mends it."""
    text = " ".join(said([(1000, 1.9), (2000, 3.8)]).split())
    assert "0.00095 ml per unit of E, from 2 weighings" in text
    assert "5.0 % less comes than it says" in text
    assert "set the machine's flow to 105.3 %" in text
    assert "nothing to compare with" in said([(1000, 1.9)], PathSection(unit="path"))
    assert "one weighing says nothing of its own error" in said([(1000, 1.9)])


def test_warnings() -> None:
    """An outlier is named with its numbers; grams that don't start at nought are told."""
    text = " ".join(said([(100, 1), (200, 2), (300, 3.5), (400, 4)]).split())
    assert "Warning: weighing 3 (E 300, 3.5 g)" in text
    assert "+5.00 g are in every weighing" in said([(100, 6), (200, 7), (300, 8), (400, 9)])


def test_every_line_fits_a_terminal() -> None:
    """At most 80 characters."""
    texts = [
        said([(100, 6), (200, 7), (300, 8.5), (400, 9)]),
        colour_text(fit_line([(40, 95), (42, 90)]), [(40, 95), (42, 90)]),
        slump_text([200, 240], 1.9),
        strip_report("strip.gcode", [4200, 8400], as_json=False),
    ]
    assert max(len(line) for text in texts for line in text.splitlines()) <= 80


def test_the_softest_cylinder_counts() -> None:
    """Yield stress on average with its span, and the height that the softest bears."""
    text = " ".join(slump_text([1000.0, 1200.0], 1.9).split())
    assert "Yield stress 1100 Pa, from 2 cylinders (1000 to 1200)" in text
    assert "bears 93 mm of itself" in text
    assert lines_of_config(slump_text([1000.0, 1200.0], 1.9)).steps == (
        StepUse(name="stand", settings={"yield_stress_pa": 1000}),
    )
    assert "estimate" in text
