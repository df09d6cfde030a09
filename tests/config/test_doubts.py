"""Values that fit and can hardly be meant are asked about, with their place; what may be meant is not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import gpost
from gpost.config.load import load_text
from gpost.demo.gcode import class_pieces
from tests.config_files import load_files
from tests.docs.blocks import PAGES, ROOT, blocks
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
        ("clay: {shrinkage_percent: 1.3}", "f.yaml:1:27: clay.shrinkage_percent: 1.3 percent is next to nothing"),
        ("clay: {water_percent: 1}", "f.yaml:1:23: clay.water_percent: 1 percent is next to nothing"),
        ("steps: [{taper: {to_percent: 1}}]", "f.yaml:1:30: steps[1].taper.to_percent: 1 percent is next to nothing; if a share of 1 is meant, write 100"),
        ("steps: [{taper: {to_percent: 1.2}}]", "f.yaml:1:30: steps[1].taper.to_percent: 1.2 percent is next to nothing"),
        ("cartridge:\n  volume_ml: 1000\n  line_ml: 5000", "f.yaml:3:12: cartridge.line_ml: the hose holds 5000 ml, more than a whole cartridge (1000 ml: `volume_ml`); are both in ml, and bore and length in mm?"),
        ("cartridge: {hose_bore_mm: 100, hose_length_mm: 700}", "f.yaml:1:48: cartridge.line_ml: the hose holds 5498 ml, more than a whole cartridge (1000 ml: `volume_ml`); are both in ml, and bore and length in mm?"),
        ("cartridge: {volume_ml: 1000, empty_g: 0.4}", "f.yaml:1:39: cartridge.empty_g: an empty cartridge for 1000 ml hardly weighs 0.4 g; if kg are meant, write 400"),
        ("cartridge: {mixing_stages: 1542.6}", "f.yaml:1:28: cartridge.mixing_stages: a hose of 1542.6 stages mixes next to nothing; leave it out for one that doesn't mix, or look at the trial again"),
        ("machine: {pause: {settle_s: 1800}}", "f.yaml:1:29: machine.pause.settle_s: the nozzle would stand still for 30 min after each prime; if ms are meant, write 1.8"),
        ("machine: {park: {x_mm: -20, y_mm: 10}}", "f.yaml:1:17: machine.park: X -20, Y 10 lies off the bed (`machine.bed`); a pause there will be refused; which of the two is wrong?"),
    ],
)  # fmt: skip
def test_what_can_hardly_be_meant_is_asked_about(text: str, said: str) -> None:
    """The place, what it would mean, and what was probably meant; never a value that would be refused."""
    assert doubts(text) == (said,)


UNLIKELY = {
    "cartridge: {hose_bore_mm: 10, hose_length_mm: 0.4}": "0.4 mm is no hose; if metres are meant, write 400",
    "cartridge: {hose_bore_mm: 1, hose_length_mm: 400}": "1 mm is a hose that no clay goes through; if cm are meant, write 10",
    "cartridge: {volume_ml: 260000}": "260000 ml is more than a tank beside a printer holds; if mm³ are meant, write 260",
    "cartridge: {volume_ml: 0.5, reserve_ml: 0, line_ml: 0}": "0.5 ml is less than a thimble holds; if litres are meant, write 500",
    "cartridge: {start_loss_ml: 50, line_ml: 40}": "50 ml lost at each start is much beside the 40 ml that the hose holds; is it all that was pushed? gpost calibrate tells it from weighings",
    "cartridge: {line_ml: 0.055}": "0.055 ml is ten drops, and no hose; if litres are meant, write 55",
    "cartridge: {reserve_ml: 0.05}": "0.05 ml is ten drops, and less than stays on a plunger; if litres are meant, write 50",
    "machine: {travel_feed_mm_min: 50}": "50 mm per min is slower than clay is laid; if mm/s are meant, write 3000",
    "machine: {lift_feed_mm_min: 10}": "10 mm per min is slow even for a screw; if mm/s are meant, write 600",
    "machine: {prime_flow_ml_min: 0.3}": "0.3 ml per min is a drop every few seconds; if ml/s are meant, write 18",
    "machine: {acceleration_mm_s2: 0.5}": "0.5 mm/s² hardly gets a machine under way; if m/s² are meant, write 500",
    "clay: {metering: {unit: mm3, spread_percent: 0.03}}": "0.03 percent is next to nothing; if a share of 1 is meant, write 3",
    "clay: {wet_density_spread_percent: 0.01}": "0.01 percent is next to nothing; if a share of 1 is meant, write 1",
    "clay: {waste_percent: 0.1}": "0.1 percent is next to nothing; if a share of 1 is meant, write 10",
    "steps: [{refill: {margin_percent: 0.05}}]": "0.05 percent is next to nothing; if a share of 1 is meant, write 5",
    "clay: {rim_min: 480}": "480 min is long for a rim in the air; if seconds are meant, write 8",
    "clay: {working_min: 3600}": "3600 min is more than a day in the hose; if seconds are meant, write 60",
    "clay: {wet_density_g_ml: 1.0}": "1.0 g per ml is hardly more than water; fill a measure and weigh it (gpost calibrate --measure)",
    "clays: [{name: b, wet_density_g_ml: 2.6}]": "2.6 g per ml is nearly dry stone; fill a measure and weigh it (gpost calibrate --measure)",
    "clay: {water_percent: 75}": "75 percent of the wet mass is no clay that stands; if it is of the dry mass, write 42.9",
    "machine: {pause: {lift_mm: 0}}": "0 mm of lift drags the nozzle over the rim; 10 is usual",
    "steps: [{stand: {yield_stress_pa: 2500000}}]": "2500000 Pa is dry clay; if mPa are meant, write 2500",
    "steps: [{stand: {yield_stress_pa: 2.5}}]": "2.5 Pa is a slip that bears nothing; if kPa are meant, write 2500",
    "steps: [{stand: {stiffening_pa_s: 400}}]": "400 Pa/s is plaster, and no clay; if mPa/s are meant, write 0.4",
    "steps: [{base: {flow_percent: 15}}]": "15 percent is less than half of the clay; if it comes on top of 100, write 115",
    "steps: [{base: {by_layer_percent: [120, 15]}}]": "15 percent is less than half of the clay; if it comes on top of 100, write 115",
}
"""Each alone, in a unit that is not the key's or as no studio has it. Water of 75 % of the dry mass: 75 / 175."""


