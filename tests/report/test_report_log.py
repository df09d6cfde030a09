"""The log and its fit in words."""

from __future__ import annotations

import yaml

from gpost.config.model import Config
from gpost.log.fit import fit_prints
from gpost.log.model import Found, Predicted, PrintRow
from gpost.report.log import fit_text, log_text

ROWS = [
    PrintRow(1, "2026-03-01T10:00:00+00:00", Predicted("a/vase.gcode", 300, 500, 40, 2.0, 0.002), found)
    for found in (Found(450, 44, 100, 4, "soft \x1b[31mclay " * 20), Found(460, 46, 110), Found())
]


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
    text = fit_text(fit_prints(ROWS), Config())
    config = Config.model_validate(yaml.safe_load(text.partition("\n\n")[2]))
    assert config.clay.metering.model_dump() == {"unit": "ml", "ml_per_unit": 0.00182}
    assert config.cartridge.reserve_ml > 55
    assert "gpost day --time-factor 1.125" in text
    assert max(map(len, text.splitlines())) <= 80


def test_what_is_not_known() -> None:
    """What too few prints say is said to be unknown, and no line is printed for it."""
    rows = [PrintRow(n, "", Predicted("v", 1, 500, 40, 2.0, None), Found(500)) for n in (1, 2)]
    text = fit_text(fit_prints(rows), Config())
    assert "weighed / predicted mass: 1 on average of 2 prints" in text
    assert text.count("not known; at least 2 prints must say it") == 2
    assert "clay:" not in text
