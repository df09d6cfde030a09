"""Turns of a wall that climbs: where its path has gone once round, and what to do where it doesn't."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import distinct
from gpost.survey.bycolumns import SAME_HEIGHT_MM
from gpost.survey.loops import CLOSED_PATH, Loop, first_loop
from gpost.survey.path import DROP_MM, LEVEL, ODD, TURN, Path, Starts
from gpost.survey.rounds import Rounds, rounds_of

Turns = NDArray[np.int64]

FIRST_LOOK = 64
"""Moves after which a loop is looked for; each time that there is none, after twice as many."""

NO_TURN_PATH, NO_TURN_LEVEL, LOST_PATH = 160.0, 32.0, 9.0
"""Path, in diagonals of its bounding box, at which a wall that has not gone round counts as one that doesn't:
one that slopes, one of level strokes, and one that has gone round before."""

STROKE_PATH = 0.4
"""Path at each height, in diagonals of the bounding box, from which strokes may be level layers."""

LONGER, SHORTER = 1.75, 0.5
"""Path of a turn as part of that of the turn before, beyond which its centre is looked for anew."""

WHOLE, ROUND, OVERLAP = 0.97, 0.9, 0.4
"""Part of a turn between two travels that makes them the seam; and how much may be laid twice there."""

BESIDE_MM = 5.0
"""A turn that begins so far off the box of the one before is another wall's: it has a centre of its own."""

MOST_BEGINS = 8
"""Strokes before the first loop."""


