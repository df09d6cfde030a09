"""The step that lets a file begin by asking for its clay; it goes behind all steps of a recipe."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from gpost.config.settings import Settings
from gpost.plan.intentions import Ask, Intention, MovePause, Note, Pause, Restart
from gpost.plan.plan import Plan
from gpost.spot import START
from gpost.steps.step import Step
from gpost.supply.display import Messages
from gpost.supply.names import Names
from gpost.survey.model import Survey


class Called(NamedTuple):
    """A cartridge of a day."""

    number: int
    """What the day's sheet calls it."""
    load_ml: float
    """What must be in it for all that the day takes out of it, its reserve included."""


class AskFirst(Step[Settings]):
    """Shows which clay is expected in hose and cartridge, and waits before anything moves.

    In a day the words of the pauses go by the day's cartridges, which other pieces may share; words that a
    step has for its own pause are kept.
    """

    name = "ask"
    Settings = Settings

    def __init__(self, called: Sequence[Called] = (), names: Sequence[Names] = ()) -> None:
        """`called`: the day's names of this piece's cartridges, in their order; none: it is run by itself.

        `names`: of the clays in all pieces of the day.
        """
        super().__init__(Settings())
        self._called, self._names = called, names

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """The question at the file's start, and the day's words for the pauses."""
        messages = Messages(plan, self._names)
        for text in messages.at_start(self._called[0].number if self._called else None):
            yield Ask(START, text, "it shows which clay should be in hose and cartridge")
        if self._called:
            numbers = ", ".join(str(called.number) for called in self._called)
            counted = "cartridge is" if len(self._called) == 1 else "cartridges are, in their order,"
            yield Note(f"on the day's sheet its {counted} number {numbers}: load what is said there")
        inserted = [item.intention for item in plan.insertions]
        changes = [item for item in inserted if isinstance(item, Pause) and item.new_cartridge]
        changes = [
            pause for pause in changes if not isinstance(pause, Restart)
        ]  # the same cartridge stays on
        for pause, (number, load_ml) in zip(changes, self._called[1:], strict=False):
            if pause.message is None:
                if plan.restart is not None:  # it may take more than the day has reckoned with
                    load_ml = max(load_ml, messages.least_ml(pause))
                words = messages.to_load(pause, number, load_ml)
                yield MovePause(pause, dataclasses.replace(pause, message=words), "the day's words")


def with_question(steps: Sequence[Step[Any]], *, ask_first: bool) -> list[Step[Any]]:
    """A recipe's steps, and behind them the question if the file is to begin with it."""
    return [*steps, *([AskFirst()] if ask_first else [])]
