"""What a model expects is told in a potter's words, from the model itself."""

from typing import Annotated, Any, Literal

import pytest
from pydantic import Field

from gpost.config.expect import Expectations
from gpost.config.model import Config
from gpost.config.settings import NotNegative, Percent, Positive, Settings, Share


class Wave(Settings):
    """Settings with one key of each sort."""

    height_mm: Positive = 1.0
    gap_mm: NotNegative | None = None
    share: Share = 0.5
    wet_percent: Percent = 1.0
    turns: Annotated[int, Field(ge=1)] = 1
    depth_mm: float = 0.0
    limit_mm: Annotated[float, Field(le=5)] = 0.0
    mirrored: bool = False
    colour: str = "red"
    where: Literal["top", "foot"] = "top"
    only: Literal["x"] = "x"
    levels_mm: tuple[float, ...] = ()
    span_mm: tuple[float, Positive] = (0.0, 1.0)
    by_name: dict[str, Positive] = {}  # noqa: RUF012 - pydantic copies it
    inner: "list[Wave]" = []  # noqa: RUF012
    below: "Wave | None" = None
    free: Any = None


class Wheel:
    """A thing that can't be written in a config."""


class Odd(Settings, arbitrary_types_allowed=True):
    """Settings that hold such a thing."""

    wheel: Wheel = Wheel()


@pytest.mark.parametrize(
    ("location", "words"),
    [
        (("height_mm",), "a number greater than 0"),
        (("gap_mm",), "a number of at least 0 or null for none"),
        (("share",), "a number from 0 to 1"),
        (("wet_percent",), "a number of at least 0 and less than 100"),
        (("turns",), "a whole number of at least 1"),
        (("depth_mm",), "a number"),
        (("limit_mm",), "a number of at most 5"),
        (("mirrored",), "true or false"),
        (("colour",), "a text"),
        (("where",), '"top" or "foot"'),
        (("only",), '"x"'),
        (("levels_mm",), "a list, each entry a number"),
        (("span_mm",), "a list"),
        (("span_mm", 1), "a number greater than 0"),
        (("by_name",), "keys with values"),
        (("by_name", "any"), "a number greater than 0"),
        (("inner", 3, "inner", 0, "turns"), "a whole number of at least 1"),
        (("inner", 0), "keys such as height_mm:, gap_mm:, share:"),
        (("free",), ""),
    ],
)
def test_each_sort_of_setting_has_its_words(location: tuple[str | int, ...], words: str) -> None:
    """Type and bounds of a setting are said as a person would."""
    assert Expectations(Wave).words(location) == words


def test_the_kind_of_a_group_decides_its_known_keys() -> None:
    """Where `unit` tells the kind, the keys are those of that kind; else those of all kinds."""
    config = Expectations(Config)
    shared = {"unit", "spread_percent"}
    assert set(config.keys(("clay", "metering", "plunger"))) == {*shared, "bore_mm"}
    own = {"diameter_mm", "bore_mm", "ml_per_unit", "bead_height_mm"}
    assert set(config.keys(("clay", "metering"))) == {*shared, *own}
    assert config.words(("clay", "metering", "ml", "ml_per_unit")) == "a number greater than 0"


def test_places_tell_where_a_key_of_the_config_lives() -> None:
    """Each key below the top level is found with the tables that hold it; a looping model comes to an end."""
    places = Expectations(Config).places()
    assert places["lift_mm"] == ["machine.pause"]
    assert places["bore_mm"] == ["clay.metering", "cartridge"]
    assert Expectations(Wave).places()["turns"][:2] == ["below", "below.below"]


def test_a_model_without_a_schema_expects_nothing_known() -> None:
    """A type that has no JSON Schema leaves the words out rather than failing."""
    assert Expectations(Odd).words(("wheel",)) == ""
    assert Expectations(Odd).keys() == []
