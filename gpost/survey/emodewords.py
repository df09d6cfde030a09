"""What is told of an E that is read in the wrong mode: the cause, its line, and what to do there."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes
from gpost.survey.digits import few
from gpost.survey.emode import Doubt

E_MODES = {codes.EXTRUDE_ABSOLUTE: False, codes.EXTRUDE_RELATIVE: True}
"""M82 and M83, and whether E adds from there on."""


class Said(NamedTuple):
    """A command that says how E is counted."""

    line: int
    """Of the file, from 0."""
    name: str
    relative: bool


class Change(NamedTuple):
    """E's mode was said, and then changed."""

    before: Said
    by: Said
    times: int
    """How often it is changed so from there on."""


def sayings(commands: NDArray[np.void], *, axes_too: bool) -> list[Said]:
    """All commands that say E's mode, in order; `axes_too`: whether G90 and G91 do."""
    tables = {"M": E_MODES, "G": codes.DISTANCE if axes_too else {}}
    picked = np.zeros(len(commands), np.bool_)
    for letter, table in tables.items():
        picked |= codes.said(commands, letter, table)
    return [
        Said(line, codes.name_of(letter.decode(), code), tables[letter.decode()][code])
        for letter, code, line in commands[picked].tolist()
    ]


def change_before(line: int, said: list[Said], *, beads: bool) -> Change | None:
    """What changed E's mode last before this line, if M82 or M83 had said the other.

    Or if beads were laid by it: `beads`. A head that moves by G91 and goes back by G90 says nothing of E.
    """
    earlier = [one for one in said if one.line < line]
    others = [at for at, one in enumerate(earlier) if one.relative != earlier[-1].relative]
    if not others:
        return None
    by = earlier[others[-1] + 1]
    plain = [earlier[at] for at in others if earlier[at].name.startswith("M")]
    if not plain and not beads:
        return None
    flips = [
        now.line
        for last, now in pairwise(said)
        if now.relative == by.relative != last.relative and now.name == by.name
    ]
    return Change((plain or [earlier[others[-1]]])[-1], by, sum(at >= by.line for at in flips))


class Told(NamedTuple):
    """A doubt, and what has changed the mode before it."""

    doubt: Doubt
    change: Change | None

    @property
    def sentence(self) -> str:
        """The cause, and what to do."""
        if self.doubt.absolute:
            grows = "its words don't grow along the path: each is about what its own bead takes"
            meant = "if each word adds to what was before"
        else:
            grows = "its words grow along the path, each by about what its own bead takes"
            meant = "if each word says where E goes"
        read = f"Read so, the beads looked at take {few(max(self.doubt.read_ml, 0.0))} ml"
        clay = f"{read}; {meant}, {few(self.doubt.meant_ml)} ml, which fits their path"
        return f"{self._counted} {grows}. {clay}. {self._to_do}"

    @property
    def _counted(self) -> str:
        """How E is counted, and why."""
        if self.change is None:
            if self.doubt.absolute:
                return "E is counted absolutely (M82, or nothing says otherwise), but"
            return "E is counted relatively (M83 or G91), but"
        before, by, times = self.change
        was, now = ("relative", "absolute") if self.doubt.absolute else ("absolute", "relative")
        why = "" if by.name.startswith("M") else ", as `machine: axis_mode_sets_e` has it"
        more = (
            ""
            if times == 1
            else ", and so on one line more"
            if times == 2
            else f", and so on {times - 1} lines more"
        )
        return (
            f"E is {was} by {before.name} on line {before.line + 1}, but {by.name} on line {by.line + 1} "
            f"makes it {now}{why}{more}. From there on"
        )

    @property
    def _to_do(self) -> str:
        wanted = "M83" if self.doubt.absolute else "M82"
        written = "absolute" if self.doubt.absolute else "relative"
        if self.change is None:
            return (
                f"An {wanted} seems to be missing: put {wanted} before line {self.doubt.line + 1}, or have "
                f"the file written with {written} E"
            )
        _, by, times = self.change
        each = "" if times == 1 else f" and after each such {by.name}"
        if by.name.startswith("M"):
            takes = f"Take out {by.name} on line {by.line + 1}" + (" and those like it" if times > 1 else "")
            return f"{takes}, or write {wanted} again after it"
        return (
            f"Write {wanted} again after line {by.line + 1}{each}; or, if the machine keeps E's mode "
            "through G90 and G91, say `machine: axis_mode_sets_e: false` in the config"
        )
