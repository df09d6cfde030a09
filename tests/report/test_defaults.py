"""Which figures rest on gpost's own numbers."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.config.model import Config
from gpost.report.defaults import RESTS_ON, defaults
from gpost.report.model import Summary

GIVEN = {
    "clay": {
        "metering": {"unit": "mm3"},
        "wet_density_g_ml": 1.9,
        "water_percent": 24,
        "shrinkage_percent": 13,
        "bead_width_mm": 5,
    },
    "cartridge": {"volume_ml": 500, "reserve_ml": 20, "line_ml": 40},
}


def without(part: str, key: str) -> Config:
    """All that trials give but one."""
    left = {name: dict(values) for name, values in GIVEN.items()}
    del left[part][key]
    return Config.model_validate(left)


def test_a_config_that_gives_all_has_none() -> None:
    """Nor has one that gives the hose by bore and length."""
    assert defaults(Config.model_validate(GIVEN)) == {}
    hose = {"volume_ml": 500, "reserve_ml": 20, "hose_bore_mm": 8, "hose_length_mm": 900}
    assert defaults(Config.model_validate(GIVEN | {"cartridge": hose})) == {}


@pytest.mark.parametrize(("part", "key"), [(part, key) for part, values in GIVEN.items() for key in values])
def test_each_key_left_out_is_named_where_it_counts(part: str, key: str) -> None:
    """A figure names the key if it would be another with another value, and the text has both."""
    found = defaults(without(part, key))
    assert found
    assert all(keys == (f"{part}.{key}",) for keys in found.values())


def test_every_figure_is_one_of_the_summary() -> None:
    """The places are those of the JSON: a key, or a key of a part or of each of a list."""

    def place(schema: dict[str, Any], name: str) -> dict[str, Any]:
        found = schema["properties"][name]
        found = found.get("items", found)
        reference = found.get("$ref") or next(
            (option["$ref"] for option in found.get("anyOf", ()) if "$ref" in option), None
        )
        return whole["$defs"][reference.rpartition("/")[2]] if reference else found

    whole = Summary.model_json_schema(mode="serialization")
    for figure in RESTS_ON:
        part, _, key = figure.partition(".")
        assert part in whole["properties"]
        if key:
            assert key in place(whole, part)["properties"]
