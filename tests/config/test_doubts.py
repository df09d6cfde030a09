"""Values that fit and can hardly be meant are asked about, with their place; what may be meant is not."""

from __future__ import annotations

from pathlib import Path

import pytest

import gpost
from gpost.config.load import load_text
from gpost.demo.gcode import class_pieces
from tests.sliced import write_piece

CONFIGS = Path(__file__).parents[2] / "configs"


def doubts(text: str) -> tuple[str, ...]:
    """What is asked of a config."""
    return load_text("f.yaml", text).config.origin.doubts


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("clay: {water_percent: 0.25}", "f.yaml:1:23: clay.water_percent: 0.25 percent is next to nothing; if a share of 1 is meant, write 25"),
        ("steps:\n- base: {flow_percent: 1.15}", "f.yaml:2:24: steps[1].base.flow_percent: 1.15 percent is next to nothing; if a share of 1 is meant, write 115"),
        ("steps: [{fan: {bands: [{from_layer: 3, level_percent: 0.4}]}}]", "f.yaml:1:55: steps[1].fan.bands[1].level_percent: 0.4 percent is next to nothing; if a share of 1 is meant, write 40"),
        ("clays: [{name: b, stains: [{name: cobalt, percent: 0.015}]}]", "f.yaml:1:52: clays[1].stains[1].percent: 0.015 percent is next to nothing; if a share of 1 is meant, write 1.5"),
        ("cartridge:\n  volume_ml: 1000\n  line_ml: 5000", "f.yaml:3:12: cartridge.line_ml: the hose holds 5000 ml, more than a whole cartridge (1000 ml: `volume_ml`); are both in ml, and bore and length in mm?"),
        ("cartridge: {hose_bore_mm: 100, hose_length_mm: 700}", "f.yaml:1:48: cartridge.line_ml: the hose holds 5498 ml, more than a whole cartridge (1000 ml: `volume_ml`); are both in ml, and bore and length in mm?"),
        ("cartridge: {volume_ml: 1000, empty_g: 0.4}", "f.yaml:1:39: cartridge.empty_g: an empty cartridge for 1000 ml hardly weighs 0.4 g; if kg are meant, write 400"),
        ("cartridge: {mixing_stages: 1542.6}", "f.yaml:1:28: cartridge.mixing_stages: a hose of 1542.6 stages mixes next to nothing; leave it out for one that doesn't mix, or look at the trial again"),
        ("machine: {pause: {settle_s: 1800}}", "f.yaml:1:29: machine.pause.settle_s: the nozzle would stand still for 30 min after each prime; if ms are meant, write 1.8"),
        ("machine: {park: {x_mm: -20, y_mm: 10}}", "f.yaml:1:17: machine.park: X -20, Y 10 lies off the bed (`machine.bed`); a pause there will be refused; which of the two is wrong?"),
    ],
)  # fmt: skip
def test_what_can_hardly_be_meant_is_asked_about(text: str, said: str) -> None:
    """The place, what it would mean, and what was probably meant."""
    assert doubts(text) == (said,)


@pytest.mark.parametrize(
    "text",
    [
        "clay: {water_percent: 22.5, waste_percent: 0.5}",
        "clay: {metering: {unit: ml, ml_per_unit: 0.004, spread_percent: 0.8}}",
        "clays: [{name: blue, stains: [{name: cobalt, percent: 0.1}]}]",
        "steps: [{fan: {bands: [{from_layer: 1, level_percent: 0}]}}]",
        "machine: {pause: {settle_s: 600}}",
        "machine: {bed: {round: true}, park: {x_mm: 140, y_mm: 5}}",
        "cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 60}",
        "machine: {bed: {x_min_mm: 100, y_min_mm: 100}}",
        "cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 6, empty_g: 12, mixing_stages: 300}",
    ],
)
def test_what_may_be_meant_is_not(text: str) -> None:
    """Spreads and stains are small as a rule; what is nobody's word is not asked about."""
    assert doubts(text) == ()


def test_the_studio_s_files_raise_no_doubt() -> None:
    """Nothing is asked of the configs that come with gpost."""
    for path in CONFIGS.glob("*.yaml"):
        assert doubts(path.read_text("utf-8")) == (), path


@pytest.mark.parametrize(
    "text",
    ["cartridge: {first_ml: 1200}", "machine: {ceiling_mm: 1,75}"],
)
def test_what_can_t_be_is_refused(text: str) -> None:
    """More clay in the first cartridge than it holds, a comma in a number within braces."""
    with pytest.raises(gpost.ConfigError, match=r"f.yaml:1:\d+: "):
        doubts(text)


def test_a_comma_in_braces_is_one_error() -> None:
    """What hangs on the number is not judged by what stands before the comma: 4 is less than the reserve."""
    with pytest.raises(gpost.ConfigError) as refused:
        doubts("cartridge: {volume_ml: 400,5, line_ml: 60}")
    assert str(refused.value).count("f.yaml:") == 1
    with pytest.raises(gpost.ConfigError) as refused:
        doubts("cartridge: {volume_ml: 4,00, line_ml: 60}")
    assert "write a point, not a comma: 4.00" in str(refused.value)
    assert str(refused.value).count("f.yaml:") == 1


def test_it_is_a_warning_of_the_job(tmp_path: Path) -> None:
    """It stands in the findings and the summary, and stops nothing."""
    write_piece(tmp_path / "pot.gcode", *class_pieces()["small-bowl-1"])
    (tmp_path / "c.yaml").write_text("clay: {water_percent: 0.25}\n")
    found = gpost.check(tmp_path / "pot.gcode", tmp_path / "c.yaml")
    assert [(f.severity, "write 25" in f.text) for f in found if f.name == "unlikely-value"] == [("warning", True)]
    summary = gpost.run(tmp_path / "pot.gcode", tmp_path / "c.yaml", tmp_path / "out.gcode")
    assert any("write 25" in text for text in summary.warnings)
