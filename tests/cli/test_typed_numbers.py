"""Numbers as they are typed: with a unit, a comma, a percent sign; on every option of every command."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import click
import pytest
from click.testing import Result

from gpost.cli import COMMANDS, cli
from gpost.cli.numbers import Number, Whole, read_number

Gpost = Callable[..., Result]


@pytest.mark.parametrize(
    ("text", "number"), [("27", 27), ("268.5", 268.5), ("-.5", -0.5), ("1e3", 1000), (" 5 ", 5)]
)
def test_a_number(text: str, number: float) -> None:
    """As everybody writes them."""
    assert read_number(text) == number


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        ("27%", "percent", "write 27, in percent"),
        ("27 %", "percent", "write 27, in percent"),
        ("1kg", "g", "write 1000, in g"),
        ("1,5 kg", "g", "write 1500, in g"),
        ("0.2l", "ml", "write 200, in ml"),
        ("12cm", "mm", "write 120, in mm"),
        ("1.5h", "minutes", "write 90, in minutes"),
        ("850g", "g", "write 850, in g"),
        ("850ml", "g", "write the number alone, in g"),
        ("2,000 g", "g", "write the number alone, in g"),
        ("5x", "", "write the number alone"),
        ("268,5", "g", "write a point, not a comma: 268.5"),
        ("2,000", "g", "write it without a comma: 2000, or 2.000 if that is meant"),
        ("1,234,567", "g", "write it without commas: 1234567"),
        ("1_000", "g", "write it without _: 1000"),
    ],
)
def test_what_was_meant(text: str, unit: str, said: str) -> None:
    """The sentence shows how to write it; nothing is guessed."""
    with pytest.raises(ValueError, match="is no number") as caught:
        read_number(text, unit)
    assert str(caught.value) == f"{text!r} is no number; {said}"


@pytest.mark.parametrize("text", ["two", "", "1.2.3", "--5"])
def test_what_nobody_can_know(text: str) -> None:
    """It is no number, and that is all there is to say."""
    with pytest.raises(ValueError, match=r"is no number$"):
        read_number(text)


@pytest.mark.parametrize("text", ["nan", "inf", "-Infinity", "1e999"])
def test_no_ordinary_number(text: str) -> None:
    """Such as Python reads, and nobody means."""
    with pytest.raises(ValueError, match="is no ordinary number"):
        read_number(text)


def commands() -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command with the words that call it."""
    context = click.Context(cli)
    for name in COMMANDS:
        command = cli.get_command(context, name)
        assert command is not None
        if isinstance(command, click.Group):
            yield from (((name, sub), below) for sub, below in command.commands.items())
        else:
            yield (name,), command


NUMBERS = [
    (words, param)
    for words, command in commands()
    for param in command.params
    if isinstance(param.type, Number | Whole)
]
OTHERS = [
    ("calibrate", "--weighing", "5={}"),
    ("calibrate", "--slump", "{}=5"),
    ("calibrate", "--shrank", "100={}=80"),
    ("log add x.json -c x.yaml", "--minutes", "{}"),
    ("stain --wet-g 1000", "--add", "cobalt={}"),
]
"""Options that take numbers as part of something else."""


def test_no_option_takes_numbers_in_another_way() -> None:
    """Every number goes the one way, whatever the command."""
    kinds = (click.types.IntParamType, click.types.FloatParamType)
    others = [
        param.name for _, command in commands() for param in command.params if isinstance(param.type, kinds)
    ]
    assert set(others) == {param.name for _, param in NUMBERS}
    assert len(NUMBERS) > 10


@pytest.mark.parametrize("text", ["27%", "1kg", "268,5", "2,000"])
@pytest.mark.parametrize(("words", "param"), NUMBERS, ids=str)
def test_on_every_option(gpost: Gpost, words: tuple[str, ...], param: click.Parameter, text: str) -> None:
    """Status 2, the option's name, and how to write it."""
    option = [param.opts[0]] if param.opts[0].startswith("-") else []
    result = gpost(*words, *option, text)
    assert (result.exit_code, result.stdout) == (2, "")
    assert f"'{text}' is no number; write " in result.stderr
    assert (param.opts[0] if option else param.human_readable_name) in result.stderr


@pytest.mark.parametrize("text", ["27%", "1kg", "268,5", "2,000"])
@pytest.mark.parametrize(("command", "option", "form"), OTHERS)
def test_on_numbers_within_something_else(
    gpost: Gpost, command: str, option: str, form: str, text: str
) -> None:
    """The same."""
    result = gpost(*command.split(), option, form.format(text))
    assert (result.exit_code, result.stdout) == (2, "")
    assert f"'{text}' is no number; write " in result.stderr
