"""The morning's check: what was due, today's flow, and when nothing is to be changed."""

from __future__ import annotations

import json

import numpy as np
import pytest

from gpost.clay.trials import Weighing
from gpost.config.model import Config
from gpost.errors import ConfigError
from gpost.workbook.trial.morning import Morning, morning
from gpost.workbook.trial.weighed import morning_json, morning_lines, morning_text


def checked(*grams: float, spread: float | None = None, loss_ml: float = 0.0) -> Morning:
    """So many grams for 40,000 units of 1 mm^3 each, of clay of 2 g/ml: 80 g are due."""
    config = Config.model_validate(
        {
            "clay": {"metering": {"unit": "mm3", "spread_percent": spread}},
            "cartridge": {"start_loss_ml": loss_ml},
        }
    )
    return morning([Weighing(40_000, each) for each in grams], 2.0, config)


def test_today_s_flow() -> None:
    """76 g of 80: 5 % less, so 0.00095 ml a unit, or a flow of 105 %."""
    found = checked(76.0, spread=2)
    assert found.off_percent == pytest.approx(-5)
    assert found.flow_percent == pytest.approx(100 / 0.95)
    assert morning_lines(found)[1].startswith(
        "  metering: {unit: ml, ml_per_unit: 0.00095, spread_percent: 1."
    )
    text = " ".join(morning_text(found).split())
    assert "76 g came and 80 g were due by the config: 5.0 % less" in text
    assert "set the machine's flow to 105 %" in text
    assert "Not both" in text


def test_what_a_start_loses_is_not_due() -> None:
    """With 1 ml lost at each start 78 g are due."""
    assert checked(78.0, loss_ml=1).off_percent == pytest.approx(0)


def test_nothing_is_changed_for_what_weighing_errs_by() -> None:
    """79 g of 80 are 1.3 % less; one weighing tells no less than 2 %."""
    found = checked(79.0)
    assert morning_lines(found) == []
    assert "Change nothing yet" in morning_text(found)


def test_one_weighing_far_off_is_not_believed_and_two_are() -> None:
    """70 g of 80 may be a bubble; twice about 70 is today's clay; 70 and 80 are no answer."""
    assert "Weigh once more, and give both" in " ".join(morning_text(checked(70.0)).split())
    assert morning_lines(checked(70.0)) == []
    assert morning_lines(checked(70.0, 70.6)) != []
    assert "do not agree" in checked(70.0, 80.0).no_line


def test_too_small_an_amount() -> None:
    """3.5 g of 4 may be no more than the string's end."""
    found = morning(
        [Weighing(2000, 3.5)], 2.0, Config.model_validate({"clay": {"metering": {"unit": "mm3"}}})
    )
    assert "Weigh a larger amount" in found.no_line
    assert morning_lines(found) == []


def test_changing_by_it_does_no_harm() -> None:
    """Of 1000 mornings with the usual errors and no change of clay 7 % or fewer are told to change anything."""
    random = np.random.default_rng(6)
    errors = 80 * 0.01 * random.standard_normal(1000) + 0.25 * random.standard_normal(1000)
    told = sum(bool(morning_lines(checked(round(80 + error, 1)))) for error in errors)
    assert 0 < told <= 70


@pytest.mark.parametrize(("grams", "words"), [(8.0, "no matter of the day"), (800.0, "as E=GRAMS")])
def test_what_is_no_matter_of_the_day(grams: float, words: str) -> None:
    """A tenth or ten times of what was due is refused."""
    with pytest.raises(ConfigError, match=words):
        checked(grams)


def test_no_e_no_check() -> None:
    """A config that meters by path has none."""
    with pytest.raises(ConfigError, match="metered by path"):
        morning([Weighing(1, 1)], 2.0, Config.model_validate({"clay": {"metering": {"unit": "path"}}}))


def test_as_json() -> None:
    """The same figures, and the lines."""
    record = json.loads(morning_json(checked(76.0, spread=2)))
    assert (record["due_g"], record["off_percent"]) == ([80], pytest.approx(-5))
    assert record["no_line"] is None
    assert record["config_lines"][0] == "clay:"
