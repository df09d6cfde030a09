"""What the studio's files say counts for all files after them: the commands they allow, and their limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import reduce
from typing import Any

from gpost.config.auger import AugerCommands
from gpost.config.blower import missed_by
from gpost.config.check import Section
from gpost.config.commands import IN_PAUSE, configured, covers, hold_unsaid, kind_of, refusal, studio_word
from gpost.config.limits import NOBODY, loosened
from gpost.config.machine import AirCommands
from gpost.config.model import Config, Origin
from gpost.config.problem import Problem
from gpost.config.yamltree import Items, Scalar, Table, overlaid

_HOLD_UNSAID = (
    "it doesn't say after how many seconds the motors may let go while the machine waits; S0 holds them for "
    "as long as it takes"
)


def origin_of(trees: Sequence[Table], studio: int, whole: Table) -> Origin:
    """What a config's files tell; `trees` are theirs, of which the first `studio` are the studio's."""
    before, sentences = reduce(overlaid, trees[:studio], NOBODY), list[str]()
    for later in trees[studio:]:
        sentences += loosened(before, later)
        before = overlaid(before, later)
    clay = whole.entries.get("clay")
    metering = clay.node.entries.get("metering") if clay and isinstance(clay.node, Table) else None
    given = metering is not None and isinstance(metering.node, Table)
    return Origin(metering.place.file if metering is not None and given else "", tuple(sentences))


def refused_commands(trees: Sequence[Table], studio: int, whole: Table, config: Config) -> Iterator[Problem]:
    """A problem for each command that may not be sent or holds for no time, and that a later file allows.

    Where all may be sent, one for an `air` or `auger` whose `off` leaves on what its `on` starts. The models
    don't ask for these: first it must be known whose word a command stands by.
    """
    base = before = reduce(overlaid, trees[:studio], NOBODY)
    for later in trees[studio:]:
        known, section = _texts(before, "allow_commands"), Section(Config, later, later.place)
        for index, entry in enumerate(_texts(later, "allow_commands")):
            if not any(covers(old, entry) for old in known):
                wrong = "only the studio's own file may allow a command; leave it out, or say it there"
                yield section.problem(("machine", "allow_commands", index), wrong)
        before = overlaid(before, later)
    air = [text for key in ("on", "off") for text in _texts(base, "air", key)]
    auger = [text for key in ("on", "off") for text in _texts(base, "auger", key)]
    word = studio_word(config.machine.allow_commands, air, auger)
    section = Section(Config, whole, whole.place)
    refused = False
    for path, place, command in configured(config.machine):
        if kind_of(command, place, word) is None:
            refused = True
            yield section.problem(("machine", *path), refusal(command, place))
        elif place in IN_PAUSE and hold_unsaid(command):
            yield section.problem(("machine", *path), _HOLD_UNSAID)
    switches: dict[str, AirCommands | AugerCommands | None] = {
        "air": config.machine.air,
        "auger": config.machine.auger,
    }
    for name, switch in switches.items():
        missed = "" if refused or switch is None else missed_by(switch.off, switch.on)
        if missed and switch is not None:
            key = "off" if "off" in switch.model_fields_set else "on"
            yield section.problem(("machine", name, key), missed)


def _texts(config: Table, *path: str) -> list[str]:
    """The text, or the list of texts, at a path under `machine:`."""
    node: Any = config
    for key in ("machine", *path):
        entry = node.entries.get(key) if isinstance(node, Table) else None
        node = None if entry is None else entry.node
    nodes = node.nodes if isinstance(node, Items) else [node]
    return [item.text for item in nodes if isinstance(item, Scalar)]
