"""The JSON summary and its published schema agree."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import numpy as np
import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Note, Pause, Silence
from gpost.plan.plan import Plan
from gpost.report.jsonout import make_schema, to_json
from gpost.report.model import Summary
from gpost.report.summary import summarise
from gpost.testing import layer_start, make_survey
from gpost.write.output import Written
from tests.shipped_schema import published_schema


def summary() -> Summary:
    survey = make_survey(layers=30)
    pause = Pause(
        layer_start(survey, 9), "swap", "blue", "Load blue", new_cartridge=True, colour="bleu à l'eau"
    )
    look = Pause(layer_start(survey, 3), "look", "check", "Look")
    wishes = [pause, look, Silence(np.array([1, 2]), "heating"), Note("odd", warning=True)]
    plan = Plan(survey, Config()).adding("swap", wishes)
    return summarise(plan, Written(10, 5, {0: (70, 80), 1: (7, 8)}, {2: 2}), source="a.nc", output="b.nc")


def keys(schema: dict[str, Any], name: str) -> set[str]:
    return set(schema["$defs"][name]["properties"])


def test_published_schema_is_up_to_date() -> None:
    """The shipped schema is the one the models give: `python -m gpost.report.jsonout` makes it."""
    assert published_schema() == json.loads(make_schema())


def test_schema_is_valid_itself() -> None:
    """The schema is a schema of the draft it names."""
    jsonschema.Draft202012Validator.check_schema(published_schema())


def test_summary_fits_the_schema() -> None:
    """A summary with every kind of record validates."""
    jsonschema.Draft202012Validator(published_schema()).validate(json.loads(to_json(summary())))


@pytest.mark.parametrize("key", ["pauses", "layers", "version"])
def test_schema_misses_nothing(key: str) -> None:
    """A document without one of the promised keys doesn't validate."""
    document = json.loads(to_json(summary()))
    del document[key]
    assert not jsonschema.Draft202012Validator(published_schema()).is_valid(document)


def test_schema_fixes_the_version() -> None:
    """A document of another version doesn't validate."""
    document = {**json.loads(to_json(summary())), "version": 2}
    assert not jsonschema.Draft202012Validator(published_schema()).is_valid(document)


def test_schema_lets_new_keys_pass() -> None:
    """A later gpost may add a key without breaking what reads version 1."""
    document = {**json.loads(to_json(summary())), "glaze": "celadon"}
    assert jsonschema.Draft202012Validator(published_schema()).is_valid(document)


def test_promised_keys_are_there() -> None:
    """The keys that others rely on are in the schema."""
    schema = published_schema()
    assert {
        *("source", "output", "layers", "height_mm", "time_s", "clay_ml", "pauses"),
        *("cartridges", "changes", "notes", "warnings", "cautions", "colours", "steps", "version"),
    } <= set(schema["properties"])
    assert {
        *("step", "reason", "layer", "height_mm", "output_line", "clay_ml", "clock_s", "kind"),
        *("message", "colour", "load_ml", "shows_at_layer", "shows_at_height_mm"),
    } <= keys(schema, "PauseRecord")
    assert {"number", "colour", "clay_ml", "wet_g"} <= keys(schema, "CartridgeRecord")
    assert {"step", "what", "count", "where"} <= keys(schema, "Change")


def test_summary_survives_the_round_trip() -> None:
    """Reading the JSON back gives the same summary."""
    text = to_json(summary())
    assert to_json(Summary.model_validate_json(text)) == text


def test_no_digit_is_of_rounding_alone() -> None:
    """0.1 + 0.2 is 0.3, what is nearly nothing below zero is nothing, and small numbers keep their digits."""
    added = {"clay_ml": 0.1 + 0.2, "height_mm": -1e-13, "time_s": 1.23456789e-5}
    said = json.loads(to_json(summary().model_copy(update=added)))
    assert {key: repr(said[key]) for key in added} == {
        "clay_ml": "0.3",
        "height_mm": "0.0",
        "time_s": "1.2345679e-05",
    }
