"""A print that is stopped and goes on, run by the reference interpreter; and what is true of its rest."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import assume, event
from hypothesis import strategies as st

from gpost.errors import PlanError, SourceError
from gpost.plan.intentions import Intention
from gpost.plan.plan import Plan
from gpost.plan.resume import with_past
from gpost.read.source import CHUNK_BYTES, Source
from gpost.supply.stopped import Resumption, Stopped, going_on, resumption
from gpost.survey.build import survey_source
from gpost.write.rewriter import Rewriter
from tests.laws.conftest import roomy
from tests.reference.interpreter import Machine, run
from tests.reference.outputs import same_feed, split_lines, without_number
from tests.reference.pieces import Piece
from tests.reference.state import Event, State

ENDS = b"; gpost: resume ends"
LAST = b"; gpost wrote this file: here it ends"
IGNORED = frozenset({"hold_for_ever", "motors_on", "saved_offset", "known", "ended", "feed_mm_min"})
"""Of the state; feeds are the same but for the rounding of an F word."""
OPENING = re.compile(
    r"; gpost: .*|; gpost wrote .*|M84 S0|M20[1-5] [XYZEPST\d. ]+|G2[01]|G1[789]|G9[01]|M8[23]|M22[01] S[\d.]+"
    r"|M10[37]|M101|M106 S[\d.]+|M117 .*|M0|G10|G92 [XYZE][-\d.XYZ ]*|G28( X Y| Z)?|M300 .*"
    r"|G[01]( [XYZEF]-?[\d.]+)*"
)
"""All that may stand before the rest begins: no heating, probing, waiting for heat, tool or unknown code."""


@dataclass(frozen=True, repr=False)
class Print:
    """A whole print: what it is made of, and what it does."""

    piece: Piece
    wishes: Sequence[Intention]
    source: Source
    plan: Plan

    @staticmethod
    def of(
        path: Path, piece: Piece, wishes: Sequence[Intention], config: dict[str, Any], chunk_bytes: int = CHUNK_BYTES
    ) -> Print:
        """The piece printed with what steps want; its file lies at the path."""
        path.write_bytes(piece.program)
        source, spoken = Source(path, chunk_bytes=chunk_bytes), roomy(piece.dialect, config)
        plan = Plan(survey_source(source, spoken), spoken).adding("test", wishes)
        return Print(piece, wishes, source, plan)

    @cached_property
    def whole(self) -> bytes:
        """The file that is run."""
        return written(self.source, self.plan)

    @cached_property
    def events(self) -> list[Event]:
        """What it does, by the interpreter, gpost's last comment left out."""
        lines = split_lines(self.whole)
        return run(self.whole, self.piece.dialect)[: len(lines) - (LAST in lines[-1])]

    def stopped(self, *stopped: Stopped) -> Rest:
        """Stopped where these say, one after the other, and gone on with."""
        plan = before = self.plan
        for each in stopped:
            before, going = plan, resumption(plan, each)
            plan = with_past(going_on(plan, going).adding("test", self.wishes), before)
        return Rest(self, written(self.source, plan), plan, before, going)


@dataclass(frozen=True, repr=False)
class Rest:
    """The rest of a whole print."""

    print: Print
    rest: bytes
    plan: Plan
    """Of the rest."""
    before: Plan
    going: Resumption

    @property
    def piece(self) -> Piece:
        """What is printed."""
        return self.print.piece

    @property
    def whole(self) -> bytes:
        """The file that is run."""
        return self.print.whole

    @property
    def opening(self) -> list[bytes]:
        """The lines before the rest begins."""
        lines = split_lines(self.rest)
        return lines[: lines.index(self._end()) + 1]

    @property
    def tail(self) -> list[bytes]:
        """The lines of the rest, gpost's last comment left out."""
        lines = split_lines(self.rest)
        return [line for line in lines[len(self.opening) :] if LAST not in line]

    def _end(self) -> bytes:
        return next(line for line in split_lines(self.rest) if line.rstrip(b"\r") == ENDS)


Stop = Callable[..., Rest]


