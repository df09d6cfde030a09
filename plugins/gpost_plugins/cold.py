"""Step `cold`: silences heating, which a clay machine has not got."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray
from pydantic import AfterValidator

from gpost.api import (
    Ban,
    Command,
    Config,
    Field,
    Intention,
    MachineCommand,
    Note,
    Plan,
    Settings,
    Silence,
    Spot,
    Step,
    Survey,
    hookimpl,
)

CODE = re.compile(r"([GMT])(\d{1,5})(?:\.(\d))?", re.IGNORECASE)


def _code(text: str) -> str:
    if not CODE.fullmatch(text):
        raise ValueError("a code is a letter G, M or T and its number, such as M104")
    return text.upper()


Code = Annotated[str, AfterValidator(_code)]


class ColdSettings(Settings):
    """What counts as heating, and whether the extruder must be told to move cold."""

    codes: tuple[Code, ...] = Field(
        ("M104", "M109", "M116", "M140", "M190", "M141", "M191", "M301", "M303", "M304"),
        description="Commands that heat, wait for heat or set up a heater; all are silenced.",
    )
    also: tuple[Code, ...] = Field((), description="More codes to silence, beside those in `codes`.")
    move_cold: bool = Field(False, description="Send `cold_command` first: the extruder may move cold.")
    cold_command: tuple[MachineCommand, ...] = Field(
        ("M302 P1",), description="What lets the extruder move while cold, one command an entry."
    )


class Cold(Step[ColdSettings]):
    """Silences heating and waits for heat.

    A file that was sliced for plastic warms a nozzle and a bed and waits until they are hot. A clay
    machine has neither: it would wait for ever, or stop with an alarm. The lines stay in the file as
    comments. Use it for every file that comes from a slicer for plastic. If your machine refuses to
    turn the extruder while it is cold, add `move_cold`.

        steps:
          - cold:
              move_cold: true
    """

    name = "cold"
    Settings = ColdSettings

    def unfit(self, config: Config) -> Iterable[tuple[str, str]]:
        """What may not be sent."""
        for command in self.settings.cold_command if self.settings.move_cold else ():
            wrong = config.machine.refusal(command)
            if wrong:
                yield "cold_command", f"{command}: {wrong}"

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Silence every line that holds one of the codes, and let nobody insert one."""
        codes = (*self.settings.codes, *self.settings.also)
        yield Ban(codes, "it heats, or waits for heat; take it out of the config")
        if self.settings.move_cold:
            yield Command(Spot(0), self.settings.cold_command, "the extruder may move cold")
        hot = self._hot(survey)
        if hot.any():
            lines = survey.commands["line"][hot]
            lines = lines[np.diff(lines, prepend=-1) > 0]  # they are in order; sorting would take memory
            yield Silence(lines, "heating and waits for heat")
            yield from _lost(survey, hot, lines)
        else:
            yield Note("the file heats nothing, so there was nothing to silence")

    def _hot(self, survey: Survey) -> NDArray[np.bool_]:
        """Which of the survey's commands are silenced, shape (commands,)."""
        commands = survey.commands
        hot = np.zeros(len(commands), dtype=bool)
        for text in (*self.settings.codes, *self.settings.also):
            letter, number, tenth = CODE.fullmatch(text).groups()  # type: ignore[union-attr]
            code_x10 = int(number) * 10 + int(tenth or 0)
            hot |= (commands["letter"] == letter.encode()) & (commands["code_x10"] == code_x10)
        return hot


def _lost(survey: Survey, hot: NDArray[np.bool_], lines: NDArray[np.int64]) -> Iterator[Note]:
    """Warn of other commands that share a silenced line, and so fall silent with it."""
    others = survey.commands[~hot & (survey.commands["letter"] != b"T")]  # T there names a heater
    for other in others[np.isin(others["line"], lines)]:
        yield Note(
            f"line {other['line'] + 1} holds {command_name(other)} beside the heating, and that is "
            f"silenced with it; put it on a line of its own if it is needed",
            warning=True,
        )


def command_name(command: Any) -> str:
    """A row of the survey's commands as it is written: `M104`."""
    number, tenth = divmod(int(command["code_x10"]), 10)
    return f"{command['letter'].decode()}{number}" + (f".{tenth}" if tenth else "")


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Cold]
