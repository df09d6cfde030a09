"""The steps of a config: each found by its name, and made with its settings checked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from gpost.common.foreign import foreign, told_by
from gpost.config.check import Section
from gpost.config.load import LoadedConfig, StepEntry
from gpost.config.model import Config
from gpost.config.nearest import did_you_mean
from gpost.config.problem import ConfigProblems, Problem, quoted, shown_path
from gpost.steps.manager import Broken, unloaded
from gpost.steps.step import Step


def make_steps(
    loaded: LoadedConfig, known: Mapping[str, type[Step[Any]]], broken: Sequence[Broken] = ()
) -> list[Step[Any]]:
    """The config's steps in its order, each with its settings checked.

    `known` holds every step by its name, `broken` what can't be used. Raises ConfigError with a line for each
    problem.
    """
    problems: list[Problem] = []
    steps = [_made(entry, known, broken, loaded.config, problems) for entry in loaded.entries]
    if problems:
        raise ConfigProblems(sorted(problems, key=lambda p: p.order))
    return [step for step in steps if step is not None]


def _made(
    entry: StepEntry,
    known: Mapping[str, type[Step[Any]]],
    broken: Sequence[Broken],
    config: Config,
    problems: list[Problem],
) -> Step[Any] | None:
    """The step itself; None, with more problems, if it is unknown or its settings don't fit."""
    here = ("steps", entry.index)
    if entry.name not in known:
        hint = did_you_mean(entry.name, known) or (
            "`gpost steps` lists the steps there are; one of your own needs its folder (--steps-from)"
        )
        hint = "; ".join(filter(None, (hint, unloaded(broken))))
        wrong = f"there is no step {quoted(entry.name)}"
        problems.append(Problem.at(entry.place, shown_path(here), wrong=wrong, hint=hint))
        return None
    kind = known[entry.name]
    path = (*here, entry.name)
    section = Section(kind.Settings, entry.settings, entry.place, path)
    try:
        with foreign():
            settings = section.fit(problems)
            if settings is None:
                return None
            step = kind(settings)
            problems += [section.problem((key,), wrong) for key, wrong in step.unfit(config)]
            return step
    except Exception as error:
        wrong = f"the step failed on these settings: {told_by(error)}"
        problems.append(Problem.at(entry.place, shown_path(path), wrong=wrong))
        return None