class Climb:
    """Takes the moves of one climbing section in order; answers which of them start a turn.

    The seam is where the section starts, or where the nozzle has travelled to after a turn. Moves are held
    until their turn is whole. How they are cut into calls of `add` makes no difference.
    """

    def __init__(self) -> None:
        self._held: list[Path] = []
        """Oldest first, as they came."""
        self._count = 0
        """Moves held."""
        self._joined = Path.none()
        """The first of them, where some were asked for that came in several parts."""
        self._out: list[Starts] = []
        self._new_wall()

    def _new_wall(self) -> None:
        self._rounds: Rounds | None = None
        """None while a loop is looked for."""
        self._look_at = FIRST_LOOK
        self._turn_mm: float | None = None
        """Path of the last whole turn."""
        self._turn_moves = 0
        self._start_mm: float | None = None
        """Height at which it began."""
        self._low_mm, self._rise_mm = -np.inf, 0.0
        """Its lowest place, and how much higher than the one before it began."""
        self._box_mm = np.zeros(2), np.zeros(2)
        """Its least and most x and y."""
        self._odd_mm: float | None = None
        """Height at which the wall has ceased to go round; None while it does."""
        self._odd_parts = 0
        self._level_mm: float | None = None
        """Height of the level stroke given last; None after anything else."""
        self._doubtful = 0
        """Moves of a loop just found, as long as no turn has been given; else 0."""

    def add(self, path: Path) -> list[Starts]:
        """Answers for the moves that are settled by now, oldest first."""
        self._held.append(path)
        self._count += len(path)
        return self._settle(last=False)

    def finish(self) -> list[Starts]:
        """Answers for all moves not yet settled."""
        return self._settle(last=True)

    def _settle(self, *, last: bool) -> list[Starts]:
        self._out = []
        if self._rounds is not None or last or self._count >= self._look_at:
            while self._count and (self._seek(last=last) if self._rounds is None else self._go_on(last=last)):
                pass
        return self._out

    def _path(self, count: int | None = None) -> Path:
        """The first held moves, so many if there are, or all; those of one part are not copied."""
        count = self._count if count is None else min(count, self._count)
        if count <= len(self._held[0]):
            return self._held[0].cut(0, count)
        if count > len(self._joined):
            parts, missing = [], count
            for part in self._held:
                parts.append(part.cut(0, missing))
                missing -= len(parts[-1])
            self._joined = Path.join(parts)
        return self._joined.cut(0, count)

    def _give(self, starts: list[int], count: int, kind: int) -> None:
        """The first `count` held moves are settled; parts start at `starts` among them."""
        flags = np.zeros(count, np.bool_)
        flags[starts] = True
        self._out.append(Starts.of(flags, kind))
        self._joined = self._joined.cut(count)
        self._count -= count
        while len(self._held) > 1 and count >= len(self._held[0]):
            count -= len(self._held.pop(0))
        self._held[0] = self._held[0].cut(count)

    # -- looking for a loop --------------------------------------------------------------------

    def _seek(self, *, last: bool) -> bool:
        """Look for a loop among the first held moves; False if that takes more of them."""
        whole = last and self._count <= self._look_at
        if not whole and self._count < self._look_at:
            return False
        path = self._path(self._look_at)
        begins = [0, *path.travels().tolist()]
        if self._leaves(path, begins):
            return True
        for place in (*begins[:MOST_BEGINS], None):
            spiral = place is None
            place = _longest(path, begins) if place is None else place
            found = _loop_from(path, place, whole=whole, spiral=spiral)
            if found is not None:
                self._give_strokes(path, begins, place)
                self._go_round(found, path.cut(place))
                return True
        if whole or _paths(path) > self._most_path(path):
            self._give_without_turns(path)
        else:
            self._look_at *= 2
        return True

    def _most_path(self, path: Path) -> float:
        """Diagonals after which no loop is looked for any more."""
        if self._turn_mm is not None:
            return LOST_PATH
        return NO_TURN_LEVEL if _is_level(path) else NO_TURN_PATH

    def _leaves(self, path: Path, begins: list[int]) -> bool:
        """Whether the nozzle goes to another wall, after turns that have been lost: then that begins anew."""
        if self._turn_mm is None:
            return False
        deep_mm = max(DROP_MM, 2 * self._rise_mm)
        for place in begins[1:]:
            if path.start[2, place] < path.end[2, :place].max() - deep_mm:
                self._give_without_turns(path.cut(0, place))
                self._new_wall()
                return True
        return False

    def _give_strokes(self, path: Path, begins: list[int], upto: int) -> None:
        """What is laid before the first loop is no part of its turns: a part for each travel."""
        if not upto:
            return
        if self._turn_mm is not None:
            self._give_odd(path.cut(0, upto))
        else:
            self._give([begin for begin in begins if begin < upto], upto, TURN)

    def _go_round(self, loop: Loop, path: Path) -> None:
        """Count turns from a loop on with which the held moves begin; `path`: the first of them."""
        self._rounds, self._known = rounds_of(loop, path), 0
        self._turn_mm = float(path.length_mm[: loop.end].sum())
        self._turn_moves = self._doubtful = loop.end
        self._odd_mm = self._level_mm = None
        self._look_at = FIRST_LOOK

    def _give_without_turns(self, path: Path) -> None:
        """A wall that doesn't go round: level strokes are layers by their height; else none can be told."""
        if self._turn_mm is None and self._odd_mm is None and _is_level(path):
            z = path.end[2]
            before = np.inf if self._level_mm is None else self._level_mm
            starts = np.flatnonzero(np.abs(np.diff(z, prepend=before)) > SAME_HEIGHT_MM)
            self._level_mm = float(z[-1])
            self._give(starts.tolist(), len(path), LEVEL)
        else:
            self._give_odd(path)
        self._look_at = FIRST_LOOK

    def _give_odd(self, path: Path) -> None:
        """In parts as high as the last turn; in one, if there was none."""
        begins = self._odd_mm is None
        if self._odd_mm is None:
            self._odd_mm, self._odd_parts = float(path.start[2, 0]), 0
        starts: list[int] = []
        if self._rise_mm > DROP_MM:
            rise_mm = np.maximum.accumulate(path.end[2]) - self._odd_mm
            part = np.maximum((rise_mm / self._rise_mm).astype(np.int64), self._odd_parts)
            starts = np.flatnonzero(np.diff(part, prepend=self._odd_parts) > 0).tolist()
            self._odd_parts = int(part[-1])
        if begins and 0 not in starts:
            starts = [0, *starts]
        self._level_mm = None
        # an open stroke by itself may be a part of a turn, and is nothing odd
        stroke = begins and self._turn_mm is None and len(path) == self._count and _paths(path) < CLOSED_PATH
        self._give(starts, len(path), TURN if stroke else ODD)

    # -- turn by turn --------------------------------------------------------------------------

    def _go_on(self, *, last: bool) -> bool:
        """Settle the next turns, up to the next travel at the most; False if that takes more moves."""
        rounds = self._rounds
        assert rounds is not None
        few = (rounds.turns_ahead + 1) * self._turn_moves + FIRST_LOOK
        settled = self._next_turns(self._path(few), rounds, last=False) if few < self._count else None
        return bool(self._next_turns(self._path(), rounds, last=last)) if settled is None else settled

    def _next_turns(self, path: Path, rounds: Rounds, *, last: bool) -> bool | None:
        """The same for these of the held moves, the first ones; None if nothing can be said of them alone."""
        travels = path.travels()
        travels = travels[travels >= self._known]
        upto = int(travels[0]) if len(travels) else len(path)
        ends = last or len(travels) > 0
        look = rounds.look(path.cut(0, upto), ends=ends)
        lifted = len(travels) > 0 and bool(path.joined[upto])
        seam = _seam(look.turns, look.since, WHOLE if lifted else ROUND) if ends else None
        turn = look.turn
        if seam is not None:
            turn = np.minimum(turn, seam - 1)
            if rounds.turn >= seam:
                # laid twice: it belongs to the turn that has been given
                self._give([], upto, TURN)
                return self._after_seam(rounds)
        edges = distinct(np.searchsorted(turn, np.arange(rounds.turn + 1, turn[-1] + 1)))
        edges = edges if seam is None else np.append(edges, upto)
        done = self._plausible(path, edges[: rounds.turns_ahead])
        if done:
            self._take_turns(path, edges[:done], rounds)
            return self._after_seam(rounds) if seam is not None and done == len(edges) else True
        if len(edges) or float(path.length_mm[:upto].sum()) > LONGER * (self._turn_mm or np.inf):
            return self._doubt(path)
        if len(travels):
            return self._travel(path, upto, rounds)
        if not last:
            return None if upto < self._count else False
        self._give([0], upto, TURN)
        return True

    def _doubt(self, path: Path) -> bool:
        """This count gives no turn: a loop is looked for anew; where one was found just now, beyond it."""
        self._rounds = None
        if self._doubtful:
            self._give_odd(path.cut(0, self._doubtful))
        return True

    def _after_seam(self, rounds: Rounds) -> bool:
        """The nozzle has travelled to where the held moves begin: to the next turn, or to another wall."""
        if not self._count:
            return True
        start = self._path(1).start[:, 0]
        beside = np.maximum(self._box_mm[0] - start[:2], start[:2] - self._box_mm[1]).max() > BESIDE_MM
        if beside or start[2] < self._low_mm - DROP_MM:
            self._new_wall()
        else:
            rounds.begin(self._path(1))
            self._known = 0
        return True

    def _travel(self, path: Path, place: int, rounds: Rounds) -> bool:
        """The travel to this move is no seam: it leads to another wall, or on within the turn."""
        if path.start[2, place] < self._low_mm - DROP_MM:
            self._give([0], place, TURN)
            self._new_wall()
        else:
            rounds.travel(path, place)
            self._known = place + 1
        return True

    def _plausible(self, path: Path, edges: Turns) -> int:
        """How many of the turns that end at these moves are about as long as the one before."""
        if not len(edges):
            return 0
        along = np.add.reduceat(path.length_mm, np.append(0, edges[:-1]))
        along[-1] = path.length_mm[(edges[-2] if len(edges) > 1 else 0) : edges[-1]].sum()
        before = np.append(self._turn_mm or along[0], along[:-1])
        wrong = np.flatnonzero((along > LONGER * before) | (along < SHORTER * before))
        return int(wrong[0]) if len(wrong) else len(edges)

    def _take_turns(self, path: Path, edges: Turns, rounds: Rounds) -> None:
        """Whole turns that end at these moves are settled."""
        upto, begins = int(edges[-1]), np.append(0, edges[:-1])
        first = int(begins[-1])
        start_mm = float(path.start[2, first])
        earlier_mm = float(path.start[2, begins[-2]]) if len(begins) > 1 else self._start_mm
        rise_mm = float(path.end[2, upto - 1]) - start_mm if earlier_mm is None else start_mm - earlier_mm
        self._rise_mm = rise_mm if rise_mm > DROP_MM else self._rise_mm
        self._start_mm = start_mm
        self._low_mm = min(start_mm, float(path.end[2, first:upto].min()))
        turn = path.end[:2, first:upto]
        self._box_mm = turn.min(axis=1), turn.max(axis=1)
        self._turn_mm = float(path.length_mm[first:upto].sum())
        self._turn_moves, self._doubtful = upto - first, 0
        self._known = max(self._known - upto, 0)
        self._rounds = rounds.take(path, begins, upto)
        self._give(begins.tolist(), upto, TURN)


