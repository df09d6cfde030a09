"""What gpost moves and pushes with by itself keeps to the machine's limits."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from gpost.config.model import Machine
from gpost.errors import ConfigError
from tests.config_files import load_files

CASES = {
    "travel_feed_mm_min": ("max_feed_mm_min", 3000.0),
    "lift_feed_mm_min": ("max_feed_mm_min", 600.0),
    "prime_flow_ml_min": ("max_flow_ml_min", 20.0),
}
"""Key: its limit, and its default."""


@pytest.mark.parametrize("key", CASES)
def test_a_default_above_a_limit_is_lowered_to_it(key: str) -> None:
    """A default is nobody's wish; it does not count as given, and below the limit it stays."""
    limit_key, default = CASES[key]
    machine = Machine.model_validate({limit_key: default / 2})
    assert getattr(machine, key) == default / 2
    assert key not in machine.model_fields_set
    assert getattr(Machine.model_validate({limit_key: default * 2}), key) == default
    assert getattr(Machine(), key) == default


@pytest.mark.parametrize("key", CASES)
def test_what_is_given_above_a_limit_is_refused(key: str) -> None:
    """At the limit it is fine; above it the sentence names both keys and both numbers."""
    limit_key, _ = CASES[key]
    assert getattr(Machine.model_validate({limit_key: 100, key: 100}), key) == 100
    with pytest.raises(
        ValidationError, match=rf"{key} is 101, .* no more than 100 \({limit_key}\); lower it"
    ):
        Machine.model_validate({limit_key: 100, key: 101})


def test_pressure_relief_keeps_to_its_limit() -> None:
    """0.3 ml, the default, is lowered; the default manner of pausing of other machines stays as it is."""
    machine = Machine.model_validate({"max_relieve_ml": 0.2, "pause": {"lift_mm": 5}})
    assert (machine.pause.relieve_ml, machine.pause.lift_mm) == (0.2, 5)
    assert machine.pause.model_fields_set == {"lift_mm"}
    assert Machine.model_validate({"max_relieve_ml": 0.2}).pause.relieve_ml == 0.2
    assert Machine().pause.relieve_ml == 0.3
    with pytest.raises(
        ValidationError, match=r"pause\.relieve_ml is 3, .* no more than 2 \(max_relieve_ml\)"
    ):
        Machine.model_validate({"pause": {"relieve_ml": 3}})


def test_the_sentence_in_a_config() -> None:
    """Files are put together first: the limit may stand in one and the feed in another."""
    files = {
        "studio.yaml": "machine: {max_feed_mm_min: 2000}\n",
        "pot.yaml": "machine: {travel_feed_mm_min: 3000}\n",
    }
    with pytest.raises(ConfigError) as error:
        load_files(files)
    assert "machine: travel_feed_mm_min is 3000, and the machine does no more than 2000" in str(error.value)