def stopper(path: Path) -> Stop:
    """stop(piece, wishes, *stopped, config=): one print, stopped where `stopped` say, one after the other."""

    def made(
        piece: Piece,
        wishes: Sequence[Intention],
        *stopped: Stopped,
        config: dict[str, Any] | None = None,
        chunk_bytes: int = CHUNK_BYTES,
    ) -> Rest:
        return Print.of(path, piece, wishes, config or {}, chunk_bytes).stopped(*stopped)

    return made


def written(source: Source, plan: Plan) -> bytes:
    """The output of a plan."""
    out = io.BytesIO()
    Rewriter(source, plan, "(test)").write(out)
    return out.getvalue()


def attempt(stop: Stop, piece: Piece, wishes: Sequence[Intention], *stopped: Stopped, **how: Any) -> Rest:
    """The rest, or no example where nothing stands yet, nothing is left, or it is rightly refused."""
    try:
        return stop(piece, wishes, *stopped, **how)
    except SourceError:
        assume(False)
    except PlanError as error:
        event(re.sub(r"[-\d.]+", "_", str(error))[:60])
        assume(False)
    raise AssertionError


def machine(rest: Rest, data: st.DataObject, **changes: Any) -> Machine:
    """A machine as it may stand when the rest begins: it knows its place, and all else is anyhow."""
    high = rest.going.restart.nozzle_below_mm
    at = [data.draw(st.integers(-100, 400)), data.draw(st.integers(-100, 400)), data.draw(st.floats(0, high))]
    return standing_at(rest, at, data, **changes)


def standing_at(rest: Rest, at: Sequence[float], data: st.DataObject, **changes: Any) -> Machine:
    """One that stands at a place."""
    found = Machine(rest.piece.dialect)
    state, whole = State(), state_at(rest)
    state.offset = dict(whole.offset)
    for axis, mm in zip("XYZ", at, strict=True):
        state.register[axis] = Decimal(str(mm)) - state.offset[axis]
        state.known[axis] = True
    state.register["E"] = Decimal(data.draw(st.integers(-500, 500)))
    state.relative, state.e_relative = data.draw(st.booleans()), data.draw(st.booleans())
    state.scale = data.draw(st.sampled_from([Decimal(1), Decimal("25.4")]))
    state.plane = data.draw(st.sampled_from([17, 18, 19]))
    state.motion = data.draw(st.sampled_from([0, 1, 2, 3]))
    state.feed_factor = Decimal(data.draw(st.sampled_from([1, "0.4", "1.7"])))
    state.flow_factor = Decimal(data.draw(st.sampled_from([1, "0.9"])))
    state.fan = Decimal(data.draw(st.sampled_from([0, 255])))
    for name, value in changes.items():
        setattr(state, name, value)
    found.state = state
    return found


def tail_of_whole(rest: Rest) -> list[Event]:
    """What the whole print's lines do that are the rest, by the interpreter."""
    return rest.print.events[end_of_whole(rest) - len(rest.tail) :]


def end_of_whole(rest: Rest) -> int:
    """The number of lines of the whole print, gpost's last comment left out."""
    return len(rest.print.events)


def state_at(rest: Rest) -> State:
    """The machine's state in the whole print where the rest begins."""
    at = end_of_whole(rest) - len(rest.tail) - 1
    return rest.print.events[at].state if at >= 0 else State()


def near_feed(a: float | None, b: float | None) -> bool:
    """Whether feeds are the same to half a last place of an F word that was changed, in inches too."""
    return same_feed(a, b) or (a is not None and b is not None and abs(a - b) <= 0.5e-4 * 25.4 * 1.01)


