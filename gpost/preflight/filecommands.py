"""Commands beside the moves that the sliced file holds, and that change the machine itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.common.records import record
from gpost.config.model import Config
from gpost.motion import codes, machinecodes
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding, Severity
from gpost.survey import named

SHOWN = 40
"""Different commands that a sentence names: more than any file has that anybody made on purpose."""

HOMES_Z = "homes Z, so that the nozzle goes down onto what is printed"
HOMES_ASIDE = "homes X or Y, so that the next bead begins where the machine homes"
HOMES_LOW = "homes X or Y no higher than the bead before"
LETS_GO = "lets the motors go, so that nobody knows where the nozzle is"

Lines = NDArray[np.int64]
_NONE: Lines = np.zeros(0, np.int64)

_SETTINGS_G, _SETTINGS_M = codes.CodeTable(machinecodes.SETTINGS_G), codes.CodeTable(machinecodes.SETTINGS_M)
_STOPS, _PACE = codes.CodeTable(machinecodes.STOPS_M), codes.CodeTable(machinecodes.PACE_M)


@record(frozen=True, slots=True)
class Held:
    """A command, what it does, and the 0-based lines on which it stands."""

    name: str
    effect: str
    lines: Lines

    @property
    def words(self) -> str:
        """For a sentence, as `M92 sets how far a step goes (line 3)`."""
        more = f", first of {len(self.lines)}" if len(self.lines) > 1 else ""
        return f"{self.name} {self.effect}".rstrip() + f" (line {int(self.lines[0]) + 1}{more})"


class FileCommands:
    """Asks the plan, so that what is silenced is none.

    Before the first bead, where files set up the machine, and after the last, all are one warning; in the
    middle those are an error after which places or clay can't be told.
    """

    def __init__(self, config: Config) -> None:
        self._expected = frozenset(config.machine.file_may_hold)
        self._own_layers = config.layers.comment_pattern is not None

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What to tell of the whole file."""
        held = list(self._held(plan))
        begin = self._begin(plan, held)
        lost = [*self._midway(held, plan, begin), *self._stops(plan)]
        low = list(_between([Held("G28", HOMES_LOW, np.array(plan.survey.homed_low, np.int64))], plan, begin))
        yield from _midway_finding(sorted([*lost, *low] if lost else [], key=lambda one: int(one.lines[0])))
        yield from _low_finding([] if lost else low)
        yield from self._set_up(held, lost, plan.since)
        yield from self._pace(plan)
        unknown = self._unknown(plan, begin)
        yield from _unknown_finding(
            [one for one in unknown if one.lines[0] < plan.survey.laid_until], unknown
        )

    def _begin(self, plan: Plan, held: Iterable[tuple[Held, bool]]) -> int:
        """The line of the piece's first bead; of any bead, where the file's comments say what is a layer."""
        survey = plan.survey
        if self._own_layers and survey.laid_from is not None:
            return survey.laid_from
        judged = any(loses for _, loses in held) or survey.homings or survey.let_go or survey.unknown
        judged = judged or survey.homed_aside or survey.homed_low
        return survey.first_bead if judged else survey.lines  # the file needn't be read again for nothing

    def _held(self, plan: Plan) -> Iterator[tuple[Held, bool]]:
        """All that sets the machine and that no step silences; whether it loses what follows."""
        kinds = ((b"G", machinecodes.SETTINGS_G, _SETTINGS_G), (b"M", machinecodes.SETTINGS_M, _SETTINGS_M))
        for letter, effects, table in kinds:
            for code, lines in _lines_of(plan, letter, table):
                effect = effects[code]
                yield Held(codes.name_of(letter.decode(), code), effect.text, lines), effect.loses

    def _midway(self, held: Iterable[tuple[Held, bool]], plan: Plan, begin: int) -> Iterator[Held]:
        """What stands between the first bead and the last, and after which nothing can be told."""
        survey = plan.survey
        kinds = (
            ("G28", HOMES_Z, survey.homings),
            ("G28", HOMES_ASIDE, survey.homed_aside),
            ("M84 or M18", LETS_GO, survey.let_go),
        )
        losing = [one for one, loses in held if loses]
        losing += [Held(name, effect, np.array(lines, np.int64)) for name, effect, lines in kinds]
        yield from _between(losing, plan, begin)

    def _stops(self, plan: Plan) -> Iterator[Held]:
        """What ends the job, with moves after it."""
        for code, lines in _lines_of(plan, b"M", _STOPS):
            lines = lines[lines < plan.survey.moves_until - 1]
            if len(lines):
                yield Held(codes.name_of("M", code), machinecodes.STOPS_M[code], lines)

    def _set_up(
        self, held: Iterable[tuple[Held, bool]], lost: Iterable[Held], since: int
    ) -> Iterator[Finding]:
        """One warning for all from that line on that stops nothing, but for what the studio has named.

        What of it has set up the machine before, and is sent again, stands in the record of the rest.
        """
        gone = {one.name: one.lines for one in lost}
        left = [
            Held(one.name, one.effect, one.lines[_still(one.lines, gone.get(one.name, _NONE), since)])
            for one, _ in held
            if one.name not in self._expected
        ]
        left = sorted((one for one in left if len(one.lines)), key=lambda one: int(one.lines[0]))
        if left:
            names = ", ".join(one.name for one in left)
            text = (
                f"the file sets the machine itself: {_listed(left)}; see that this is meant for yours. What "
                f"its files may hold can be said under `machine:`: `file_may_hold: [{names}]`"
            )
            yield _finding("file-commands", "warning", left, text)

    def _pace(self, plan: Plan) -> Iterator[Finding]:
        held = [Held(codes.name_of("M", code), "", lines) for code, lines in _lines_of(plan, b"M", _PACE)]
        held = [one for one in held if one.name not in self._expected]
        if held:
            text = (
                f"the file sets how fast the machine is and gets under way, by {_listed(held)}; times are "
                "reckoned by `acceleration_mm_s2` of the config all the same"
            )
            yield _finding("pace", "note", held, text)

    def _unknown(self, plan: Plan, begin: int) -> list[Held]:
        """Commands by name after the first bead that neither gpost nor the studio knows."""
        survey, lines = plan.survey, dict[str, list[int]]()
        stands = plan.stays(np.array([command.line for command in survey.unknown], np.int64))
        for command, there in zip(survey.unknown, stands.tolist(), strict=True):
            if there and command.line >= begin:
                lines.setdefault(command.name, []).append(command.line)
        held = [Held(name, "", np.array(at, np.int64)) for name, at in lines.items()]
        if survey.unknown_beyond is not None:
            held.append(Held(f"more than {named.KEPT} others", "", np.array([survey.unknown_beyond])))
        return held


