"""Which entries of a plan are one change to the file: those of one step, one kind and one reason."""

from __future__ import annotations

from typing import Literal, NamedTuple, TypeAlias

from gpost.plan.intentions import (
    Air,
    Ask,
    Command,
    Intention,
    LayClay,
    Pause,
    Rehearse,
    Say,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Wait,
)
from gpost.plan.plan import Plan
from gpost.plan.resume import is_written

ChangeKind: TypeAlias = Literal[
    "pause", "move", "lay", "say", "air", "command", "wait", "feed", "flow", "shift", "silence"
]
EDITS: frozenset[ChangeKind] = frozenset({"feed", "flow", "shift", "silence"})
"""Those that change lines of the file, where the others insert some."""
_KINDS: tuple[tuple[type, ChangeKind], ...] = (
    (Pause, "pause"),
    (Ask, "pause"),
    (LayClay, "lay"),
    (Say, "say"),
    (Air, "air"),
    (Command, "command"),
    (Wait, "wait"),
    (ScaleFeed, "feed"),
    (ScaleFlow, "flow"),
    (Rehearse, "flow"),
    (Shift, "shift"),
    (Silence, "silence"),
    (SilencePush, "silence"),
)


class Alike(NamedTuple):
    """What entries have in common that are one change."""

    step: str
    kind: ChangeKind
    why: str


def changes_of(plan: Plan) -> dict[int, Alike]:
    """The change to which each entry belongs that is written, by its index in the plan's entries."""
    found: dict[int, Alike] = {}
    for index, entry in enumerate(plan.entries):
        kind = _kind(entry.intention) if is_written(plan, index) else None
        if kind is not None:
            found[index] = Alike(entry.step, kind, _reason(entry.intention))
    return found


def _kind(intention: Intention) -> ChangeKind | None:
    return next((kind for type_, kind in _KINDS if isinstance(intention, type_)), None)


def _reason(intention: Intention) -> str:
    """What tells changes of one kind apart. Feeds and flows differ layer by layer: they go together."""
    if isinstance(intention, Pause):
        return intention.kind
    if isinstance(intention, Shift):
        return f"{intention.by_mm} {intention.why}"
    return intention.why if isinstance(intention, LayClay | Command | Wait | Silence | SilencePush) else ""
