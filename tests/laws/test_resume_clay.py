"""Laws: which clay is where in the rest of a stopped print is what a plain account of the written files says.

The reference interpreter runs the whole file and the rest, and pushes a tape of clay with what it meters
(tests/reference/tape.py): nothing of gpost reckons there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.plan.restart import Asked
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges, clay_at, contents, shares
from gpost.supply.edges import edges_of
from gpost.supply.loading import slugs_of
from gpost.supply.loads import loads, on_from
from gpost.supply.stopped import Stopped
from gpost.supply.turned import Turn
from tests.laws.stopped import Given, Rest, Stop, attempt, check_told, end_of_whole, given_ml
from tests.laws.test_resume import stop
from tests.reference.interpreter import run
from tests.reference.outputs import split_lines
from tests.reference.programs import Piece, piece_programs
from tests.reference.state import Event
from tests.reference.tape import Slugs, Tape, one

__all__ = ["stop"]

ML_PER_MM = math.pi / 4 * 1.75**2 / 1000
"""Clay of 1 mm of a strand of 1.75 mm, which E is metered on if nobody says another: geometry."""
CLOSE_ML = 1e-3
Loads = Sequence[Slugs]


class Account(NamedTuple):
    """What a file has done with a tape of clay."""

    tape: Tape
    came: list[tuple[Event, float, float]]
    """(event, net ml before it, net ml after it) of each that lays clay."""
    given: list[Given]
    """What each cartridge gave."""

    @property
    def used_ml(self) -> list[float]:
        """Net clay out of each cartridge."""
        return [given.now_ml for given in self.given]


def follow(events: Sequence[Event], tape: Tape, loads: Iterator[Slugs], *, paused: int = 0) -> Account:
    """Push the tape with a file, and put on the next cartridge at each wait after the first `paused` ones."""
    came, given = list[tuple[Event, float, float]](), given_ml(events, ML_PER_MM, paused=paused)
    for event in events:
        before_ml = tape.moved_ml
        tape.push(event.e_metered_mm * ML_PER_MM)
        if event.lays_clay:
            came.append((event, before_ml, tape.moved_ml))
        if event.state.paused > paused:
            paused = event.state.paused
            tape.put_on(next(loads))
    return Account(tape, came, given)


class Job(NamedTuple):
    """A print of several clays."""

    wishes: list[Pause]
    config: dict[str, Any]
    banded: bool
    line_ml: float


@st.composite
def jobs(draw: st.DrawFn, piece: Piece) -> Job:
    """Swaps and refills at layers' starts, or bands of colour with refills."""
    layers = st.lists(st.integers(1, len(piece.layer_lines) - 1), max_size=3, unique=True)
    whole_ml = (sum(piece.layer_e_mm) + piece.prime_e_mm) * ML_PER_MM
    line_ml, prime = whole_ml * draw(st.sampled_from([0.0, 0.1, 0.45])), draw(st.sampled_from([0.0, 0.05]))
    banded = draw(st.booleans())
    wishes = [
        Pause(
            Spot(piece.layer_lines[layer]), "refill", f"at {layer}", "Refill",
            prime_ml=prime * whole_ml, new_cartridge=True,
            colour=None if banded else draw(st.sampled_from([None, "blue", "red"])),
        )
        for layer in sorted(draw(layers))
    ]  # fmt: skip
    config: dict[str, Any] = {
        "cartridge": {"volume_ml": 9000, "reserve_ml": 20, "line_ml": line_ml},
        "clay": {"colour": "white"},
        "machine": {"pause": {"relieve_ml": 0}},
    }
    if banded:
        low, high = piece.layer_heights_mm[0], piece.layer_heights_mm[-1]
        tops = sorted(draw(st.sets(st.sampled_from([0.2, 0.35, 0.5, 0.7, 0.9]), min_size=1, max_size=4)))
        names = ["white", "blue", "red", "white", "green"]
        bands = [
            {"to_mm": low + top * (high - low), "clay": name} for top, name in zip(tops, names, strict=False)
        ]
        config["colours"] = {"bands": [*bands, {"clay": names[len(bands)]}]}
    return Job(wishes, config, banded, line_ml)


def as_told(plan: Plan, job: Job) -> tuple[Slugs, Loads]:
    """What goes into the hose and into each cartridge that the plan still puts on, by its sheet."""
    if not job.banded:
        colour, found = "white", list[Slugs]([one("white")])
        for pause in job.wishes:
            colour = pause.colour or colour
            found.append(one(colour))
        due = len([pause for pause in job.wishes if plan.restart is None or pause.spot > plan.restart.spot])
        return one("white"), found[-due - 1 :]
    inside = list(slugs_of(plan, contents(plan)))
    loads = []
    for use in cartridges(plan)[on_from(plan) :]:
        own = [(next(iter(slug.mix)), slug.clay_ml) for slug in inside if slug.cartridge == use.number]
        loads.append([*own[:-1], (own[-1][0], math.inf)] if own else one(use.colour))
    hose = [(next(iter(slug.mix)), slug.clay_ml) for slug in inside if not slug.cartridge]
    return hose or one("none"), loads


