"""What trials gave, in words."""

from __future__ import annotations

from gpost.clay.trials import Weighing
from gpost.config.model import Config, CubicMillimetres, Metering, PathSection
from gpost.workbook.trial.lumps import dried, shrunk, slip
from gpost.workbook.trial.weighed import weighings_text
from gpost.workbook.trial.weighings import calibrate
from gpost.workbook.trial.words import (
    dried_text,
    shrunk_text,
    slip_text,
    strip_report,
)
from tests.config_files import load_files

MM3 = CubicMillimetres(unit="mm3")


def said(pairs: list[tuple[float, float]], metering: Metering = MM3) -> str:
    """The words about weighings of clay of 2 g/ml."""
    return weighings_text(calibrate([Weighing(*pair) for pair in pairs], 2.0, metering))


def lines_of_config(text: str) -> Config:
    """What stands after the empty line, as a config."""
    return load_files({"printed": text.partition("\n\n")[2]}).config


def test_the_lines_are_a_config() -> None:
    """What is printed for the config loads as one."""
    metering = lines_of_config(said([(1000, 1.9), (2000, 3.8)])).clay.metering
    assert metering.model_dump() == {"unit": "ml", "ml_per_unit": 0.00095}


def test_what_the_weighings_say() -> None:
    """How much more or less comes, and the flow that fixes it."""
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
        strip_report("strip.gcode", [4200, 8400], as_json=False),
        dried_text(dried([(1000, 750), (500, 376)])),
        dried_text(dried([(1000, 750)], 2.6, 1.8)),
        slip_text(slip(1.75, 2.5)),
        shrunk_text(shrunk([(100, 94, 86.5), (100, 94, 95)])),
    ]
    assert max(len(line) for text in texts for line in text.splitlines()) <= 80


def test_water_of_lumps() -> None:
    """On both bases; wet density only if the dry matter's is known, and then against the weighed one."""
    text = dried_text(dried([(1000, 750), (500, 376)]))
    assert "Water 24.93 % of the wet mass, from 2 lumps (24.80 to 25.00)" in text
    assert "33.21 % of the dry mass" in text
    assert "potters' handbooks" in text
    clay = lines_of_config(text).clay
    assert (clay.water_percent, clay.wet_density_g_ml) == (24.93, Config().clay.wet_density_g_ml)
    clay = lines_of_config(dried_text(dried([(1000, 750)], 2.6))).clay
    assert (clay.water_percent, clay.wet_density_g_ml) == (25, 1.857)


def test_weighed_density_against_the_lumps() -> None:
    """Lighter than the lumps say: air; heavier: a mistake. The weighed one is what the printer pushes."""
    light, heavy = (dried_text(dried([(1000, 750)], 2.6, weighed)) for weighed in (1.8, 1.9))
    assert "3.1 % less: so much of it is air" in " ".join(light.split())
    assert "its water would be 27.78 %" in " ".join(light.split())
    assert "2.3 % more: weigh again" in " ".join(heavy.split())
    assert lines_of_config(light).clay.wet_density_g_ml == 1.8


def test_what_a_slip_holds() -> None:
    """The published case of 1250 g dry and 500 g water in a litre (mailing list of potters, 1998, seen)."""
    text = " ".join(slip_text(slip(1.75, 2.5)).split())
    assert "A litre weighs 1750 g: 1250.0 g dry and 500.0 g water" in text
    assert "which is 40.00 % of the dry" in text
    assert lines_of_config(slip_text(slip(1.75, 2.5))).clay.water_percent == 28.57


def test_what_bars_say() -> None:
    """Total, drying, and firing on both bases; the volume; what to print for 100 mm fired."""
    text = " ".join(shrunk_text(shrunk([(100, 94, 86.5)])).split())
    assert "Shrinkage 13.50 % from wet to fired, of the wet length, from 1 bar " in text
    assert (
        "drying 6.00 % of the wet length; firing 7.98 % of the dry length, which is 7.50 % of the wet" in text
    )
    assert "shrinks by 35.3 %" in text
    assert "100 mm when fired, print 115.6 mm" in text
    assert lines_of_config(shrunk_text(shrunk([(100, 94, 86.5)]))).clay.shrinkage_percent == 13.5
    assert "grew" not in text
    assert "Warning: the bars grew in the fire" in shrunk_text(shrunk([(100, 94, 95)]))
