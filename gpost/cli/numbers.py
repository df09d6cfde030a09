"""Numbers on a command line, and how to write one that was meant otherwise."""

from __future__ import annotations

import math
from typing import Any

import click

from gpost.config.scalars import number_hint, with_unit

_IN = {
    ("kg", "g"): 1000,
    ("l", "ml"): 1000,
    ("cm", "mm"): 10,
    ("h", "minutes"): 60,
    ("min", "minutes"): 1,
    ("%", "percent"): 1,
}
"""What one of a unit is in another."""


class Number(click.FloatRange):
    """A number, in the unit that the option is in."""

    name = "number"

    def __init__(self, unit: str = "", **limits: Any) -> None:
        """`limits` as of click.FloatRange."""
        super().__init__(**limits)
        self.unit = unit

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number. Raises click.BadParameter that says how to write it."""
        if isinstance(value, str):
            try:
                value = read_number(value, self.unit)
            except ValueError as error:
                self.fail(str(error), param, ctx)
        return super().convert(value, param, ctx)

    def _describe_range(self) -> str:
        return _range(self, super()._describe_range())


class Whole(click.IntRange):
    """A whole number."""

    name = "whole number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number. Raises click.BadParameter that says how to write it."""
        if isinstance(value, str):
            try:
                number = read_number(value)
            except ValueError as error:
                self.fail(str(error), param, ctx)
            if number != int(number):
                self.fail(f"{value!r} is no whole number", param, ctx)
            value = int(number)
        return super().convert(value, param, ctx)

    def _describe_range(self) -> str:
        return _range(self, super()._describe_range())


def _range(of: Number | Whole, described: str) -> str:
    """What help says of a number's limits: nothing, if there are none."""
    return "" if of.min is None and of.max is None else described


def read_number(text: str, unit: str = "") -> float:
    """A number as it is typed. Raises ValueError with a sentence that says how to write it."""
    try:
        number = float(text.replace("_", "?"))  # Python's own spelling, and nobody else's
    except ValueError:
        hint = _hint(text, unit)
        raise ValueError(f"{text!r} is no number" + (f"; {hint}" if hint else "")) from None
    if not math.isfinite(number):
        raise ValueError(f"{text!r} is no ordinary number")
    return number


def _hint(text: str, unit: str) -> str:
    """How to write a text as the number that was meant."""
    found = with_unit(text)
    if found is None:
        return number_hint(text)
    number, said = found
    factor = 1 if said == unit else _IN.get((said, unit))
    amount = _amount(number)
    if factor is None or amount is None:
        return f"write the number alone, in {unit}" if unit else "write the number alone"
    return f"write {amount * factor:.15g}, in {unit}"


def _amount(text: str) -> float | None:
    """The number in front of a unit, with a comma or a point; None if it can be read in two ways."""
    try:
        return float(text if len(text.rpartition(",")[2]) == 3 else text.replace(",", "."))
    except ValueError:
        return None
