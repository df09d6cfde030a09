"""What a step is: a name, settings, and one method that turns a survey into intentions."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from gpost.config.settings import Settings
from gpost.errors import PlanError
from gpost.plan.intentions import Intention

if TYPE_CHECKING:
    from gpost.config.model import Config
    from gpost.plan.plan import Plan
    from gpost.survey.model import Survey

S = TypeVar("S", bound=Settings)
VERSION = 4
"""Version of what a step is given and may ask for. It grows when a step could need what is new."""


class Step(ABC, Generic[S]):
    """Base of every step.

    A subclass sets `name` (the word in the config), `Settings` (a frozen model of its settings, every
    key with its unit in its name), optionally `after` (names of the steps it must come after when both
    are in the config), and `plan`. One that can't do with the first version of `gpost.api` says which it
    `needs_api`; a gpost with an older one then says so, and leaves it out. Its docstring is what `gpost
    explain` shows.
    """

    name: ClassVar[str]
    Settings: ClassVar[type[Settings]]
    after: ClassVar[tuple[str, ...]] = ()
    needs_api: ClassVar[int] = 1

    def __init__(self, settings: S) -> None:
        self.settings = settings

    def unfit(self, config: Config) -> Iterable[tuple[str, str]]:
        """(key, what is wrong with its value) of settings that the machine, clay or cartridge rules out.

        Told with the file and line of the key, before any file is read.
        """
        return ()

    @abstractmethod
    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Say what this step wants.

        `survey` is the frozen first pass. `plan` is read-only: it holds the config and what earlier
        steps asked for, and answers how much clay and time lie before a spot. Raise
        `gpost.api.PlanError` with a sentence when the piece can't be done.
        """


def refuse_unfit(step: Step[Any], config: Config) -> None:
    """Raise PlanError for a setting that the machine, clay or cartridge of the config rules out."""
    for key, wrong in step.unfit(config):
        raise PlanError(f"{key} can't be {getattr(step.settings, key)}: {wrong}")
