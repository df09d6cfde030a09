"""What the log keeps of a summary."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.config.model import Config
from gpost.errors import ConfigError
from gpost.pipeline import run_file
from gpost.report.jsonout import to_json
from gpost.report.model import ColourRecord, MeteringRecord, Summary
from gpost.workbook.log.model import Found, Predicted, PrintRow, parse_summary, predicted, read_summary

CONFIG = Config.model_validate(
    {"clay": {"metering": {"unit": "ml", "ml_per_unit": 0.0024}, "wet_density_g_ml": 2.0}}
)
SUMMARY = Summary(
    gpost_version="0", source="a/vase.gcode", output="-", steps=(), layers=1, height_mm=10, time_s=1200,
    clay_ml=320, output_lines=1, output_bytes=1, pauses=(), cartridges=(), changes=(), notes=(), warnings=(),
    cautions=(),
    colours=(
        ColourRecord(colour="white", clay_ml=220, wet_g=440, piece_ml=200),
        ColourRecord(colour="blue", clay_ml=100, wet_g=200, piece_ml=50),
    ),
)  # fmt: skip


def test_what_is_kept() -> None:
    """The piece's own wet mass, all its clay, minutes, and how the config meters."""
    assert predicted(SUMMARY, CONFIG) == Predicted("a/vase.gcode", 320, 500, 20, 2.0, 0.0024)


def test_the_summary_s_own_figures_come_first() -> None:
    """Whatever config is given, mass and clay per unit are what the piece was made with."""
    made = MeteringRecord(unit="filament", ml_per_unit=0.0031, wet_density_g_ml=1.9)
    colours = tuple(c.model_copy(update={"wet_g": c.clay_ml * 1.9}) for c in SUMMARY.colours)
    said = predicted(SUMMARY.model_copy(update={"metering": made, "colours": colours}), CONFIG)
    assert (said.ml_per_unit, said.density_g_ml) == (0.0031, 1.9)
    assert said.piece_g == pytest.approx(250 * 1.9)


def test_each_clay_weighs_what_it_weighs() -> None:
    """200 ml of white at 2 g, 50 of blue at 1.5: 475 g; all of it together 590 g in 320 ml."""
    white, blue = SUMMARY.colours
    made = MeteringRecord(unit="ml", ml_per_unit=0.0024, wet_density_g_ml=2.0)
    clays = (white, blue.model_copy(update={"wet_g": 150}))
    light = SUMMARY.model_copy(update={"colours": clays, "metering": made})
    said = predicted(light, CONFIG)
    assert (said.piece_g, said.density_g_ml) == (475, pytest.approx(590 / 320))


def test_an_earlier_summary_with_another_config_s_clay_is_refused() -> None:
    """It doesn't say what E meant, so that the config must be the one it was made with; 3 % are let pass."""
    for density, refused in ((2.05, False), (1.86, True)):
        config = Config.model_validate({"clay": {"wet_density_g_ml": density}})
        if refused:
            with pytest.raises(ConfigError, match=r"made with clay of 2 g per ml, but the config says 1\.86"):
                predicted(SUMMARY, config)
        else:
            assert predicted(SUMMARY, config).piece_g == pytest.approx(500)


def test_ratios() -> None:
    """Found over predicted; nothing where nothing was found."""
    said = predicted(SUMMARY, CONFIG)
    row = PrintRow(1, "", said, Found(450, 25, 100))
    assert (row.mass_ratio, row.time_ratio, row.left_ml) == (0.9, 1.25, 50)
    assert row.found_ml_per_unit == pytest.approx(0.00216)
    empty = PrintRow(1, "", said, Found())
    assert (empty.mass_ratio, empty.time_ratio, empty.left_ml, empty.found_ml_per_unit) == (None,) * 4


def test_metered_by_path() -> None:
    """Without E the ratio is kept, but no clay per unit."""
    config = Config.model_validate({"clay": {"metering": {"unit": "path"}, "wet_density_g_ml": 2.0}})
    row = PrintRow(1, "", predicted(SUMMARY, config), Found(450))
    assert row.found_ml_per_unit is None
    assert row.mass_ratio is not None


def test_a_real_summary(tmp_path: Path) -> None:
    """What gpost run writes is read."""
    (tmp_path / "a.gcode").write_text("G28\nG1 Z2 F600\n" + "".join(f"G1 X{x} Y9 E{x}\n" for x in range(9)))
    summary = run_file(tmp_path / "a.gcode", tmp_path / "b.gcode", Config(), ())
    (tmp_path / "a.json").write_text(to_json(summary))
    assert to_json(read_summary(tmp_path / "a.json")) == to_json(summary)
    other = Config.model_validate({"clay": {"metering": {"unit": "mm3"}, "wet_density_g_ml": 1.5}})
    assert predicted(summary, Config()) == predicted(summary, other)
    assert predicted(summary, other).piece_g == pytest.approx(summary.piece.wet_g)


@pytest.mark.parametrize("data", [b"", b"{}", b"[1]", b"\xff", b"G1 X10\n"])
def test_what_is_no_summary(data: bytes) -> None:
    """Anything else is refused with the file's name."""
    with pytest.raises(ConfigError, match=r"^x\.json is no summary"):
        parse_summary(data, "x.json")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    """A missing file is refused."""
    with pytest.raises(ConfigError, match="can't be read"):
        read_summary(tmp_path / "none.json")


def test_a_piece_without_clay() -> None:
    """There is nothing to compare with."""
    with pytest.raises(ConfigError, match="without clay"):
        predicted(SUMMARY.model_copy(update={"colours": ()}), CONFIG)
