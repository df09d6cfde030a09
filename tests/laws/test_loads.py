"""Law: what a cartridge must have is the highest sum that E reaches in it, as the output's lines push it."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from gpost.plan.intentions import LayClay, Pause, ScaleFlow
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges
from tests.laws.test_state_restored import FEEDS, MANNERS, attempt, count_lines, lays
from tests.reference.interpreter import run
from tests.reference.outputs import begun
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.state import Event

ML_PER_MM = math.pi / 4 * 1.75**2 / 1000


def needs_ml(events: list[Event], waits: list[int]) -> list[float]:
    """The highest sum of E in ml from the start, and from each of these lines of the output, up to the next."""
    found, total, start = [0.0], 0.0, 0.0
    for line in events:
        if line.line in waits:
            found.append(0.0)
            start = total
        total += line.e_metered_mm * ML_PER_MM
        found[-1] = max(found[-1], total - start)
    return found


def first_wait(events: list[Event], place: tuple[int, int]) -> int:
    """The line, counted from 0, on which a pause of the output first waits."""
    first, end = place[0] - 1, place[1]
    paused = events[first - 1].state.paused
    return next(line for line in range(first, end) if events[line].state.paused > paused)


def check(result: Any, *, within_ml: float = 1e-6) -> None:
    """Cartridge by cartridge, in the order of loading, against a sum line by line."""
    events, entries = run(result.output, result.dialect), result.plan.entries
    blocks = sorted(
        place for index, place in result.written.places.items() if is_load(entries[index].intention)
    )
    uses = cartridges(result.plan)
    expected = needs_ml(events, [first_wait(events, place) for place in blocks])
    event(f"{len(uses)} cartridges")
    assert [use.need_ml for use in uses] == pytest.approx(expected, abs=within_ml)
    assert sum(use.clay_ml for use in uses) == pytest.approx(
        sum(line.e_metered_mm for line in events) * ML_PER_MM, abs=within_ml
    )


def is_load(wish: Any) -> bool:
    """Whether a wish puts a new cartridge on."""
    return isinstance(wish, Pause) and wish.new_cartridge


def loads(spots: st.SearchStrategy[Spot]) -> st.SearchStrategy[Pause]:
    """Pauses for a new cartridge, or for none."""
    return st.builds(
        Pause,
        spot=spots,
        kind=st.just("refill"),
        reason=st.just("because"),
        message=st.just(""),
        prime_ml=st.sampled_from([0.0, 0.001, 3.3]),
        lay=st.one_of(st.none(), lays(spots)),
        new_cartridge=st.sampled_from([True, True, False]),
    )


def wishes(spots: st.SearchStrategy[Spot]) -> st.SearchStrategy[list[Pause | LayClay]]:
    """Some pauses and beads."""
    return st.lists(st.one_of(loads(spots), loads(spots), lays(spots)), min_size=1, max_size=4)


@given(
    draft=drafts(min_lines=6), feed=FEEDS, manner=MANNERS, chunk_bytes=st.integers(40, 400), data=st.data()
)
def test_of_any_program(
    rewrite: Any, draft: Draft, feed: bytes, manner: Any, chunk_bytes: int, data: st.DataObject
) -> None:
    """Any program of any dialect, its clay drawn back and given again at random, with loads at any line."""
    program = begun(draft.program, b"G1 X0 Y0 Z0" + feed)
    spots = st.builds(Spot, st.integers(2, count_lines(program)))
    how = {"dialect": draft.dialect, "config": {"machine": {"pause": {**manner, "message": "none"}}}}
    result = attempt(rewrite, program, data.draw(wishes(spots)), chunk_bytes=chunk_bytes, **how)
    check(result)


@given(piece=piece_programs(), chunk_bytes=st.integers(40, 4000), data=st.data())
def test_of_a_pot(rewrite: Any, piece: Piece, chunk_bytes: int, data: st.DataObject) -> None:
    """A pot in every dialect, loaded at layers' starts and inside moves."""
    lines = st.integers(piece.layer_lines[0], count_lines(piece.program) - 1)
    spots = st.one_of(
        st.sampled_from(piece.layer_lines).map(Spot),
        st.builds(Spot, lines, st.sampled_from([0.0, 0.5, 0.125])),
    )
    result = rewrite(piece.program, data.draw(wishes(spots)), dialect=piece.dialect, chunk_bytes=chunk_bytes)
    check(result)


@given(
    piece=piece_programs(), factor=st.sampled_from([0.9, 1.15, 1.4]), last=st.integers(1, 9), data=st.data()
)
def test_with_more_clay_in_some_layers(
    rewrite: Any, piece: Piece, factor: float, last: int, data: st.DataObject
) -> None:
    """Where steps change the flow too: to what they change of the clay that is drawn back and given again."""
    edges = [*piece.layer_lines, count_lines(piece.program)]
    scale = ScaleFlow(edges[0], edges[min(last, len(edges) - 1)], factor)
    wanted = data.draw(wishes(st.sampled_from(piece.layer_lines).map(Spot)))
    result = rewrite(piece.program, [*wanted, scale], dialect=piece.dialect)
    drawn_mm = max(-e.e_metered_mm for e in run(piece.program, piece.dialect))
    check(result, within_ml=1e-4 + abs(factor - 1) * drawn_mm * ML_PER_MM)
