"""A first studio file: what is answered is in it, what is not is a comment, and nonsense never gets there."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.clay.holdup import line_ml
from gpost.config.load import load_config, load_text
from gpost.config.model import Config
from gpost.config.problem import ConfigProblems
from gpost.config.yamltree import read_tree, values
from gpost.errors import ConfigError
from gpost.workbook.first.filled import MADE_UP, default, filled, flow, key_lines, model
from gpost.workbook.first.questions import QUESTIONS, answers_given, unknown

CONFIGS = Path(__file__).parents[3] / "configs"


def loaded(answers: dict[str, str]) -> Config:
    """The config that a first file with these answers gives."""
    return load_text("studio.yaml", filled(answers_given(answers))).config


def test_one_text_for_both() -> None:
    """The studio file that people copy and the one that answers are put into are the same text."""
    assert (CONFIGS / "studio.yaml").read_text("utf-8") == model()
    assert MADE_UP in model()


def test_its_own_numbers_put_in() -> None:
    """The model filled with its own numbers is the model, key by key."""
    whole = load_config([CONFIGS / "studio.yaml"]).config
    live = {
        path: line.value for path, line in key_lines().items() if f"\n{line.indent}{path[-1]}: {line.value}\n" in model()
    }
    given = {path: value_at(whole, path) for path in live}
    text = filled(given)
    assert load_text("studio.yaml", text).config.model_dump() == whole.model_dump()


def value_at(config: Config, path: tuple[Any, ...]) -> Any:
    found: Any = config
    for key in path:
        found = getattr(found, str(key))
    return found


def test_nothing_known() -> None:
    """Without any answer every key stands behind a `#`, with gpost's own number and a word on a trial."""
    text = filled({})
    assert load_text("studio.yaml", text).config.model_dump() == Config().model_dump()
    live = [line for line in text.splitlines() if line.strip() and not line.strip().startswith("#")]
    assert live == ["machine:", "  pause:", "clay:", "cartridge:"]
    for line in key_lines().values():
        assert "trial" in " ".join(line.words) or line.path[-1] in ("hose_length_mm", "auger_ml"), line.path
    for key in ("wet_density_spread_percent", "reserve_spread_ml", "line_spread_ml"):
        assert f"  # {key}: " in text
    assert "spread_percent: 3" in text
    assert unknown({}) == [keys[0] for question in QUESTIONS for keys in question.things]


def test_the_comments_without_their_marks() -> None:
    """A comment whose # is taken away is a line that loads to what gpost takes without it."""
    for path, line in key_lines().items():
        if path[-1] in ("hose_bore_mm", "hose_length_mm", "auger_ml"):  # these go together
            continue
        written = line.written({})
        text = filled({}).replace(f"{written}\n", written.replace("# ", "", 1) + "\n")
        found, own = value_at(load_text("studio.yaml", text).config, path), default(path)
        assert found == own or own in (None, ())


EXAMPLES: list[tuple[dict[str, str], str, Any]] = [
    ({"bed": "280 300"}, "machine.bed.y_max_mm", 300),
    ({"bed": "280x300"}, "machine.bed.x_max_mm", 280),
    ({"bed": "280 x 300"}, "machine.bed.y_max_mm", 300),
    ({"bed": "-140 140 -150 150"}, "machine.bed.y_min_mm", -150),
    ({"bed": "round -140 140 -140 140"}, "machine.bed.round", True),
    ({"ceiling-mm": "1e3"}, "machine.ceiling_mm", 1000),
    ({"park": "12 -3.5"}, "machine.park.y_mm", -3.5),
    ({"pause": "M0"}, "machine.pause.commands", ("M0",)),
    ({"pause": "M117 Knob, M25"}, "machine.allow_commands", ("M117 Knob",)),
    ({"pause": "M600"}, "machine.allow_commands", ("M600",)),
    ({"pause": "M600", "display": "SHOW_TEXT"}, "machine.allow_commands", ("M600", "SHOW_TEXT")),
    ({"display": "none"}, "machine.display", None),
    ({"metering": "filament 1.75"}, "clay.metering.diameter_mm", 1.75),
    ({"metering": "plunger 58"}, "clay.metering.bore_mm", 58),
    ({"metering": "ml 0.0024"}, "clay.metering.ml_per_unit", 0.0024),
    ({"metering": "mm3"}, "clay.metering.unit", "mm3"),
    ({"metering": "path"}, "clay.metering.unit", "path"),
    ({"hose": "55"}, "cartridge.line_ml", 55),
    ({"hose": "10 600"}, "cartridge.line_ml", line_ml(10, 600, 0)),
    ({"hose": "10 x 600 8"}, "cartridge.line_ml", line_ml(10, 600, 8)),
    ({"colour": 'no: {"a"} # b'}, "clay.colour", 'no: {"a"} # b'),
    ({"colour": "12"}, "clay.colour", "12"),
    ({"colour": "null"}, "clay.colour", "null"),
    ({"cartridge-ml": "300 30"}, "cartridge.usable_ml", 270),
]