def before_the_stop(
    rest: Rest, job: Job, lines: Sequence[bytes] | None = None, at: int | None = None
) -> Account:
    """The tape when the whole print has come to the place where the rest begins."""
    whole = rest.before if rest.before.restart is None else None
    assert whole is not None
    hose, (first, *later) = as_told(whole, job)
    program = split_lines(rest.whole) if lines is None else lines
    end = end_of_whole(rest) - len(rest.tail) if at is None else at
    events = run(b"\n".join(line.rstrip(b"\r\n") for line in program) + b"\n", rest.piece.dialect)
    return follow(events[:end], Tape(job.line_ml, hose, first), iter(later))


def drawn(stop: Stop, piece: Piece, data: st.DataObject) -> tuple[Job, Rest]:
    """A print of several clays, and its rest from a layer or a line on, with clay run out or not."""
    job = data.draw(jobs(piece))
    lines = st.integers(piece.layer_lines[1] + 1, piece.layer_lines[-1])
    asked = data.draw(
        st.one_of(
            st.integers(2, len(piece.layer_lines)).map(lambda n: Asked(layer=n)),
            lines.map(lambda n: Asked(spot=Spot(n))),
        )
    )
    stopped = Stopped(
        asked,
        run_out_ml=data.draw(st.sampled_from([0.0, 0.3, 1.0])) * job.line_ml,
        hose_holds=data.draw(st.sampled_from([None, None, "grey"])) if job.line_ml else None,
    )
    return job, attempt(stop, piece, job.wishes, stopped, config=job.config)


def the_rest(rest: Rest, job: Job, tape: Tape) -> Account:
    """What the rest does with the tape as it was at the stop."""
    if rest.going.stopped.hose_holds is not None:
        tape.fill_hose(rest.going.stopped.hose_holds)
    _, (_, *later) = as_told(rest.plan, job)
    return follow(run(rest.rest, rest.piece.dialect), tape, iter(later), paused=1)


