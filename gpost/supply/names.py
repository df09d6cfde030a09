"""Whether two names of clays are nearly alike, so that one of them may be misspelt."""

from __future__ import annotations

import difflib
import itertools
import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from gpost.plan.plan import Plan

ALIKE = 0.75
"""Likeness of two words from which on one may be meant for the other: `grey` and `gray`, but not `green`.

Stricter than what offers a word for an unknown key (`gpost.config.nearest`): clays are told apart here that
a potter may well mean.
"""


def alike(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Pairs of different names that are nearly alike, in the order of the names."""
    for first, second in itertools.combinations(dict.fromkeys(names), 2):
        if _near(_words(first), _words(second)):
            yield first, second


class Names(NamedTuple):
    """Names of clays."""

    known: tuple[str, ...]
    """Those of the studio's list."""
    used: tuple[str, ...]
    """Those that a job names, and those of its bands that don't come to show too."""


def names_of(plan: Plan) -> Names:
    """The names in a plan, in the order in which they come; what no config names is left out."""
    config = plan.config
    used = [config.clay.colour] if "colour" in config.clay.model_fields_set else []
    used += [pause.colour for pause in plan.pauses if pause.colour is not None]
    if config.colours is not None:
        used += [] if config.colours.line_holds is None else [config.colours.line_holds]
        used += config.colours.clays
    return Names(tuple(clay.name for clay in config.clays), tuple(used))


def clay_doubts(found: Iterable[Names]) -> list[str]:
    """What to ask about the names of one job's clays, or several jobs': nearly alike, or unknown."""
    jobs = list(found)
    known = list(dict.fromkeys(name for job in jobs for name in job.known))
    used = list(dict.fromkeys(name for job in jobs for name in job.used))
    pairs = [(first, second) for first, second in alike([*known, *used]) if not {first, second} <= {*known}]
    asked = {name for pair in pairs for name in pair}
    return [doubt(*pair) for pair in pairs] + [
        f"{name} is none of the studio's clays (clays): {', '.join(known)}; is it misspelt, or missing there?"
        for name in used
        if known and name not in known and name not in asked
    ]


def doubt(first: str, second: str) -> str:
    """The sentence for such a pair."""
    return (
        f"{first} and {second} count as two clays: are these two clays, or is one misspelt? If they are one, "
        f"write its name the same everywhere"
    )


def _words(name: str) -> list[str]:
    return re.findall(r"[^\s_\-.,]+", name.casefold())


def _near(first: list[str], second: list[str]) -> bool:
    """Whether one is the other with a part left out behind, run together, or with misspelt words.

    Names that differ in their figures are meant to: `marl 1` and `marl 2`.
    """
    if not first or not second or _figures(first) != _figures(second):
        return False
    shorter, longer = sorted((first, second), key=len)
    if longer[: len(shorter)] == shorter or "".join(first) == "".join(second):
        return True
    return len(first) == len(second) and all(map(_word_near, first, second))


def _word_near(first: str, second: str) -> bool:
    low, high = sorted((first, second))  # the ratio hangs on the order
    return difflib.SequenceMatcher(None, low, high).ratio() >= ALIKE


def _figures(words: list[str]) -> list[str]:
    return re.findall(r"\d+", " ".join(words))
