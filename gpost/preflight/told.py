"""What the survey and the steps say themselves: odd things, notes, warnings, layers that are a guess."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.plan.intentions import Note
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.survey.model import OddStretch


class Told:
    """Passes on the words of others, so that all that is found stands in one list."""

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for each thing said."""
        yield from (Finding("odd", "warning", None, text) for text in plan.survey.warnings)
        yield from (_odd_layers(odd) for odd in plan.survey.odd)
        yield from _own_pauses(plan)
        for entry in plan.entries:
            if isinstance(entry.intention, Note):
                text = entry.intention.text
                told = text if text.startswith(f"{entry.step}: ") else f"{entry.step}: {text}"
                yield Finding("step", "warning" if entry.intention.warning else "note", None, told)


def _own_pauses(plan: Plan) -> Iterator[Finding]:
    """One finding for all of the file's own pauses."""
    pauses = plan.own_pauses
    if pauses:
        words = ", ".join(dict.fromkeys(pause.command for pause in pauses))
        times = "once" if len(pauses) == 1 else f"{len(pauses)} times"
        text = f"the file itself waits for you {times}, by {words} (first: line {pauses[0].line + 1})"
        yield Finding("own-pause", "note", pauses[0].line, text, len(pauses))


def _odd_layers(odd: OddStretch) -> Finding:
    return Finding("odd-layers", "warning", odd.first_line, odd.text)
