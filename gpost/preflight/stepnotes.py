"""What config, survey and steps say themselves: limits, doubts, lists, odd things, guessed layers, notes."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.config.commands import codes_in
from gpost.motion import codes
from gpost.plan.intentions import Ban, Expected, Note, Pause, SilencePush
from gpost.plan.plan import Plan
from gpost.plan.resume import is_written
from gpost.preflight.model import Finding
from gpost.preflight.ofsurvey import odd_findings
from gpost.supply.fronts import expected_text

MOVES = frozenset(codes.name_of("G", code) for code in codes.MOVES)


class Told:
    """Passes on the words of others, so that all that is found stands in one list."""

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for each thing said."""
        for text in plan.config.origin.loosened:
            yield Finding("looser-limits", "error", None, text)
        yield from (Finding("unlikely-value", "warning", None, text) for text in plan.config.origin.doubts)
        for found in plan.config.origin.replaced:
            yield Finding("replaced", "warning" if found.loses else "note", None, found.text)
        silenced = {push.line for push in plan.of(SilencePush)}
        yield from odd_findings(plan.survey, plan.since, silenced)
        for entry in plan.entries:
            if isinstance(entry.intention, Note) and not _has_been(plan, entry.intention):
                text = _text(plan, entry.intention)
                told = text if text.startswith(f"{entry.step}: ") else f"{entry.step}: {text}"
                yield Finding("step", "warning" if entry.intention.warning else "note", None, told)
            elif isinstance(entry.intention, Ban):
                yield from _moves_ruled_out(entry.step, entry.intention)


def _moves_ruled_out(step: str, ban: Ban) -> Iterator[Finding]:
    """A code of a move that a step rules out, of which nothing comes."""
    for code in sorted(codes_in(" ".join(ban.codes)) & MOVES):
        text = (
            f"{step}: {code} is a move, and only commands are ruled out: all moves stay as they are; take it "
            f"out of the step's settings"
        )
        yield Finding("step", "warning", None, text)


def _has_been(plan: Plan, note: Note) -> bool:
    """Whether it is on a pause that isn't written, since a stopped print goes on behind it."""
    if plan.restart is None or not isinstance(note, Expected):
        return False
    which = [
        at
        for at, entry in enumerate(plan.entries)
        if isinstance(entry.intention, Pause) and note.same(entry.intention)
    ]
    return bool(which) and not any(is_written(plan, at) for at in which)


def _text(plan: Plan, note: Note) -> str:
    """The note's words; those on a pause as it stands now."""
    moved = [pause for pause in plan.pauses if note.same(pause)] if isinstance(note, Expected) else []
    return expected_text(plan, moved[0]) if moved else note.text
