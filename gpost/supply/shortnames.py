"""What the display calls clays whose whole names it has no room for: never two of them the same."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from gpost.config.model import Config
from gpost.supply.names import Names

LEAST_HEAD = 2
"""Letters of the first words that must be left for the last word to be shown whole."""
LARGEST_NUMBER = 99
"""Of a cartridge, for which there is always room."""


def short_names(config: Config, found: Iterable[Names]) -> dict[str, str]:
    """By name what the display calls the clays that would look the same if they were cut where it ends.

    The studio's list counts whole, so that a piece's clays are called the same alone and in a day.
    """
    jobs = list(found)
    known = [clay.name for clay in config.clays] + [name for job in jobs for name in job.known]
    names = [*known, *sorted({name for job in jobs for name in job.used}), config.clay.colour]
    amount = f" {config.cartridge.volume_ml:.0f}ml"
    return told_apart(names, max(config.machine.display_letters - len(f"{LARGEST_NUMBER}: {amount}"), 1))


def told_apart(names: Iterable[str], letters: int) -> dict[str, str]:
    """Names that are the same when they are cut to so many letters, cut so that they differ.

    Their middle words are dropped, or else they end with a number.
    """
    groups: dict[str, list[str]] = {}
    for name in dict.fromkeys(names):
        groups.setdefault(_cut(name, letters), []).append(name)
    taken = {cut for cut, group in groups.items() if len(group) == 1}
    found: dict[str, str] = {}
    for group in groups.values():
        if len(group) > 1:
            short = [_without_middle(name, letters) for name in group]
            if len(set(short)) < len(group) or taken & set(short):
                short = _numbered(group, letters, taken)
            found |= zip(group, short, strict=True)
            taken |= set(short)
    return found


def short_words(short: Mapping[str, str], used: Iterable[str]) -> str:
    """A sentence for the clays that the display calls otherwise; "" without any."""
    said = [f"{name} '{short[name]}'" for name in dict.fromkeys(used) if short.get(name, name) != name]
    if not said:
        return ""
    return f"where the display has no room for a clay's whole name, it calls {', '.join(said)}"


def _cut(name: str, letters: int) -> str:
    return name[:letters].rstrip()


def _without_middle(name: str, letters: int) -> str:
    """The first letters and the whole last word, if there is room for both."""
    head, _, last = name.strip().rpartition(" ")
    room = letters - len(last) - 1
    return f"{_cut(head, room)} {last}" if head and room >= LEAST_HEAD else _cut(name, letters)


def _numbered(names: Iterable[str], letters: int, taken: set[str]) -> list[str]:
    """Each with a number at its end, so that none is taken."""
    found: list[str] = []
    number = 0
    for name in names:
        while True:
            number += 1
            short = f"{_cut(name, max(letters - len(str(number)), 0))}{number}"
            if short not in taken:
                break
        found.append(short)
    return found