@pytest.mark.parametrize("text", UNLIKELY)
def test_a_number_in_another_unit_is_asked_about(text: str) -> None:
    """By its key and value alone, with the number that was probably meant."""
    assert [said.split(": ", 2)[2] for said in doubts(text)] == [UNLIKELY[text]]


def test_no_advice_is_asked_about_again() -> None:
    """What is told to be written instead raises no doubt of its own."""
    for text, said in UNLIKELY.items():
        meant = re.search(r"write ([0-9.]+)$", said)
        if meant is not None:
            value = said.split(" ", 1)[0]
            mended = re.sub(rf"(?<= ){re.escape(value)}(?=[,\]}}])", meant[1], text)
            assert mended != text
            assert doubts(mended) == (), text


@pytest.mark.parametrize(
    "text",
    [
        "clay: {waste_percent: 0, drying_percent: 0, wet_density_spread_percent: 0, metering: {unit: mm3, spread_percent: 0}}",
        "cartridge: {start_loss_ml: 0, line_ml: 0, reserve_ml: 0, line_spread_ml: 0}",
        "cartridge: {start_loss_ml: 0.6, line_ml: 0}",
        "machine: {pause: {relieve_ml: 0, wipe_mm: 0, settle_s: 0, retrace_mm: 0}}",
        "steps: [{stand: {yield_stress_pa: 1300, stiffening_pa_s: 0}}, {refill: {prime_ml: 0}}]",
        "clays: [{name: b, stains: [{name: cobalt, percent: 0}]}]",
    ],
)
def test_none_is_meant_where_none_is_written(text: str) -> None:
    """An honest 0 is no slip of a unit."""
    assert doubts(text) == ()


@pytest.mark.parametrize("page", [*PAGES, *sorted((ROOT / "gpost" / "demo").rglob("*.yaml"))], ids=lambda page: page.name)
def test_what_gpost_shows_raises_no_doubt(page: Path) -> None:
    """No config of a page, and none of the demo's."""
    texts = [block.text for block in blocks(page, "yaml")] if page.suffix == ".md" else [page.read_text("utf-8")]
    for text in texts:
        if not text.startswith("- {"):  # a list of pieces, and no config
            assert doubts(text) == (), text


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
        "cartridge: {volume_ml: 25000, reserve_ml: 500, line_ml: 400}",
        "cartridge: {volume_ml: 10, reserve_ml: 0.5, line_ml: 0.5}",
        "machine: {travel_feed_mm_min: 600, lift_feed_mm_min: 60, prime_flow_ml_min: 1, acceleration_mm_s2: 50}",
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


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("clay: {drying_percent: 6, shrinkage_percent: 0.13}", "f.yaml:1:46: clay.shrinkage_percent: 0.13 can't be used: it is less than what drying alone takes (`drying_percent`: 6), and holds the fire's share as well; if a share of 1 is meant, write 13"),
        ("clay: {drying_percent: 6, shrinkage_percent: 5, shrinkage_z_percent: 14.5}", "f.yaml:1:24: clay.drying_percent: 6 can't be used: it is more than the clay shrinks from wet to fired, and drying is a part of that (`shrinkage_percent`: 5); which of the two is wrong?"),
        ("clay: {drying_percent: 20, shrinkage_percent: 0.13}", "f.yaml:1:24: clay.drying_percent: 20 can't be used: it is more than the clay shrinks from wet to fired, and drying is a part of that (`shrinkage_percent`: 0.13); which of the two is wrong?"),
        ("clay: {drying_percent: 20}", "f.yaml:1:24: clay.drying_percent: 20 can't be used: it is more than the clay shrinks from wet to fired, and drying is a part of that (`shrinkage_percent`: 14, since your config doesn't say it); which of the two is wrong?"),
        ("clay: {drying_percent: 6, shrinkage_percent: 0}", "f.yaml:1:24: clay.drying_percent: 6 can't be used: it is more than the clay shrinks from wet to fired, and drying is a part of that (`shrinkage_percent`: 0); which of the two is wrong?"),
    ],
)  # fmt: skip
def test_no_clay_dries_by_more_than_it_shrinks(text: str, said: str) -> None:
    """Drying and total shrinkage are both of the wet length (ASTM C326, from memory): firing takes what is between them."""
    with pytest.raises(gpost.ConfigError) as refused:
        doubts(text)
    assert str(refused.value).splitlines()[0] == said


def test_drying_may_stand_in_a_file_before_the_shrinkage_does() -> None:
    """The two are compared as all files say them, and clay may well not shrink any more in the fire."""
    studio, piece = ("a.yaml", "clay: {drying_percent: 16}"), ("b.yaml", "clay: {shrinkage_percent: 16}")
    clay = load_files([studio, piece]).config.clay
    assert (clay.drying_percent, clay.shrinkage_percent) == (16, 16)


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
