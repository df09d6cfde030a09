"""The step that a day puts behind each recipe: the file begins by asking for its clay."""

from __future__ import annotations

from collections.abc import Iterable

from gpost.config.settings import Settings
from gpost.plan.intentions import Ask, Intention
from gpost.plan.plan import Plan
from gpost.spot import START
from gpost.steps.step import Step
from gpost.survey.model import Survey


class AskFirst(Step[Settings]):
    """Shows which clay is expected in hose and cartridge, and waits before anything moves."""

    name = "ask"
    Settings = Settings

    def __init__(self) -> None:
        super().__init__(Settings())

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One question at the file's start; what it says follows from the whole plan."""
        yield Ask(START, "it shows which clay should be in hose and cartridge")
