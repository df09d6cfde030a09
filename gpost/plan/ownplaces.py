"""Places off the piece where the file itself pushes out clay, or waits: the machine's bucket and parks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from gpost.plan.beside import half_wall_mm
from gpost.plan.plan import Plan

MOST_TOLD = 4


class OwnPlace(NamedTuple):
    """Where the file's own push or wait on a line has the nozzle, beside the piece as it was sliced."""

    line: int
    """Counted from 0."""
    what: str
    """`push` or `wait`."""
    x_mm: float
    y_mm: float
    stay: tuple[int, int] | None
    """The lines, from the first up to another, that can be left alone while the piece is moved along the bed,
    so that this place stays where it is. None: it moves with the piece."""


def own_places(plan: Plan, end_line: int) -> list[OwnPlace]:
    """Such places on the lines before one, in order.

    What is laid in beads, a skirt or a line, belongs to the piece; so does what is pushed where one begins.
    """
    survey = plan.survey
    begin = survey.start_of(0).line if survey.laid_from is None else survey.laid_from
    pushes = survey.pushes(0, begin)
    lines = dict.fromkeys([*pushes.line[pushes.clay_ml > 0].tolist(), *survey.own_primes.values()], "push")
    lines |= dict.fromkeys((stand.line for stand in survey.pushed_standing(begin)), "push")
    lines |= dict.fromkeys((pause.line for pause in plan.own_pauses), "wait")
    (x_low, x_high), (y_low, y_high), _ = survey.bounds_mm
    free_mm = half_wall_mm(plan)
    found = []
    for stand in survey.stands(sorted(line for line in lines if line < end_line)):
        x, y = stand.at_mm
        inside = x_low - free_mm < x < x_high + free_mm and y_low - free_mm < y < y_high + free_mm
        if not inside:
            found.append(OwnPlace(stand.line, lines[stand.line], x, y, stand.stay))
    return found


def lines_between(stays: Iterable[tuple[int, int]], end_line: int) -> list[tuple[int, int]]:
    """The ranges of lines that are left of a file up to a line, without these."""
    found, begin = [], 0
    for first, end in sorted(stays):
        if begin < first:
            found.append((begin, min(first, end_line)))
        begin = max(begin, end)
    return [*found, (begin, end_line)] if begin < end_line else found


def places_text(places: Sequence[OwnPlace], by_mm: tuple[float, float] | None = None) -> str:
    """Which they are, each with its lines and its place, and where they come to be if moved by so much."""
    groups: dict[tuple[str, str], list[int]] = {}
    for place in places:
        text = _place_text(place.x_mm, place.y_mm)
        if by_mm is not None:
            text += f", then at {_place_text(place.x_mm + by_mm[0], place.y_mm + by_mm[1])}"
        groups.setdefault((place.what, text), []).append(place.line + 1)
    words = [f"{_lines_text(what, lines)} ({text})" for (what, text), lines in groups.items()]
    more = [f"{len(words) - MOST_TOLD} more places"] if len(words) > MOST_TOLD else []
    return "; ".join([*words[:MOST_TOLD], *more])


def _place_text(x_mm: float, y_mm: float) -> str:
    return f"x {x_mm:z.1f}, y {y_mm:z.1f} mm"


def _lines_text(what: str, lines: Sequence[int]) -> str:
    """`its own wait on line 7`, `its own waits on lines 7, 9 and 3 more`."""
    if len(lines) == 1:
        return f"its own {what} on line {lines[0]}"
    verb = {"push": "pushes"}.get(what, f"{what}s")
    if len(lines) <= MOST_TOLD:
        return f"its own {verb} on lines {', '.join(map(str, lines[:-1]))} and {lines[-1]}"
    return f"its own {verb} on lines {', '.join(map(str, lines[:2]))} and {len(lines) - 2} more"
