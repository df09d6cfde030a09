"""Numbers in sentences."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.common.digits import few
from tests.resuming import summary, typed
from tests.survey.epots import Pot


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (3921.7, 3, "3920"),
        (1e6, 3, "1000000"),
        (123.4, 2, "120"),
        (99.96, 3, "100"),
        (8.214, 2, "8.2"),
        (2.0, 3, "2"),
        (0.00001234, 3, "0.0000123"),
        (0.0, 3, "0"),
        (-1234.5, 3, "-1230"),
    ],
)
def test_a_few_digits_as_people_write_them(value: float, digits: int, text: str) -> None:
    """Noughts instead of an exponent."""
    assert few(value, digits) == text


def test_much_of_a_stain_is_told_without_an_exponent(tmp_path: Path) -> None:
    """Twelve in a hundred of more than a kilo, in text and on the page."""
    (tmp_path / "pot.gcode").write_text(Pot(layers=20, relative=True).text)
    (tmp_path / "pot.yaml").write_text(
        "clay: {colour: slate, metering: {unit: mm3}}\n"
        "clays: [{name: slate, stains: [{name: rust, percent: 12}]}]\n"
        "cartridge: {volume_ml: 2000, reserve_ml: 1000, line_ml: 300}\n"
    )
    names = ("-c", tmp_path / "pot.yaml", "-o", tmp_path / "out.gcode", "--page", tmp_path / "out.html")
    names = (*names, "--json", tmp_path / "out.json")
    done = typed("run", tmp_path / "pot.gcode", *names)
    assert done.exit_code == 0, done.output
    (clay,) = summary(tmp_path, "out")["clays"]
    assert clay["stains_g"]["rust"] > 100
    wanted = f"{round(clay['stains_g']['rust'], -1):.0f} g rust"
    for text in (done.output, (tmp_path / "out.html").read_text()):
        assert wanted in " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())
        assert "e+" not in text.split("<script")[0]


def test_much_clay_by_a_wrong_mode_is_told_without_an_exponent(tmp_path: Path) -> None:
    """Words of a whole pot that are added up are litres."""
    (tmp_path / "pot.gcode").write_text(Pot(layers=40, head="M83").text)
    (tmp_path / "pot.yaml").write_text("clay: {metering: {unit: mm3}}\n")
    text = " ".join(typed("survey", tmp_path / "pot.gcode", "-c", tmp_path / "pot.yaml").output.split())
    assert "the beads looked at take" in text
    assert "e+" not in text


def test_weighings_that_agree_with_nothing_are_told_without_an_exponent() -> None:
    """Hundreds of percent; the present config says a two-thousandth of it."""
    weighings = [f"--weighing={e}={grams}" for e, grams in ((10, 5), (20, 50), (30, 20), (40, 90))]
    said = typed("calibrate", "--no-config", *weighings).output
    assert said.count("+-250 %") == 2
    assert "e+" not in said
