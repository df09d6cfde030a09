"""Commands by name that the file holds: how often each comes, and where those are that matter."""

from __future__ import annotations

from collections import Counter

from gpost.common.later import later
from gpost.config.commands import configured
from gpost.config.model import Config
from gpost.errors import SourceError
from gpost.read.oddline import body_of
from gpost.survey.model import NamedCommand

KEPT = 10_000
"""Lines that are remembered, and different names that there may be."""

_NAME = later(rb"[A-Za-z][A-Za-z_0-9]*")


class NamedCommands:
    """Grows line by line; names are in capitals."""

    def __init__(self, config: Config) -> None:
        machine = config.machine
        own = [command for _, place, command in configured(machine) if place != "display"]
        self._pausing = {command.split()[0].upper() for command in machine.pause.commands}
        self._expected = {*machine.file_may_hold, *(command.split()[0].upper() for command in own)}
        self.counts: Counter[str] = Counter()
        self.unknown: list[NamedCommand] = []
        """Those that neither the config's commands nor `file_may_hold` name, in order; the first KEPT."""
        self.pausing: list[NamedCommand] = []
        """Those by which the config's pauses wait, in order; the first KEPT."""
        self.unknown_beyond: int | None = None
        """The line of the first that is not remembered."""

    def add(self, line: int, text: bytes) -> bool:
        """Note the command on a 0-based line; whether it is one that this machine's files may hold.

        Raises SourceError for more different names than any program has.
        """
        found = _NAME.match(body_of(text, line))
        name = found[0].decode("ascii").upper() if found else ""
        self.counts[name] += 1
        if len(self.counts) > KEPT:
            said = f"the file holds more than {KEPT} different commands by name, so this is no G-code"
            raise SourceError(f"{said}; name the sliced file", line=line)
        if name in self._pausing and len(self.pausing) < KEPT:
            self.pausing.append(NamedCommand(line, name))
        if name in self._expected:
            return True
        if len(self.unknown) < KEPT:
            self.unknown.append(NamedCommand(line, name))
        elif self.unknown_beyond is None:
            self.unknown_beyond = line
        return False