@given(piece=piece_programs(min_layers=4), data=st.data())
def test_each_bead_is_of_the_clay_that_comes(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """Swaps, refills, slugs, clay run out, another clay in the hose: what is told is what the tape brings."""
    job, rest = drawn(stop, piece, data)
    tape = before_the_stop(rest, job).tape
    begun_ml = tape.moved_ml
    account = the_rest(rest, job, tape)
    restart = rest.plan.restart
    assert restart is not None
    for event, before_ml, after_ml in account.came:
        assert event.error is None
        middle_ml = (before_ml + after_ml) / 2
        if any(abs(begins_ml - middle_ml) < CLOSE_ML for begins_ml, _ in tape.parts):
            continue
        told = shares(rest.plan, clay_at(rest.plan, restart) + middle_ml - begun_ml)
        assert told[tape.at(middle_ml)] == pytest.approx(1.0), (tape.parts, middle_ml, told)


@given(piece=piece_programs(min_layers=4), data=st.data())
def test_each_cartridge_gives_what_is_told(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """That which is on has what was in it less what has passed; each gives what the file meters."""
    job, rest = drawn(stop, piece, data)
    before = before_the_stop(rest, job)
    gives = given_ml(rest.print.events, ML_PER_MM)[len(before.given) - 1]
    check_told(rest.going.left.clay_ml + before.used_ml[-1], gives, 20, CLOSE_ML)
    assert rest.going.left.number == len(before.used_ml)
    account = the_rest(rest, job, before.tape)
    told = cartridges(rest.plan)[on_from(rest.plan) :]
    assert [use.clay_ml for use in told] == pytest.approx(account.used_ml, abs=CLOSE_ML)
    assert [use.number for use in told] == list(
        range(rest.going.left.number, rest.going.left.number + len(told))
    )


@given(piece=piece_programs(min_layers=4), data=st.data())
def test_fronts_are_moved_by_what_is_run_out_alone(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """Each change of clay that is in hose or cartridge comes just so many ml sooner than it would have come.

    What is loaded later shows where it is asked for.
    """
    job, rest = drawn(stop, piece, data)
    assume(job.banded and rest.going.stopped.hose_holds is None)
    bands, restart = rest.plan.config.colours, rest.plan.restart
    assert bands is not None
    assert restart is not None
    at_ml = clay_at(rest.plan, restart)
    # up to where the cartridge comes off, as planned or now
    end_ml = min(
        [
            load.start_ml
            for plan in (rest.before, rest.plan)
            for load in loads(plan)
            if load.number > rest.going.left.number
        ],
        default=math.inf,
    )
    theirs, own = (
        [edge for edge in edges_of(plan, bands).edges if edge.outlet_ml + job.line_ml > at_ml + CLOSE_ML]
        for plan in (rest.before, rest.plan)
    )
    # what begins where a cartridge is put on is that one's
    inside, before = ([edge for edge in edges if edge.outlet_ml < end_ml - CLOSE_ML] for edges in (own, theirs))
    for mine, edge in zip(inside, before, strict=True):
        assert (mine.wish.mix, mine.wish.from_mm) == (edge.wish.mix, edge.wish.from_mm)
        assert mine.outlet_ml == pytest.approx(edge.outlet_ml, abs=1e-9)
    # and on the wall: where the file itself brings them
    tape = before_the_stop(rest, job).tape
    begun_ml = tape.moved_ml
    account = the_rest(rest, job, tape)
    fronts = [begins_ml for begins_ml, _ in tape.changes(begun_ml + CLOSE_ML)]
    told_ml = [edge.outlet_ml + job.line_ml - at_ml for edge in own]
    assert [front_ml - begun_ml for front_ml in fronts] == pytest.approx(told_ml[: len(fronts)], abs=CLOSE_ML)
    rise = max(b - a for a, b in pairwise([0.0, *piece.layer_heights_mm]))
    for edge, front_ml in zip(own, fronts, strict=False):
        height_mm = _height(account, front_ml)
        if height_mm is not None:
            assert edge.start_mm == pytest.approx(height_mm, abs=rise + 0.01)
    for edge in own[len(inside) :]:
        late = any(abs(edge.outlet_ml - load.start_ml) < CLOSE_ML for load in loads(rest.plan))
        assert late or edge.start_mm == pytest.approx(edge.wish.from_mm, abs=rise + 0.01)


def _height(account: Account, front_ml: float) -> float | None:
    """The nozzle's height where the tape has come so far; None: never in the wall."""
    for event, before_ml, after_ml in account.came:
        if before_ml <= front_ml < after_ml:
            return event.end_mm[2]
        if before_ml > front_ml:  # run out beside the piece: it shows where it goes on
            return event.start_mm[2]
    return None


@given(piece=piece_programs(min_layers=5), percent=st.sampled_from([80.0, 110.0, 130.0]), data=st.data())
def test_a_turned_knob_moves_what_is_on_its_way(
    stop: Stop, piece: Piece, percent: float, data: st.DataObject
) -> None:
    """With M221 put into the whole file where the knob was turned, hose and cartridge are as is told."""
    assume(b"M221" not in piece.program)
    job, layers = data.draw(jobs(piece)), len(piece.layer_lines)
    turned, stopped = sorted(data.draw(st.lists(st.integers(2, layers), min_size=2, max_size=2, unique=True)))
    turn = Turn("flow", percent, turned, by_height=False)
    place = attempt(stop, piece, job.wishes, Stopped(Asked(layer=turned)), config=job.config)
    at = end_of_whole(place) - len(place.tail)  # while its file stands
    rest = attempt(stop, piece, job.wishes, Stopped(Asked(layer=stopped), turned=(turn,)), config=job.config)
    lines = split_lines(rest.whole)
    end = end_of_whole(rest) - len(rest.tail)
    lines = [*lines[:at], b"M221 S%d" % percent, *lines[at:]]
    account = before_the_stop(rest, job, lines, end + 1)
    # loaded for the file as it is, and given by it with the knob turned
    gives = given_ml(rest.print.events, ML_PER_MM)[len(account.given) - 1]
    assume(gives.most_ml + 20 > account.used_ml[-1])
    check_told(rest.going.left.clay_ml + account.used_ml[-1], gives, 20, CLOSE_ML)
    inside = [(part.after_ml + job.line_ml, next(iter(part.mix))) for part in rest.going.restart.inside]
    changes = [(ml, clay) for ml, clay in inside if ml > CLOSE_ML]
    now_ml = account.tape.moved_ml
    due = [(at_ml - now_ml, clay) for at_ml, clay in account.tape.changes(now_ml + CLOSE_ML)]
    assert [clay for _, clay in changes] == [clay for _, clay in due]
    assert [ml for ml, _ in changes] == pytest.approx([ml for ml, _ in due], abs=CLOSE_ML)
