"""Every key of the config, and of a step's settings, can be found and says what it is."""

from __future__ import annotations

import re
from typing import Annotated, Literal

import pytest
from pydantic import Field

from gpost.common.layout import laid_out
from gpost.config.described import Key, find_keys, key_lines, keys_of, table_lines
from gpost.config.fieldwords import field_words
from gpost.config.model import Config, StepUse
from gpost.config.settings import Positive, Settings
from gpost.steps.manager import build_manager

MODELS = (Config,)
STEPS = build_manager().load_all()
STEP_KEYS = [key for step in STEPS.values() for key in keys_of(step.Settings, (step.name,))]
KEYS = [*(key for model in MODELS for key in keys_of(model)), *STEP_KEYS, *keys_of(StepUse, ("steps",))]


class Base(Settings):
    """A table."""

    soak_s: Positive = 30
    """How long it
    soaks."""
    bare: str = "x"


class Kiln(Base):
    """Another one, built on it."""

    ramp_mm_min: Annotated[float, Field(ge=1, le=9)]
    """Under it."""
    cone: Literal["small", "large"] = Field("small", description="Beside it.")
    """Not this."""
    shelves: tuple[Base, ...] = ()
    inner: Base = Base()


@pytest.mark.parametrize("key", KEYS, ids=lambda key: f"{'.'.join(key.path)} of {key.owner.__name__}")
def test_every_key_has_words(key: Key) -> None:
    """Each key says what it is, in a sentence."""
    words = field_words(key.owner).get(key.path[-1], "")
    assert re.match(r"\S.{8,}\.$", words), (
        f"{'.'.join(key.path)} of {key.owner.__name__} says nothing: {words!r}"
    )


def test_words_are_read_whichever_way_they_are_written() -> None:
    """A description, else the docstring under the field, also of the class that it is built on; nothing for none."""
    assert field_words(Kiln) == {
        "soak_s": "How long it soaks.",
        "ramp_mm_min": "Under it.",
        "cone": "Beside it.",
    }


def test_a_table_tells_all_of_each_key() -> None:
    """What is expected, the unit by the key's name, the default or that it must be given, and the words."""
    assert laid_out(table_lines(Kiln)).splitlines()[:11] == [
        "  soak_s",
        "      a number greater than 0, in s; if left out: 30",
        "      How long it soaks.",
        "  bare",
        "      a text; if left out: x",
        "  ramp_mm_min",
        "      a number from 1 to 9, in mm/min; must be given",
        "      Under it.",
        "  cone",
        '      "small" or "large"; if left out: small',
        "      Beside it.",
    ]


def test_a_key_tells_the_keys_in_it() -> None:
    """A group of keys, or a list of such groups, has them below."""
    shelves, inner = (
        next(key for key in keys_of(Kiln) if key.path == (name,)) for name in ("shelves", "inner")
    )
    below = ["", "Keys under it:", *laid_out(table_lines(Base)).splitlines()]
    assert laid_out(key_lines(shelves)).splitlines() == [
        "a list, each entry keys such as soak_s:, bare:; if left out: []",
        *below,
    ]
    assert laid_out(key_lines(inner)).splitlines() == ["a group of keys; may be left out, as each key in it", *below]


@pytest.mark.parametrize(
    ("name", "paths"),
    [
        ("machine", ["machine"]),
        ("machine.air", ["machine.air"]),
        ("air.full", ["machine.air.full"]),
        ("line_ml", ["cartridge.line_ml"]),
        ("bore_mm", ["clay.metering.bore_mm", "cartridge.bore_mm"]),
        ("line_holds", ["colours.line_holds"]),
        ("to_mm", ["colours.bands.to_mm"]),
        ("steps", ["steps"]),
        ("mm", []),
        ("", []),
        ("machine.", []),
    ],
)
def test_keys_are_found_by_their_path_or_its_end(name: str, paths: list[str]) -> None:
    """The whole path is meant where there is one; else every key that ends so."""
    assert [".".join(key.path) for key in find_keys(MODELS, name)] == paths


def test_tables_to_choose_from_are_told_as_running_text() -> None:
    """What such a table is may take two lines in the code."""
    (key,) = [key for key in KEYS if key.path == ("clay", "metering")]
    text = laid_out(key_lines(key), 80)
    assert "\\n" not in text
    assert "as wide as `clay: bead_width_mm` and as high as" in " ".join(text.split())