def check_rest(rest: Rest, own: list[Event], shift: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> None:
    """Line by line the rest does what the whole print did there, so much shifted.

    Of a move inside which it goes on it does what was left.
    """
    theirs = tail_of_whole(rest)
    mine = own[len(rest.opening) : len(rest.opening) + len(theirs)]
    assert len(mine) == len(theirs)
    split = rest.going.found.spot.fraction > 0
    if split:
        check_left(rest, mine[0], theirs[0], shift)
    aside = on_the_way_to_the_park(rest.tail) if rest.going.found.shift_mm else [False] * len(mine)
    if rest.going.restart.lost != "nothing":  # once it has homed itself it knows its places again
        homed = (at for at, line in enumerate(rest.tail) if re.search(rb"(?i)g0*28", line))
        known = next(homed, len(mine))
        aside = [parks or at >= known for at, parks in enumerate(aside)]
    moved = split
    for a, b, parks in zip(mine[split:], theirs[split:], aside[split:], strict=True):
        moved = moved or a.kind == "move"
        assert a.error is None
        assert (a.kind, a.motion) == (b.kind, b.motion)
        if not parks:  # a pause is as high over another top as over this
            assert apart_mm(a.start_mm, b.start_mm, shift) < most_mm(rest)
            assert apart_mm(a.end_mm, b.end_mm, shift) < most_mm(rest)
        assert a.e_metered_mm == pytest.approx(b.e_metered_mm, abs=1e-7)
        assert near_feed(a.feed_mm_min, b.feed_mm_min)
        said = [None if e.state.feed_mm_min is None else float(e.state.feed_mm_min) for e in (a, b)]
        assert near_feed(*said)
        if not any(shift):  # the mode of an arc is said again with the first move
            ignored = IGNORED if moved else IGNORED | {"motion"}
            assert a.state.differences(b.state, tolerance_mm=1e-7, ignore=ignored) == []


def on_the_way_to_the_park(lines: Sequence[bytes]) -> list[bool]:
    """Whether each line belongs to a pause of a step."""
    inside, found = False, []
    for line in map(without_number, lines):
        inside = inside or bool(re.match(rb"; gpost: (refill|look): ", line))
        found.append(inside)
        inside = inside and not re.match(rb"; gpost: \w+ ends", line)
    return found


def most_mm(rest: Rest) -> float:
    """Half a last place of a word, of an inch too, where words are changed; of a place that is taken, of five."""
    if rest.going.found.shift_mm:
        return 0.0128 if rest.piece.inch else 6e-4
    return 1e-6 if rest.going.restart.lost == "nothing" else 6e-6


def apart_mm(a: tuple[float, ...], b: tuple[float, ...], shift: tuple[float, ...]) -> float:
    """How far one place is from the other, so much shifted; the largest of the three axes."""
    return max(abs(x - y - by) for x, y, by in zip(a, b, shift, strict=True))


def check_left(rest: Rest, mine: Event, whole: Event, shift: tuple[float, float, float]) -> None:
    """What is left of a move: from its place on the move's own way to its end, with clay by its length."""
    part = rest.going.found.spot.fraction
    assert mine.error is None
    assert (mine.kind, mine.motion) == (whole.kind, whole.motion)
    assert apart_mm(mine.start_mm, place_on(whole, part), shift) < 0.02 + most_mm(rest)
    assert apart_mm(mine.end_mm, whole.end_mm, shift) < most_mm(rest)
    assert mine.path_mm == pytest.approx((1 - part) * whole.path_mm, abs=0.02)
    assert mine.e_metered_mm == pytest.approx((1 - part) * whole.e_metered_mm, abs=5e-4)
    assert near_feed(mine.feed_mm_min, whole.feed_mm_min)
    if whole.arc is not None:
        assert mine.arc is not None
        assert mine.arc.sweep_rad == pytest.approx((1 - part) * whole.arc.sweep_rad, abs=0.03 / whole.arc.radius_mm)
        assert apart_mm(mine.arc.centre_mm[:2], whole.arc.centre_mm[:2], shift[:2]) < 0.03
    if not any(shift):
        assert mine.state.differences(whole.state, tolerance_mm=1e-7, ignore=IGNORED) == []


def place_on(move: Event, part: float) -> tuple[float, float, float]:
    """Where the nozzle is after a part of a move, an arc in the level or a helix over it too."""
    x, y, z = (a + part * (b - a) for a, b in zip(move.start_mm, move.end_mm, strict=True))
    if move.arc is None:
        return x, y, z
    assert move.arc.plane == 17
    cx, cy, _ = move.arc.centre_mm
    angle = math.atan2(move.start_mm[1] - cy, move.start_mm[0] - cx) + part * move.arc.sweep_rad
    return cx + move.arc.radius_mm * math.cos(angle), cy + move.arc.radius_mm * math.sin(angle), z


def check_opening(
    rest: Rest, own: list[Event], shift_z: float = 0.0, off: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> None:
    """Nothing moves before the wait; then straight up, and never down but on the restart.

    After homing upwards it also comes down at the park. `off`: by what the machine's own account is wrong.
    """
    opening = [really(e, off) for e in own[: len(rest.opening)]]
    park, homes = rest.plan.config.machine.park, rest.plan.config.machine.home_with_piece
    for line in rest.opening:
        assert OPENING.fullmatch(without_number(line).decode().rstrip("\r").rstrip()), line
    assert not any(e.error for e in opening)
    wait = next(at for at, e in enumerate(opening) if e.state.paused)
    assert not any(e.kind == "move" for e in opening[: wait + 1])
    assert any(e.kind == "text" for e in opening[: wait + 1])
    moves = [e for e in opening if e.kind == "move" and e.path_mm > 0]
    up = moves[0]
    assert up.start_mm[:2] == up.end_mm[:2]
    assert up.end_mm[2] >= up.start_mm[2] + 2
    goal, (x_mm, y_mm, _) = moves[-1].end_mm, rest.plan.bounds_mm
    top = standing_mm(rest) + shift_z
    for e in moves:
        over = all(
            low - 2.5 <= max(a, b) and min(a, b) <= high + 2.5
            for (low, high), a, b in zip((x_mm, y_mm), e.start_mm, e.end_mm, strict=False)
        )
        on_restart = max(abs(p - q) for p, q in zip(e.end_mm[:2], goal[:2], strict=True)) < 1e-6
        if e.end_mm[2] < e.start_mm[2] - 1e-6:
            at_park = max(abs(e.end_mm[0] - park.x_mm), abs(e.end_mm[1] - park.y_mm)) < 0.01
            assert on_restart or (at_park and homes == "all_up")
            assert e.start_mm[:2] == e.end_mm[:2]
        if over and not on_restart and e is not up:
            assert min(e.start_mm[2], e.end_mm[2]) >= top + 2 - 1e-3 or e.start_mm[:2] == e.end_mm[:2]
        assert e.end_mm[2] <= rest.plan.config.machine.ceiling_mm


def really(e: Event, off: tuple[float, float, float]) -> Event:
    """What a machine has done that takes itself to be so far off."""
    start, end = (tuple(p - by for p, by in zip(place, off, strict=True)) for place in (e.start_mm, e.end_mm))
    return replace(e, start_mm=start, end_mm=end) if any(off) else e


def standing_mm(rest: Rest) -> float:
    """The highest clay that the whole print has laid in the piece where the rest begins."""
    at, part = end_of_whole(rest) - len(rest.tail), rest.going.found.spot.fraction
    laid = [max(e.start_mm[2], e.end_mm[2]) for e in rest.print.events[:at] if e.lays_clay]
    if part:  # a part of the first bead may be all that stands
        broken = rest.print.events[at]
        laid.append(max(broken.start_mm[2], place_on(broken, part)[2]))
    return max(laid)


class Given(NamedTuple):
    """What a cartridge has given, net ml."""

    now_ml: float
    most_ml: float
    """The most that it had given at any moment."""


def given_ml(events: Sequence[Event], ml_per_mm: float, *, paused: int = 0, words: str = "") -> list[Given]:
    """Those of each cartridge: the next one is put on at each wait after the first ones, by its words if any."""
    found = [Given(0.0, 0.0)]
    for each in events:
        now_ml = found[-1].now_ml + each.e_metered_mm * ml_per_mm
        found[-1] = Given(now_ml, max(now_ml, found[-1].most_ml))
        if each.state.paused > paused:
            paused = each.state.paused
            if not words or each.state.messages[-1] == words:
                found.append(Given(0.0, 0.0))
    return found


def check_told(told_ml: float, given: Given, reserve_ml: float, close_ml: float) -> None:
    """What everyone is told to load without spreads: what it gives at most and its reserve, in whole ml."""
    assert told_ml == pytest.approx(round(told_ml), abs=close_ml)
    assert -close_ml <= told_ml - given.most_ml - reserve_ml < 1 + close_ml


def split_count(program: bytes) -> int:
    """Lines of a program."""
    return len(split_lines(program))