def _between(held: Iterable[Held], plan: Plan, begin: int) -> Iterator[Held]:
    """What of these stands from a line on and before the last bead, and no step silences."""
    for one in held:
        lines = one.lines[(one.lines >= begin) & (one.lines < plan.survey.laid_until)]
        lines = lines[plan.stays(lines)]
        if len(lines):
            yield Held(one.name, one.effect, lines)


def _still(lines: Lines, gone: Lines, since: int) -> NDArray[np.bool_]:
    """Which of the lines come from that one on, and are none of those."""
    return np.asarray(~among(lines, gone) & (lines >= since))


def _lines_of(plan: Plan, letter: bytes, wanted: codes.CodeTable) -> Iterator[tuple[int, Lines]]:
    """Each of these codes with its lines, but for those that are silenced."""
    commands = plan.survey.commands
    own = commands[(commands["letter"] == letter) & (wanted(commands["code_x10"]) > 0)]
    own = own[plan.stays(own["line"])]
    for code in sorted(set(own["code_x10"].tolist())):
        yield code, own["line"][own["code_x10"] == code]


def _unknown_finding(between: list[Held], held: list[Held]) -> Iterator[Finding]:
    """An error for those between the beads, with all of them; a warning where all come after the last."""
    names = ", ".join([one.name for one in held if " " not in one.name][:SHOWN])
    may_hold = f"`file_may_hold: [{names}]`"
    if between:
        text = (
            f"after the first bead come commands by name that gpost doesn't know: {_listed(held)}; "
            "nobody can tell where the nozzle is then. Take them out, or if your machine knows them and "
            f"they move nothing, say so under `machine:`: {may_hold}"
        )
        yield _finding("unknown-command", "error", held, text)
    elif held:
        text = (
            f"after the last bead come commands by name that gpost doesn't know: {_listed(held)}; see that "
            f"your machine knows them, and clears the piece. Known ones stand under `machine:`: {may_hold}"
        )
        yield _finding("unknown-command", "warning", held, text)


def _midway_finding(lost: list[Held]) -> Iterator[Finding]:
    if lost:
        text = (
            f"with moves or beads still to come, {_listed(lost)}; what comes after can't be told any more: "
            "take it out where the file is made, or, if it sets up the machine, put it before the first bead"
        )
        yield _finding("changed-midway", "error", lost, text)


def _low_finding(low: list[Held]) -> Iterator[Finding]:
    if low:
        text = (
            f"with beads still to come, {_listed(low)}, so that the nozzle is dragged across the piece; let "
            "it rise before that"
        )
        yield _finding("changed-midway", "warning", low, text)


def _finding(name: str, severity: Severity, held: list[Held], text: str) -> Finding:
    first = min(int(one.lines[0]) for one in held)
    return Finding(name, severity, first, text, sum(len(one.lines) for one in held))


def _listed(held: list[Held]) -> str:
    words = [one.words for one in held[:SHOWN]]
    if len(held) > SHOWN:
        words.append(f"{len(held) - SHOWN} more")
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