@pytest.mark.parametrize(("answers", "key", "value"), EXAMPLES)
def test_an_answer_as_it_is_typed(answers: dict[str, str], key: str, value: Any) -> None:
    """What a potter types loads to what was meant."""
    assert value_at(loaded(answers), tuple(key.split("."))) == value


@pytest.mark.parametrize(
    ("answers", "sentence"),
    [
        ({"ceiling-mm": "-5"}, "--ceiling-mm: machine.ceiling_mm: -5 is too small; expected a number greater than 0"),
        ({"nozzle-mm": "4mm"}, "--nozzle-mm: machine.nozzle_mm: \"4mm\" is not a number; expected a number greater than 0; write the number alone, its unit is in the key's name"),
        ({"water-percent": "25,5"}, "--water-percent: clay.water_percent: \"25,5\" is not a number; expected a number of at least 0 and less than 100; write a point, not a comma: 25.5"),
        ({"density-g-ml": "12"}, "--density-g-ml: clay.wet_density_g_ml: 12 is too large; expected a number from 1 to 3"),
        ({"metering": "strand 2"}, "--metering: give filament and a diameter, plunger and a bore, ml and how many, mm3, or path"),
        ({"metering": "filament"}, "--metering: clay.metering.diameter_mm: is missing; expected a number greater than 0"),
        ({"bed": "280"}, "--bed: give two numbers, its size in x and y, or four: x from and to, y from and to"),
        ({"bed": "10 -10"}, "--bed: machine.bed: the bed's max must lie above its min, on x and on y"),
        ({"park": "corner"}, "--park: give two numbers, x and y"),
        ({"cartridge-ml": "50 60"}, "--cartridge-ml: cartridge: reserve_ml, 60, must be less than volume_ml, 50, or nothing is left to print with"),
        ({"pause": "G28"}, "--pause: machine.pause.commands[1]: \"G28\" can't be used: it moves the machine or changes how later lines are read; leave it out"),
        ({"pause": "M0 ; M112"}, "--pause: machine.pause.commands[1]: \"M0 ; M112\" can't be used: a command is one line without ';', '*', '(', ')' or '%'"),
        ({"hose": "1 2 3 4"}, "--hose: give ml; or bore and length in mm, and perhaps the auger's ml"),
        ({"colour": "a\tb"}, "--colour: clay.colour: \"a\\tb\" can't be used: a text is one line of printable characters"),
    ],
)  # fmt: skip
def test_nonsense_is_refused(answers: dict[str, str], sentence: str) -> None:
    """An answer that a config couldn't have is refused in the config's own words, behind the option's name."""
    with pytest.raises(ConfigError) as caught:
        answers_given(answers)
    assert str(caught.value) == sentence


def test_refused_as_a_config_is() -> None:
    """The words are those that loading a file with the same value has, but for the file and line."""
    with pytest.raises(ConfigProblems) as in_file:
        load_text("studio.yaml", "machine:\n  ceiling_mm: -5\n")
    with pytest.raises(ConfigError) as answered:
        answers_given({"ceiling-mm": "-5"})
    assert str(in_file.value).partition(": ")[2] == str(answered.value).partition(": ")[2]


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.one_of(st.integers(int(low) + 1, int(high) - 1), st.floats(low, high, exclude_min=True, exclude_max=True))


SENSIBLE = st.fixed_dictionaries(
    {},
    optional={
        "ceiling-mm": number(1, 5000),
        "nozzle-mm": number(0.1, 40),
        "cartridge-ml": number(200, 20_000),
        "density-g-ml": st.floats(1, 3),
        "water-percent": number(0, 99),
        "shrinkage-percent": number(0, 99),
        "hose": number(0, 500),
        "colour": st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=40),
    },
)
KEYS = {question.option: question.things[0][0] for question in QUESTIONS}


