"""The log and its fit in words."""

from __future__ import annotations

import json

import pytest
import yaml

from gpost.config.model import Config
from gpost.workbook.log.fit import fit_prints
from gpost.workbook.log.model import Found, Predicted, PrintRow
from gpost.workbook.log.words import fit_json, fit_text, log_json, log_text

ROWS = [
    PrintRow(1, "2026-03-01T10:00:00+00:00", Predicted("a/vase.gcode", 300, 500, 40, 2.0, 0.002), found)
    for found in (Found(450, 44, 100, 4, "soft \x1b[31mclay " * 20), Found(460, 46, 110), Found())
]


ALIKE = [
    PrintRow(
        number,
        "",
        Predicted("v", 300, 500, 40, 2.0, 0.002),
        Found(455 + off, 44 + off / 20, left_g=100 + off),
    )
    for number, off in enumerate((-2, 1, 0, 2, -1, -0.5), 1)
]
"""Six prints of 0.91 times the clay and 1.1 times the time, give or take; 50 ml left."""


def test_the_table() -> None:
    """One line a print, its notes below it; nothing can steer the terminal."""
    lines = log_text(ROWS).splitlines()
    assert lines[1].split() == [
        "1",
        "2026-03-01",
        "vase.gcode",
        "500",
        "450",
        "0.900",
        "40",
        "44",
        "1.100",
        "4",
    ]
    assert lines[-2].split() == ["1", "2026-03-01", "vase.gcode", "500", "-", "-", "40", "-", "-", "-"]
    assert lines[-1] == "3 prints"
    assert max(map(len, lines)) <= 80
    assert "50 ml left in the cartridge. soft \\x1b[31mclay" in " ".join(log_text(ROWS).split())


def test_the_lines_are_a_config() -> None:
    """What is printed for the config loads as one: clay per unit, and a reserve that is seldom too small."""
    text = fit_text(fit_prints(ALIKE), Config())
    config = Config.model_validate(yaml.safe_load(text.partition("\n\n")[2]))
    metering = config.clay.metering.model_dump()
    assert (metering["unit"], metering["ml_per_unit"]) == ("ml", pytest.approx(0.00182, rel=0.005))
    assert metering["spread_percent"] is not None
    assert config.cartridge.reserve_ml > 52
    assert "gpost day --time-factor 1.1" in text
    assert max(map(len, text.splitlines())) <= 80


def test_what_is_not_known() -> None:
    """What too few prints say is said to be unknown, and no line is printed for it."""
    rows = [PrintRow(n, "", Predicted("v", 1, 500, 40, 2.0, None), Found(500)) for n in (1, 2)]
    text = fit_text(fit_prints(rows), Config())
    assert "weighed / predicted mass: 1 on average of 2 prints" in text
    assert text.count("not known; at least 2 prints must say it") == 2
    assert "clay:" not in text


def printed(*found: Found) -> list[PrintRow]:
    """Prints of 500 g and 40 min, clay of 2 g/ml, 0.002 ml per unit."""
    said = Predicted("v", 300, 500, 40, 2.0, 0.002)
    return [PrintRow(number, "", said, one) for number, one in enumerate(found, 1)]


def test_no_reserve_that_the_config_refuses() -> None:
    """10, 400 and 900 g left over scatter too much: that is said, and no line is given."""
    fit = fit_prints(printed(*(Found(500, left_g=left) for left in (10, 400, 900))))
    text = fit_text(fit, Config())
    assert "no reserve is learnt: what was left scatters too much" in " ".join(text.split())
    assert "reserve_ml" not in text
    found = json.loads(fit_json(fit, Config()))
    assert found["reserve_ml"] is None
    assert "scatters too much" in found["doubts"][0]


def test_no_metering_from_prints_that_could_mean_nothing() -> None:
    """An interval with 0 in it asks for more prints, and offers neither metering nor a time factor."""
    fit = fit_prints(printed(Found(200, 16), Found(500, 40), Found(900, 90)))
    text = fit_text(fit, Config())
    said = " ".join(text.split())
    assert "no clay per unit of E is learnt: it is known to" in said
    assert "and must be to +-5 %" in said
    assert "no time factor is learnt" in said
    assert "More prints make it surer (gpost log add)" in said
    assert "metering:" not in text
    assert "--time-factor" not in text
    assert len(json.loads(fit_json(fit, Config()))["doubts"]) == 2
    assert max(map(len, text.splitlines())) <= 80


def test_prints_that_agree_raise_no_doubt() -> None:
    """Six of them; the three of the table are too few to say anything."""
    assert json.loads(fit_json(fit_prints(ALIKE), Config()))["doubts"] == []
    assert len(json.loads(fit_json(fit_prints(ROWS), Config()))["doubts"]) == 3


def test_the_json_says_what_the_table_says() -> None:
    """Ratios, clay left and what was dropped, beside the findings."""
    first, _, last = json.loads(log_json(ROWS))["prints"]
    assert (first["mass_ratio"], first["time_ratio"], first["left_ml"]) == (0.9, 1.1, 50)
    assert first["found_ml_per_unit"] == 0.002 * 0.9
    assert (last["mass_ratio"], last["time_ratio"], last["left_ml"], last["dropped"]) == (None,) * 4


def test_a_dropped_print_is_marked() -> None:
    """In the table below its line, and in the count."""
    row = ROWS[0]
    dropped = PrintRow(2, row.added, row.predicted, Found(0.45), "2026-03-02T10:00:00+00:00")
    text = log_text([row, dropped])
    assert "Dropped on 2026-03-02: nothing is learnt from it." in text
    assert text.endswith("2 prints, 1 of them dropped\n")
    assert json.loads(log_json([dropped]))["prints"][0]["dropped"] == "2026-03-02T10:00:00+00:00"


def test_a_ratio_that_is_far_off_has_three_digits() -> None:
    """900 minutes for 15.4 are 58.4 times as much; near 1 three decimals are a tenth of a percent."""
    far = PrintRow(1, "2026-03-01", Predicted("vase", 300, 500, 15.4, 2.0, 0.0024), Found(490, 900))
    line = log_text([far]).splitlines()[1]
    assert "0.980" in line
    assert " 58.4 " in line
