"""A finding, and the names that findings have."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from gpost.common.records import record

Severity = Literal["error", "warning", "note"]

NAMES: dict[str, str] = {
    "outside-bed": "a move leaves the bed",
    "above-ceiling": "a move goes above the ceiling",
    "below-zero": "a move goes below the machine's zero",
    "clay-before-homing": "clay is pushed before the machine has homed",
    "too-fast": "a move asks for more feed than the machine has",
    "too-much-clay": "a move asks for more clay than the machine can push",
    "wall-in-air": "clay is laid with nothing below it",
    "floating": "clay is laid beside all that lies below it",
    "looser-limits": "a config loosens what the studio's config says of the machine",
    "unlikely-value": "a value of the config that can hardly be meant",
    "replaced": "a config replaces a whole list of an earlier one",
    "plan": "the steps can't be carried out on this file",
    "heating": "heating is left in",
    "first-layer": "the first layer doesn't fit the nozzle",
    "short-layer": "a layer is printed in less than its least time",
    "fast-push": "clay is pushed in one place faster than the machine can",
    "long-relief": "more clay is drawn back than the machine can follow",
    "short-clay": "a cartridge is asked for more clay than it has",
    "odd": "the file says or lacks something odd",
    "e-mode": "E is read in the wrong mode, as it seems",
    "odd-layers": "it can't be told what the layers are",
    "own-pause": "the file itself makes the machine wait",
    "blown-wait": "the file leaves the blower on while the machine waits",
    "cold-rim": "the file stands still for longer than the rim may wait",
    "other-air": "the file's air is another than the studio's blower",
    "off-path": "moves count as clay by the path while what may be the auger is off",
    "runs-on": "what may be the auger runs on while the nozzle waits or is away",
    "steady-auger": "feeds are changed while the file's auger keeps its speed",
    "air-level": "the blower can't be set as a step asks",
    "command": "what is sent beside moves",
    "step": "what a step says of its part of the job",
    "bead-crossed": "a move goes through a bead laid beside the piece",
    "wall-crossed": "a move without clay goes through what the file has laid",
    "off-slab": "the file lays clay beyond the slab",
    "colours": "a colour can't be as it is asked for, or its name is in doubt",
    "missing-trial": "what the amounts rest on has not been measured",
    "old-clay": "clay stays in the hose beyond its working time",
    "old-cartridge": "clay stays in its cartridge longer than it keeps there",
    "file-commands": "the file holds commands that set the machine itself",
    "changed-midway": "a command in the middle of the print, after which places or clay can't be told",
    "unknown-command": "a command by name that nobody knows, after the first bead",
    "second-run": "the file looks like one that gpost has written",
    "pace": "the file sets how fast the machine gets under way",
}
"""Each name and what it stands for."""

PLAIN = ("plan", "odd", "e-mode", "step", "own-pause", "command", "missing-trial", "colours")
"""Names that say nothing which the text doesn't say."""

ALLOWABLE = tuple(name for name in NAMES if name not in PLAIN)
"""The names that `--allow` takes: a plan that can't be made can't be carried out; the others stop nothing."""


LEAVES_THE_ROOM = ("outside-bed", "above-ceiling", "below-zero")
"""The nozzle goes where there is no room for it."""

NOT_ADVISED = (*LEAVES_THE_ROOM, "changed-midway", "unknown-command", "looser-limits")
"""It goes there, or nobody knows where, or past what the studio says. They may be allowed, but nobody is
advised to."""

SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")
"""Worst first: errors stop the job, notes only inform."""


@record(frozen=True, slots=True)
class Finding:
    """One thing that is wrong; all places of one kind are one finding."""

    name: str
    """One of NAMES."""
    severity: Severity
    line: int | None
    """The first place, a 0-based source line; None: the file as a whole."""
    text: str
    """A sentence: what is wrong, and what to do."""
    count: int = 1
    """Number of places."""

    @property
    def sentence(self) -> str:
        """The finding with its name and place, lines counted from 1."""
        return self.text if self.name in PLAIN else f"{self.name}{self.place}: {self.text}"

    @property
    def place(self) -> str:
        """Where it is, in words: `, line 12 (first of 3)`; empty for the file as a whole."""
        if self.line is None:
            return ""
        return f", line {self.line + 1}" + (f" (first of {self.count})" if self.count > 1 else "")

    def allowed(self) -> Finding:
        """The finding as a warning, for whoever goes on in spite of it."""
        return replace(self, severity="warning", text=f"{self.text} (allowed)")
