"""Numbers on a command line."""

from __future__ import annotations

from typing import Any

import click

from gpost.config.typed import read_number


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
