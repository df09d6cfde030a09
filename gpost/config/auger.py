"""What the file itself switches its auger by: a spindle, a pin, a valve, a name.

M3 to M5: NISTIR 6556, section 3.6.2. All other codes: common practice, no source.
"""

from __future__ import annotations

import math
from typing import Self

from pydantic import field_validator, model_validator

from gpost.common.later import later
from gpost.config.blower import blows_as
from gpost.config.commands import LEVEL, code_and_numbers
from gpost.config.settings import MachineCommand, Settings

_SPINDLE = frozenset({"M3", "M4"})
_STOPS = frozenset({"M5", "M9", "M103", "M127"})
_BLOWERS = frozenset({"M106", "M107"})
_LEVEL_WORD = later(rf"[ \t]*(?:\b\w+=|[A-Za-z]){LEVEL}")


class AugerCommands(Settings):
    """How the file switches its auger, or whatever pushes its clay beside E."""

    on: MachineCommand
    """What starts it; `<level>` stands for the number by which the file says how fast, which is given again
    as the file last had it: `M3 S<level>`, or `M42 P5 S<level>` for a pin. With a command that isn't the
    file's own, nothing stops the auger at waits."""
    off: MachineCommand
    """What stops it, such as M5 or `M42 P5 S0`. A command that the machine doesn't know lets clay run at
    every wait."""

    @field_validator("on")
    @classmethod
    def _starts(cls, command: str) -> str:
        code, _ = code_and_numbers(command) or ("", {})
        if code in _STOPS:
            raise ValueError("it stops what pushes clay; say here what starts it, and `off` what stops it")
        if code in _BLOWERS:
            raise ValueError("gpost follows M106 as a blower's; an auger that it drives can't be kept apart")
        return command

    @model_validator(mode="after")
    def _differ(self) -> Self:
        if blows_as(self.off, self.on):
            raise ValueError(f"the auger runs at `off`, {self.off}, as at `on`; say there what stops it")
        return self

    def at(self, level: float) -> str:
        """`on` with that number; infinite: with none, as the file has said none."""
        if math.isinf(level):
            return _LEVEL_WORD.sub("", self.on)
        number = f"{level:.6f}".rstrip("0").rstrip(".")
        code, words = code_and_numbers(self.on) or ("", {})
        # M3 alone keeps the speed, or, on other machines, turns as fast as it can
        return f"{self.on} S{number}" if code in _SPINDLE and not words else self.on.replace(LEVEL, number)
