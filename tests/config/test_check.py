"""A table that does not fit its model is told in plain English, whatever does not fit."""

from typing import Annotated, Any, Literal, get_args

import pytest
from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import ErrorType

from gpost.config import check
from gpost.config.check import NodeSpot, Section
from gpost.config.problem import FilePlace, Problem
from gpost.config.settings import NotNegative, Positive, Settings
from gpost.config.yamltree import Scalar, Table, read_tree
from tests.config_files import by_line

JARGON = ("Input", "input", "valid ", "instance", "pydantic", "Field ", "parse", "_")


def no_glaze(text: str) -> str:
    """A validator with an error of its own kind."""
    if "glaze" in text:
        raise PydanticCustomError("glaze", "glaze comes after the first firing")
    return text


class Ring(Settings):
    """A ring of one sort."""

    unit: Literal["ring"]
    width_mm: Positive


class Coil(Settings):
    """A ring of another sort."""

    unit: Literal["coil"]
    turns: int


class Trial(Settings):
    """Settings with one key of each sort."""

    height_mm: Positive = 1.0
    gap_mm: NotNegative | None = None
    turns: Annotated[int, Field(ge=1, le=9, multiple_of=2)] = 2
    wet: bool = False
    either: bool | float = 1.0
    name: Annotated[str, AfterValidator(no_glaze), Field(min_length=2)] = "ab"
    word: Annotated[str, Field(pattern="^[a-z]*$")] = ""
    where: Literal["top", "foot"] = "top"
    levels_mm: Annotated[tuple[float, ...], Field(min_length=1, max_length=2)] = (1.0,)
    pair_mm: tuple[float, float] = (0.0, 1.0)
    by_name: dict[str, Positive] = {}  # noqa: RUF012 - pydantic copies it
    foot: Annotated[Ring | Coil, Field(discriminator="unit")] = Ring(unit="ring", width_mm=1)
    loose: Ring | float = 1.0
    top: Ring | None = None

    @model_validator(mode="after")
    def _together(self) -> "Trial":
        if self.wet and self.gap_mm == 7:
            raise ValueError("a wet piece can't have a gap of 7")
        return self