@given(answers=SENSIBLE)
def test_what_is_answered_is_what_is_loaded(answers: dict[str, Any]) -> None:
    """Any answers that make sense give a file that loads to just these values, and to gpost's own elsewhere."""
    config = loaded({option: value if isinstance(value, str) else repr(value) for option, value in answers.items()})
    for option, path in KEYS.items():
        wanted = answers[option] if option in answers else default(path)
        found = value_at(config, path)
        assert found == wanted or (isinstance(wanted, float) and wanted < 1e-6 and found == 0)
        assert (path[-1] in value_at(config, path[:-1]).model_fields_set) == (option in answers)


@given(
    low=number(-1000, 1000), width_mm=number(1, 2000), unit=st.sampled_from(["filament", "plunger", "ml"]),
    size=number(0.001, 100), stays=st.floats(0.01, 0.99), is_round=st.booleans(), hose=st.booleans(),
)  # fmt: skip
def test_answers_of_several_numbers(
    low: float, width_mm: float, unit: str, size: float, stays: float, is_round: bool, hose: bool
) -> None:
    """Each number of an answer lands at its own key."""
    high, park = low + width_mm, f"{low!r} {low + width_mm / 3!r}"
    bed = f"{'round ' * is_round}{low!r} {high!r} {-high!r} {-low!r}"
    filled_ml, metered = size + 100, {"filament": "diameter_mm", "plunger": "bore_mm", "ml": "ml_per_unit"}
    config = loaded(
        {
            "bed": bed,
            "park": park,
            "metering": f"{unit} {size!r}",
            "cartridge-ml": f"{filled_ml!r} {stays * filled_ml!r}",
            "hose": f"{size!r} x {width_mm!r} {stays!r}" if hose else repr(size),
        }
    )
    machine, cartridge = config.machine, config.cartridge
    assert machine.bed.model_dump() == {
        "x_min_mm": low, "x_max_mm": high, "y_min_mm": -high, "y_max_mm": -low, "round": is_round
    }  # fmt: skip
    assert (machine.park.x_mm, machine.park.y_mm) == (low, low + width_mm / 3)
    assert config.clay.metering.model_dump(exclude_none=True) == {"unit": unit, metered[unit]: size}
    assert (cartridge.volume_ml, cartridge.reserve_ml) == (filled_ml, stays * filled_ml)
    assert cartridge.line_ml == (line_ml(size, width_mm, stays) if hose else size)


@given(
    answers=st.dictionaries(
        st.sampled_from(sorted(KEYS)),
        st.one_of(
            st.text(max_size=30),
            st.text("0123456789.-x eE,#:{}[]\"'&*!|>%@`~\\", max_size=20),
            st.lists(st.sampled_from(["filament", "ml", "plunger", "mm3", "path", "round", "M0", "M600", "G1", "280", "-5", ".inf", "nan", "#", ":", "}", ",", "x"])).map(" ".join),
        ),
        max_size=4,
    )
)
def test_whatever_is_typed(answers: dict[str, str]) -> None:
    """Any text gives a sentence, or a file that loads, in which no key stands that wasn't asked for."""
    try:
        found = answers_given(answers)
    except ConfigError as error:
        assert str(error).startswith(tuple(f"--{option}: " for option in answers))
        return
    text = filled(found)
    assert text.count("\n") == filled({}).count("\n")
    config = load_text("studio.yaml", text.encode().decode()).config
    assume(found)
    for path in found:
        assert path[-1] in value_at(config, path[:-1]).model_fields_set
    set_keys = {
        (table, *inner, key)
        for table, inner in [("machine", ()), ("machine", ("pause",)), ("clay", ()), ("cartridge", ())]
        for key in value_at(config, (table, *inner)).model_fields_set
    } - {("machine", "pause")}
    assert set_keys == set(found)


@given(value=st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-10**12, 10**12), st.floats(-1e9, 1e9), st.text(max_size=9)),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=6,
))  # fmt: skip
def test_values_come_back(value: Any) -> None:
    """What is written in one line is read back just so."""


    assume("\ud800" not in repr(value))
    problems: list[Any] = []
    tree = read_tree("x", f"key: {flow(value)}\n", problems)
    assert problems == []
    assert tree is not None
    assert values(tree) == {"key": value}