def _seam(turns: float, since: float, least: float) -> int | None:
    """Turns since the last seam that end here, if what comes next, a travel or nothing, makes this a seam.

    `least`: part of the last turn that has to be there.
    """
    whole = round(turns - (OVERLAP - (1 - least)) / 2)
    near = whole - (1 - least) <= turns <= whole + OVERLAP
    return whole if whole >= 1 and near and since >= least else None


def _longest(path: Path, begins: list[int]) -> int:
    """Of these first moves of strokes the one with the longest stroke."""
    return begins[int(np.argmax(np.add.reduceat(path.length_mm, begins)))]


def _loop_from(path: Path, place: int, *, whole: bool, spiral: bool) -> Loop | None:
    """The first loop that starts with this move; it may well end where the nozzle travels.

    `whole`: the section ends with the path. The loop's end is counted in moves.
    """
    path = path.cut(place)
    points, z, ends = path.points()
    found = None
    for travel in path.travels()[:MOST_BEGINS].tolist():
        if found is None and _paths(path.cut(0, travel)) > CLOSED_PATH:
            upto = int(ends[travel - 1]) + 1
            found = first_loop(points[:, :upto], z[:upto], whole=True, spiral=spiral)
    if found is None:
        found = first_loop(points, z, whole=whole, spiral=spiral)
    return found if found is None else found._replace(end=int(np.searchsorted(ends, found.end, side="right")))


def _paths(path: Path) -> float:
    """Path in diagonals of its bounding box."""
    low = np.minimum(path.start[:2].min(axis=1), path.end[:2].min(axis=1))
    high = np.maximum(path.start[:2].max(axis=1), path.end[:2].max(axis=1))
    return float(path.length_mm.sum()) / max(float(np.hypot(*(high - low))), 1e-9)


def _is_level(path: Path) -> bool:
    """Whether most of a path is level, and in strokes, not in the steps that few decimals make of a slope."""
    path_mm = float(path.length_mm.sum())
    heights = 1 + np.count_nonzero(np.abs(np.diff(path.end[2])) > SAME_HEIGHT_MM)
    strokes = bool(heights * STROKE_PATH <= _paths(path))
    return strokes and float(path.length_mm[~path.sloped].sum()) > 0.5 * path_mm