def fit(text: str, model: type[Settings] = Trial) -> Any:
    """The model's values for the text, or the problems as lines."""
    problems: list[Problem] = []
    table = read_tree("f.yaml", text, problems)
    assert table is not None
    assert not problems
    found = Section(model, table, FilePlace("f.yaml", 1), ("steps", 1, "trial")).fit(problems)
    return found if found is not None else [by_line(str(problem)) for problem in problems]


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        ("height_mm: 1e3", "height_mm", 1000.0),
        ("height_mm: 5", "height_mm", 5.0),
        ("gap_mm: ~", "gap_mm", None),
        ("gap_mm:", "gap_mm", None),
        ("turns: 2.0", "turns", 2),
        ("turns: 0o10", "turns", 8),
        ("wet: on", "wet", True),
        ("wet: Yes", "wet", True),
        ("wet: OFF", "wet", False),
        ("wet: no", "wet", False),
        ("wet: true", "wet", True),
        ("either: yes", "either", True),
        ("name: no", "name", "no"),
        ("name: 12", "name", "12"),
        ("name: 1_000", "name", "1_000"),
        ("name: 12:30", "name", "12:30"),
        ("name: true", "name", "true"),
        ("word: 'null'", "word", "null"),
        ("levels_mm: [1, 2.5]", "levels_mm", (1.0, 2.5)),
        ("pair_mm: [1, 2]", "pair_mm", (1.0, 2.0)),
        ("by_name:", "by_name", {}),
        ("loose: 3", "loose", 3.0),
    ],
)
def test_a_word_is_read_as_what_is_wanted_there(text: str, key: str, value: object) -> None:
    """Switch words are switches only where true or false is wanted; a plain word is text where a text is."""
    found = getattr(fit(text), key)
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("height_mm: fast", 'height_mm: "fast" is not a number; expected a number greater than 0'),
        ("height_mm: 0", "height_mm: 0 is too small; expected a number greater than 0"),
        ("height_mm: yes", 'height_mm: "yes" is not a number; expected a number greater than 0'),
        ("height_mm: true", "height_mm: true is not a number; expected a number greater than 0"),
        (
            "height_mm: 1_000",
            'height_mm: "1_000" is not a number; expected a number greater than 0; write it without _: 1000',
        ),
        ("height_mm: 12:30", 'height_mm: "12:30" is not a number; expected a number greater than 0'),
        ("height_mm: .inf", "height_mm: .inf is not an ordinary number; expected a number greater than 0"),
        ("height_mm:", "height_mm: nothing is given; expected a number greater than 0"),
        ("height_mm: [1]", "height_mm: a list is not a number; expected a number greater than 0"),
        (
            "height_mm: {a: 1}",
            "height_mm: a group of settings is not a number; expected a number greater than 0",
        ),
        ("turns: 2.5", "turns: 2.5 is not a whole number; expected a whole number from 1 to 9"),
        ("turns: 12", "turns: 12 is too large; expected a whole number from 1 to 9"),
        ("turns: 3", "turns: 3 is not a multiple of 2; expected a whole number from 1 to 9"),
        ("wet: maybe", 'wet: "maybe" is neither true nor false; expected true or false'),
        ("wet: 'on'", 'wet: "on" is neither true nor false; expected true or false'),
        ("wet: 1", "wet: 1 is neither true nor false; expected true or false"),
        ("either: x", 'either: "x" is neither true nor false; expected true or false or a number'),
        ("name: a", 'name: "a" has fewer than 2 characters; expected a text'),
        ("name: glaze", 'name: "glaze" can\'t be used: glaze comes after the first firing'),
        ("name: [a]", "name: a list is not a text; expected a text"),
        ("word: A", 'word: "A" does not fit the pattern ^[a-z]*$; expected a text'),
        ("where: side", 'where: "side" is not one of the choices; expected "top" or "foot"'),
        ("levels_mm: []", "levels_mm: a list is empty; expected a list, each entry a number"),
        (
            "levels_mm: [1, 2, 3]",
            "levels_mm: a list has more than 2 entries; expected a list, each entry a number",
        ),
        (
            "levels_mm: 5",
            "levels_mm: 5 is not a list; expected a list, each entry a number; put it in brackets: [5]",
        ),
        ("levels_mm: [a]", 'levels_mm[1]: "a" is not a number; expected a number'),
        ("by_name: {a: 0}", "by_name.a: 0 is too small; expected a number greater than 0"),
        ("by_name: 5", "by_name: 5 is not a group of settings; expected keys with values"),
        ("foot: {width_mm: 1}", 'foot.unit: is missing; expected "ring" or "coil"'),
        ("foot:", 'foot.unit: is missing; expected "ring" or "coil"'),
        ("foot: {unit: rim}", 'foot.unit: "rim" is not one of the choices; expected "ring" or "coil"'),
        ("foot: {unit: ring}", "foot.width_mm: is missing; expected a number greater than 0"),
        ("foot: {unit: coil, turn: 1}", "foot.turns: is missing; expected a whole number"),
        (
            "loose: []",
            "loose: a list is not a group of settings; expected keys such as unit:, width_mm: or a number",
        ),
        ("{wet: on, gap_mm: 7}", "a wet piece can't have a gap of 7"),
        ("height: 5", "height: unknown key; did you mean height_mm?"),
        ("volume_ml: 5", "volume_ml: unknown key; volume_ml belongs under cartridge"),
        ("top: {unit: ring, width_mm: 1, width: 2}", "top.width: unknown key; did you mean width_mm?"),
        ("top: {unit: ring, width_mm: 1, zzz: 2}", "top.zzz: unknown key; known here: unit, width_mm"),
    ],
)
def test_what_does_not_fit_is_told_in_plain_words(text: str, said: str) -> None:
    """Each sort of misfit has its sentence: file, line, key, value, what was expected, what helps."""
    separator = ": " if said.startswith("a wet") else "."
    assert fit(text)[0] == f"f.yaml:1: steps[2].trial{separator}{said}"


def test_lines_are_those_of_the_value_or_of_the_unknown_key() -> None:
    """A wrong value has its own line, an unknown key the key's, a missing key its group's."""
    lines = fit("height_mm:\n  fast\nzzz:\n  1\nfoot:\n  unit: ring\n")
    assert [line.partition(" ")[0] for line in sorted(lines)] == ["f.yaml:2:", "f.yaml:3:", "f.yaml:5:"]


@pytest.mark.parametrize("kind", get_args(ErrorType))
def test_every_kind_of_error_has_plain_words(kind: str) -> None:
    """No error of the validation library shows its own wording, whatever its kind."""
    spot = NodeSpot(Scalar(FilePlace("f.yaml", 1), "x"), ("a",), FilePlace("f.yaml", 1))
    problem = check._misfit(spot, ("a",), {"type": kind, "loc": ("a",), "msg": "", "input": "x"}, "a number")
    assert problem.wrong
    assert not any(word in str(problem).removeprefix("f.yaml") for word in JARGON)


def test_without_the_rest_of_the_config_nothing_is_said_about_what_lacks() -> None:
    """If another file could not be read, only what stands in this one is told."""
    problems: list[Problem] = []
    table = read_tree("f.yaml", "{foot: {width_mm: 1}, wet: x, top: {unit: ring}}", problems)
    assert isinstance(table, Table)
    assert Section(Trial, table, FilePlace("f.yaml", 1), complete=False).fit(problems) is None
    assert [problem.key_path for problem in problems] == ["wet"]
