"""Plain words in a config mean what the YAML 1.2 core schema says, and no more."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.scalars import number_hint, resolve


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("", None),
        ("~", None),
        ("null", None),
        ("Null", None),
        ("true", True),
        ("FALSE", False),
        ("12", 12),
        ("+12", 12),
        ("-19", -19),
        ("017", 17),
        ("0o14", 12),
        ("0xC", 12),
        ("1e3", 1000),
        ("12.3015e+02", 1230.15),
        (".5", 0.5),
        ("5.", 5),
        ("-.inf", -math.inf),
    ],
)
def test_words_of_the_core_schema_have_its_values(text: str, value: object) -> None:
    """YAML 1.2.2, section 10.3.2 (rules as remembered, some cases from its example): the listed words."""
    assert resolve(text) == value
    assert type(resolve(text)) is type(value)


@pytest.mark.parametrize(
    "text",
    ["on", "Off", "yes", "NO", "y", "12:30", "1:30:00", "1_000", "0b11", "1,5", "nan", "inf", "1e", "0x"],
)
def test_words_that_older_yaml_reinterprets_stay_text(text: str) -> None:
    """What YAML 1.1 would turn into switches, sums of sixties or numbers is the text itself."""
    assert resolve(text) == text


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_that_python_writes_is_read_back(number: float) -> None:
    """The value of a written float is that float, as Python's own float() reads it."""
    assert resolve(repr(number)) == number


@pytest.mark.parametrize("text", ["1" * 400, "9" * 5000, "1e999999"])
def test_a_number_beyond_all_bounds_is_infinite(text: str) -> None:
    """A number too long to hold is infinite, which no setting accepts, and costs no time."""
    assert resolve(text) == math.inf


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("3,5", "write a point, not a comma: 3.5"),
        ("0,500", "write a point, not a comma: 0.500"),
        ("2,000", "write it without a comma: 2000, or 2.000 if that is meant"),
        ("12,000,000", "write it without commas: 12000000"),
        ("1,2,3", ""),
        ("1_000", "write it without _: 1000"),
        ("268,5 g", "write the number alone, its unit is in the key's name"),
        ("60 ml", "write the number alone, its unit is in the key's name"),
        ("3000mm/min", "write the number alone, its unit is in the key's name"),
        ("14 %", "write the number alone, its unit is in the key's name"),
        ("5", "leave the quotation marks out"),
        ("fast", ""),
        ("12:30", ""),
    ],
)
def test_the_hint_says_how_to_write_the_number(text: str, hint: str) -> None:
    """A text that was meant as a number is met with the way to write it."""
    assert number_hint(text) == hint
