"""What the second pass has to tell: the commands that it wrote."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from gpost.config.commands import code_and_numbers, codes_in
from gpost.motion import codes, machinecodes
from gpost.preflight.heating import danger
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
    yield from (_allowed(command) for command in commands if command.kind == "allowed")


class Does(NamedTuple):
    """What a command that the studio allows does to the machine."""

    text: str
    """The end of the sentence that names it, with what stands before."""
    heats: bool = False
    harms: bool = False
    """Whether it changes the machine for good, or so that what comes after it can't be told."""


def what_it_does(command: str) -> Does:
    """What is known of a command by its codes: the same table as for what a file holds."""
    found = codes_in(command)
    if found & _names(codes.HEATING_M):
        waits = bool(found & _names(codes.HEAT_WAITS_M))
        if _is_off(command):
            return Does(": it takes a heater's target to 0")
        return Does(f": it heats, and {danger(waits=waits)}; take it out of the config", heats=True)
    effects = {codes.name_of("M", code): effect for code, effect in machinecodes.SETTINGS_M.items()}
    known = [effects[code] for code in sorted(found & effects.keys())]
    stops = {codes.name_of("M", code): text for code, text in machinecodes.STOPS_M.items()}
    known += [machinecodes.Effect(stops[code]) for code in sorted(found & stops.keys())]
    if not known:
        return Does(" and doesn't know what the machine does then")
    said = "; ".join(f"it {effect.text}" for effect in known)
    harms = [effect for effect in known if effect.loses or effect is machinecodes.STORE]
    if not harms or set(harms) == {machinecodes.LOADING}:  # by which many machines pause
        return Does(f": {said}")
    return Does(f": {said}; see that this is meant, or take it out of the config", harms=True)


def _allowed(command: SentCommand) -> Finding:
    does = what_it_does(command.command)
    said = f"by the studio's word (`allow_commands`) gpost writes {command.command} ({_often(command)})"
    if does.heats:
        return Finding("heating", "warning", None, f"{said}{does.text}", command.times)
    return Finding("command", "warning" if does.harms else "note", None, f"{said}{does.text}")


def _names(codes_x10: frozenset[int]) -> set[str]:
    return {codes.name_of("M", code) for code in codes_x10}


def _is_off(command: str) -> bool:
    """Whether the target of one that heats is 0."""
    _, numbers = code_and_numbers(command) or ("", {})
    return "S" in numbers and not numbers["S"].strip("0.")


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
