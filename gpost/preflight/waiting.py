"""Where the file itself waits for the potter, and no step silences that."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.plan.plan import Plan
from gpost.preflight.model import Finding

LINES_SHOWN = 5


class Waiting:
    """Asks the plan, so that what is silenced is none."""

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for all of the file's own pauses."""
        pauses = plan.own_pauses
        if not pauses:
            return
        commands = ", ".join(dict.fromkeys(pause.command for pause in pauses))
        lines = [str(pause.line + 1) for pause in pauses]
        where = f"line {lines[0]}" if len(lines) == 1 else f"lines {_listed(lines)}"
        text = f"the file itself makes the machine wait for you, by {commands}: {where}"
        yield Finding("own-pause", "note", pauses[0].line, text, len(pauses))


def _listed(lines: list[str]) -> str:
    if len(lines) > LINES_SHOWN:
        lines = [*lines[: LINES_SHOWN - 1], f"{len(lines) - LINES_SHOWN + 1} more"]
    return f"{', '.join(lines[:-1])} and {lines[-1]}"
