"""What is sent beside moves: whether a command may be, of what kind it is, and a tally of all that were."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from gpost.config.commands import LEVEL, OF_AUGER, CommandPlace, Kind, codes_in, configured, kind_of, refusal
from gpost.config.model import Machine
from gpost.errors import PlanError
from gpost.plan.intentions import Ban
from gpost.plan.plan import Plan
from gpost.write.harmless import refuse_followed


class Sent(NamedTuple):
    """A command as the summary shows it: what differs from one time to the next stands in angle brackets."""

    kind: Kind
    command: str


REGISTER = Sent("register", "G92 E<value>")


class SentCommand(NamedTuple):
    """A command that was written, however often."""

    kind: Kind
    command: str
    times: int
    first_line: int
    """The first line of the output, counted from 1, on which it stands."""
    steps: tuple[str, ...]
    """The steps that have it sent, by its first line for each."""


class SentTally:
    """Counts commands as they are written."""

    def __init__(self) -> None:
        self._found: dict[Sent, tuple[int, int, tuple[str, ...]]] = {}

    def add(self, step: str, first_line: int, sent: Iterable[tuple[int, Sent]]) -> None:
        """Add what one inserted block sends: (line within the block, what)."""
        for at, what in sent:
            count, first, steps = self._found.get(what, (0, first_line + at, ()))
            self._found[what] = count + 1, first, steps if step in steps else (*steps, step)

    @property
    def commands(self) -> tuple[SentCommand, ...]:
        """Each command once, in the order of their first lines."""
        found = [SentCommand(what.kind, what.command, *rest) for what, rest in self._found.items()]
        return tuple(sorted(found, key=lambda command: command.first_line))


class Sender:
    """Answers, for one plan, whether a command may be sent."""

    def __init__(self, plan: Plan) -> None:
        """Raises PlanError as `check_configured` does."""
        self._machine = plan.config.machine
        bans = [(entry.step, entry.intention) for entry in plan.entries if isinstance(entry.intention, Ban)]
        self._bans = [(codes_in(" ".join(ban.codes)), step, ban.why) for step, ban in bans]
        self._known = check_configured(self._machine)

    def sent(self, command: str, place: CommandPlace) -> Sent:
        """The command as it is to be sent from there. Raises PlanError if it may not be."""
        kind = self._kind(command, place)
        for codes, step, why in self._bans:
            if codes & codes_in(command):
                where = "" if place in ("step", "wait") else f" (machine.{place})"
                said = f"the command {command!r}{where} can't be sent, as {step} rules it out"
                raise PlanError(f"{said}: {why}" if why else said)
        return Sent(kind, f"{command} <text>" if place == "display" else command)

    def _kind(self, command: str, place: CommandPlace) -> Kind:
        kind = self._known.get((command, place))
        if kind is None:
            kind = may_send(command, place, self._machine)
            self._known[command, place] = kind
        return kind


def check_configured(machine: Machine) -> dict[tuple[str, CommandPlace], Kind]:
    """The kind of each command that the config names.

    Raises PlanError for one that may not be sent, whether it will be or not.
    """
    kinds: dict[tuple[str, CommandPlace], Kind] = {}
    for _, place, command in configured(machine):
        try:
            kinds[command, place] = may_send(command, place, machine)
        except PlanError as error:
            raise PlanError(f"machine.{place}: {error}") from error
    return kinds


def may_send(command: str, place: CommandPlace, machine: Machine) -> Kind:
    """The command's kind. Raises PlanError if it may not be sent from there.

    What is free leaves the machine as it is; of what the studio allows gpost makes sure as far as it can.
    """
    kind = kind_of(command, place, machine.word)
    if kind is None:
        raise PlanError(f"the command {command!r} can't be sent: {refusal(command, place)}")
    if place == "display":
        _refuse_acting(command, machine)
    elif kind == "allowed" and place not in OF_AUGER:
        for level in ("0", "255"):
            refuse_followed(command.replace(LEVEL, level), machine)
    return kind


def _refuse_acting(display: str, machine: Machine) -> None:
    """Raise PlanError for a command after which words would be carried out instead of shown."""
    try:
        refuse_followed(f"{display} G28 X0", machine)
    except PlanError as error:
        raise PlanError(
            f"what follows {display!r} would be carried out, not shown; name a command that shows text, such "
            "as M117"
        ) from error
