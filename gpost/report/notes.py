"""What the second pass has to tell: the commands that it wrote."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from gpost.preflight.model import Finding
from gpost.write.sent import SentCommand

MOST_NAMED = 30
"""Commands in one sentence; the summary's JSON has all of them."""


def command_notes(commands: Sequence[SentCommand]) -> Iterator[Finding]:
    """One note for all that is free or gpost's own, and one for each command of the studio's word."""
    free = [command for command in commands if command.kind != "allowed"]
    if free:
        kinds = dict.fromkeys(command.kind for command in free[:MOST_NAMED])
        said = [_of_kind(kind, free[:MOST_NAMED]) for kind in kinds]
        more = [f"and {len(free) - MOST_NAMED} more"] if len(free) > MOST_NAMED else []
        yield _note(f"beside moves gpost writes {'; '.join([*said, *more])}")
    for command in commands:
        if command.kind == "allowed":
            yield _note(
                f"by the studio's word (`allow_commands`) gpost writes {command.command} ({_often(command)}) "
                "and doesn't know what the machine does then"
            )


def _of_kind(kind: str, commands: Sequence[SentCommand]) -> str:
    some = [f"{command.command} ({_often(command)})" for command in commands if command.kind == kind]
    return f"{kind}: {', '.join(some)}"


def _often(command: SentCommand) -> str:
    """How often it stands in the output, and where first."""
    if command.times == 1:
        return f"once, on line {command.first_line}"
    return f"{command.times} times, first on line {command.first_line}"


def _note(text: str) -> Finding:
    return Finding("command", "note", None, text)
