"""What trials gave, in words."""

from __future__ import annotations

import json

import pytest

from gpost.clay.trials import Weighing
from gpost.config.model import Config, CubicMillimetres, Metering, PathSection
from gpost.workbook.trial.lumps import dried, shrunk, slip
from gpost.workbook.trial.weighed import weighings_text
from gpost.workbook.trial.weighings import calibrate
from gpost.workbook.trial.words import (
    dried_text,
    shrunk_text,
    slip_json,
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


GOOD = [(10e3, 18.0), (20e3, 37.1), (30e3, 55.9), (40e3, 75.0)]


def test_the_lines_are_a_config() -> None:
    """What is printed for the config loads as one."""
    config = lines_of_config(said(GOOD))
    metering = config.clay.metering.model_dump()
    assert (metering["unit"], metering["ml_per_unit"]) == ("ml", pytest.approx(0.00095, rel=0.005))
    assert 0 < metering["spread_percent"] < 2
    assert config.cartridge.start_loss_ml == pytest.approx(0.5, abs=0.06)


def test_what_the_weighings_say() -> None:
    """How much more or less comes, the flow that fixes it, what a start loses, and what is left out."""
    text = " ".join(said(GOOD).split())
    assert "0.0009494 ml per unit of E, from 4 weighings" in text
    assert "5.1 % less comes than it says" in text
    assert "set the machine's flow to 105.3 %" in text
    assert "each start loses 0.48 ml to pressure" in text
    assert "Another day or another batch of clay may be further off" in text
    assert "nothing to compare with" in said([(1000, 1.9)], PathSection(unit="path"))
    assert "one weighing says nothing of its own error" in said([(1000, 1.9)])


def test_one_amount_says_what_to_weigh() -> None:
    """What a start loses is in it; four amounts part the two."""
    text = " ".join(said([(4200, 9.0), (4200, 9.1)]).split())
    assert "What each start loses to pressure is still in this" in text
    assert "such as E 4200, 8400, 12600 and 16800" in text


def test_what_is_to_be_weighed_again_gives_no_lines() -> None:
    """An outlier is named with its numbers; grams that don't start at nought are told; no config line follows."""
    slip = said([(e * 1e4, e * 19.0 - 1 - 8 * (e == 4)) for e in range(1, 8)])
    assert "Warning: weighing 4 (E 40000, 67 g)" in " ".join(slip.split())
    untared = said([(100, 6), (200, 7), (300, 8), (400, 9)])
    assert "+5.00 g are in every weighing" in untared
    for text in (slip, untared):
        assert "No lines for the config" in text
        assert "metering:" not in text
        assert "ake these lines" not in text


def test_every_line_fits_a_terminal() -> None:
    """At most 80 characters."""
    texts = [
        said([(100, 6), (200, 7), (300, 8.5), (400, 9)]),
        said(GOOD),
        said(GOOD[:1]),
        said([(e * 1e4, e * 19.0 - 1 - 8 * (e == 4)) for e in range(1, 8)]),
        strip_report("strip.gcode", [4200, 8400], 131, 243.6, as_json=False),
        dried_text(dried([(1000, 750), (500, 376)])),
        dried_text(dried([(1000, 750)], 2.6, 1.8)),
        slip_text(slip(1.75, 2.5)),
        shrunk_text(shrunk([(100, 94, 86.5), (100, 94, 95)])),
    ]
    assert max(len(line) for text in texts for line in text.splitlines()) <= 80


def test_water_of_lumps() -> None:
    """On both bases; wet density only if the dry matter's is known, and then against the weighed one."""
    text = dried_text(dried([(1000, 750), (500, 376)]))
    assert "Water 24.9 % (+-1.3, 95 %) of the wet mass, from 2 lumps (24.8 to 25.0)" in text
    assert "33.2 % of the dry mass" in text
    assert "potters' handbooks" in text
    assert "2 lumps can't say how sure that is" in " ".join(text.split())
    assert "water_percent:" not in text
    clay = lines_of_config(dried_text(dried([(1000, 750), (500, 376), (800, 600)]))).clay
    assert (clay.water_percent, clay.wet_density_g_ml) == (24.96, Config().clay.wet_density_g_ml)
    clay = lines_of_config(dried_text(dried([(1000, 750)] * 3, 2.6))).clay
    assert (clay.water_percent, clay.wet_density_g_ml) == (25, 1.857)


def test_weighed_density_against_the_lumps() -> None:
    """Lighter than the lumps say: air; heavier: a mistake. The weighed one is what the printer pushes."""
    light, heavy = (dried_text(dried([(1000, 750)] * 3, 2.6, weighed)) for weighed in (1.8, 1.9))
    assert "3.1 % less: so much of it is air" in " ".join(light.split())
    assert "its water would be 27.78 %" in " ".join(light.split())
    assert "2.3 % more: weigh again" in " ".join(heavy.split())
    assert lines_of_config(light).clay.wet_density_g_ml == 1.8


def test_what_a_slip_holds() -> None:
    """The published case of 1250 g dry and 500 g water in a litre (mailing list of potters, 1998, seen)."""
    text = " ".join(slip_text(slip(1.75, 2.5)).split())
    assert "A litre weighs 1750 g: 1250 g dry and 500 g water" in text
    assert "which is 40.0 % of the dry" in text


@pytest.mark.parametrize(
    ("density", "solids", "said", "off"),
    [
        (1.75, 2.6, "with dry matter of 2.5 to 2.6 g per ml it is 28.6 to 30.4 %", "+-5.9 %"),
        (1.75, 2.5, "28.6 to 30.4 %", "+-6.2 %"),
        (1.75, 2.55, "28.6 to 30.4 %", ""),
        (1.4, 2.6, "52.4 to 53.6 %", ""),
        (1.75, 2.8, "2.5 to 2.8 g per ml it is 28.6 to 33.3 % (clays have 2.5 to 2.6 by potters' handbooks)", "+-14 %"),
    ],
)
def test_water_by_density_is_as_sure_as_the_dry_matter_s(density: float, solids: float, said: str, off: str) -> None:
    """By hand, 1 - (rho - 1) G / (G - 1) / rho: at 1.75 it is 28.57 % with 2.5, 29.49 with 2.55, 30.36 with 2.6,
    33.33 with 2.8; at 1.4 it is 52.38 and 53.57. More than 5 % to one side gives no line.
    """
    text = " ".join(slip_text(slip(density, solids)).split())
    assert said in text
    assert ("water_percent:" in text) == (not off)
    assert f"known to {off} only" in text if off else "No lines" not in text
    found = json.loads(slip_json(slip(density, solids)))
    assert (found["no_line"] is None) == (not off)
    assert found["low_water_percent"] < found["high_water_percent"]


def test_a_mean_has_the_digits_that_it_is_sure_of() -> None:
    """Bars of 12.5, 13.0 and 12.8 %: 12.77 by 0.25, t(2) = 4.303 (table) of that over sqrt(3) is 0.63. One bar says none."""
    text = " ".join(shrunk_text(shrunk([(100, 94, 87.5), (100, 94, 87), (100, 94, 87.2)])).split())
    assert "Shrinkage 12.8 % (+-0.6, 95 %) from wet to fired, of the wet length, from 3 bars (12.5 to 13.0)" in text
    assert text.endswith("shrinkage_percent: 12.77")
    assert "+-" not in shrunk_text(shrunk([(100, 94, 87.5)]))
    equal = shrunk_text(shrunk([(100, 94, 86.5)] * 3))
    assert "13.50 % (+-0.07, 95 %)" in equal, "a ruler of 0.1 mm: 4.303 x 0.1 / sqrt(12) / sqrt(3)"


def test_what_bars_say() -> None:
    """Total, drying, and firing on both bases; the volume; what to print for 100 mm fired."""
    text = " ".join(shrunk_text(shrunk([(100, 94, 86.5)])).split())
    assert "Shrinkage 13.50 % from wet to fired, of the wet length, from 1 bar " in text
    assert (
        "drying 6.00 % of the wet length; firing 7.98 % of the dry length, which is 7.50 % of the wet" in text
    )
    assert "shrinks by 35.3 %" in text
    assert "100 mm when fired, print 115.6 mm" in text
    assert "1 bar can't say how sure that is" in text
    three = shrunk_text(shrunk([(100, 94, 86.5), (100, 94, 86.4), (100, 94, 86.6)]))
    assert lines_of_config(three).clay.shrinkage_percent == 13.5
    assert "shrinkage_percent: " not in shrunk_text(shrunk([(100, 94, 86.5), (100, 94, 84), (100, 94, 89)]))
    assert "grew" not in text
    assert "Warning: the bars grew in the fire" in shrunk_text(shrunk([(100, 94, 95)]))
