"""What every settings model is built of: its base, and the kinds of numbers, texts and commands in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import InitErrorDetails

LEAST, MOST = 1e-6, 1e9
"""No number beyond MOST can be meant, in whatever unit, and none below LEAST where it must be above 0: so all
sums stay finite, and all loops short."""


_TOO_LARGE = ValueError("a number as large as that can't be meant")


def _too_large(value: object) -> bool:
    return isinstance(value, int | float) and abs(value) > MOST


class Settings(BaseModel):
    """Base of every part of the config and of every step's settings.

    Frozen; an unknown key is an error; infinities, NaN and numbers that nobody can mean are no numbers.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, str_max_length=200)

    @model_validator(mode="after")
    def _can_be_meant(self) -> Self:
        # one check for the whole model: one for each field takes a fifth of the time that models are built in
        wrong = {
            name: _TOO_LARGE
            for name, value in self
            if any(_too_large(part) for part in (value if isinstance(value, tuple) else (value,)))
        }
        if wrong:
            raise at_keys(self, wrong)
        return self


def at_keys(model: BaseModel, wrong: Mapping[str, ValueError]) -> ValidationError:
    """One error for what is wrong with each of some keys."""
    details = [
        InitErrorDetails(type="value_error", loc=(key,), input=getattr(model, key), ctx={"error": error})
        for key, error in wrong.items()
    ]
    return ValidationError.from_exception_data(type(model).__name__, details)


class BesideOthers(ValueError):
    """What is wrong with a value beside others, which may stand in another file."""


def not_tiny(number: float) -> float:
    """Refuse what is above 0 by so little that it can't be divided by."""
    if number < LEAST:
        raise ValueError("a number as small as that can't be meant")
    return number


Positive = Annotated[float, Field(gt=0), AfterValidator(not_tiny)]
NotNegative = Annotated[float, Field(ge=0), AfterValidator(lambda number: 0.0 if number < LEAST else number)]
Share = Annotated[float, Field(ge=0, le=1)]
Percent = Annotated[float, Field(ge=0, lt=100)]
SpreadPercent = Annotated[
    float, Field(ge=0, le=50), AfterValidator(lambda number: 0.0 if number < LEAST else number)
]
"""A standard deviation in percent of its value. Beyond half of it nothing can be said of what will be."""
FullPercent = Annotated[float, Field(ge=0, le=100)]
"""As Percent, up to the whole."""
Count = Annotated[int, Field(ge=1)]
"""A whole number of things that are counted from 1, such as layers."""
WholeNumber = Annotated[int, Field(ge=0)]


def one_command(text: str) -> str:
    """Refuse what would be more, or less, than one command on one line."""
    if not text.strip():
        raise ValueError("a command can't be empty")
    if any(not c.isprintable() for c in text) or any(c in ";*()%" for c in text):
        raise ValueError("a command is one line without ';', '*', '(', ')' or '%'")
    if not (text[0].isascii() and text[0].isalpha()):
        raise ValueError("a command starts with a letter, such as M0 or SET")
    if text[0] in "Nn" and text[1:2].isdigit():
        raise ValueError("a command can't start with a line number")
    return text


MachineCommand = Annotated[str, AfterValidator(one_command)]
"""One machine command, as it is sent."""
_CODE = re.compile(r"([GM])0*(\d{1,4}(?:\.\d)?)")
_NAME = re.compile(r"[A-Z][A-Z_][A-Z_0-9]*")


def command_name(text: str) -> str:
    """A command without its words, in capitals, as `M92` or `SET_AIR`. Raises ValueError if it is none."""
    name = text.strip().upper()
    code = _CODE.fullmatch(name)
    if code is not None:
        return f"{code[1]}{float(code[2]):g}"
    if _NAME.fullmatch(name):
        return name
    raise ValueError("a command is named without its words, as M92 or SET_AIR")


_PIN = re.compile(r"M0*42[ \t]*P0*(\d{1,4})")


def switch_name(text: str) -> str:
    """A command's name as `command_name` has it, or M42 with the pin that it sets, as `M42 P6`."""
    pin = _PIN.fullmatch(text.strip().upper())
    try:
        return f"M42 P{pin[1]}" if pin else command_name(text)
    except ValueError:
        raise ValueError(
            "a command is named without its words, as M3, or M42 with its pin, as M42 P6"
        ) from None


SwitchNames = Annotated[tuple[Annotated[str, AfterValidator(switch_name)], ...], Field(max_length=500)]
"""Some commands, each without its words, or M42 with a pin."""
CommandNames = Annotated[tuple[Annotated[str, AfterValidator(command_name)], ...], Field(max_length=500)]
"""Some commands, each without its words."""
MachineCommands = Annotated[tuple[MachineCommand, ...], Field(max_length=20)]
"""Some machine commands, one after the other."""


def plain_text(text: str) -> str:
    """Refuse text that holds line breaks, control or direction characters."""
    if any(not c.isprintable() for c in text):
        raise ValueError("a text is one line of printable characters")
    return text


PlainText = Annotated[str, AfterValidator(plain_text)]
"""Text for a person. It may still hold what a display can't show; the compiler sees to that."""


def clay_name(text: str) -> str:
    """Refuse a name that nobody could read out."""
    if not any(c.isalnum() for c in text):
        raise ValueError("a name has a letter or a figure in it")
    return text


ClayName = Annotated[PlainText, AfterValidator(clay_name)]
"""What a clay is called; names that differ in capitals or blanks are different ones."""
