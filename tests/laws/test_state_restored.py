"""Law: an inserted block leaves the machine as it found it, and later lines do what they did before."""

from __future__ import annotations

import dataclasses
from collections import Counter

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.errors import PlanError, SourceError
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Command,
    Intention,
    LayClay,
    Pause,
    Say,
    Stroke,
)
from gpost.spot import Spot
from tests.reference.outputs import Block, begun, differences, move_differences, total_e
from tests.reference.programs import Draft, Piece, drafts, piece_programs

ML_PER_MM = 3.141592653589793 / 4 * 1.75**2 / 1000
HALF_E_STEP_MM = 0.5e-5
BEADS = (
    Stroke(((-100.0, -60.0), (-40.0, -60.0)), 8.0, 3.0, 3.0, 1.25),
    Stroke(((-40.0, -50.0), (-100.0, -50.0), (-100.0, -45.0)), 8.0, 3.0, 3.0, 1.5),
    Stroke(((-100.0, -120.0), (-40.0, -120.0)), 8.0, 3.0, 6.0, 0.75),
)


def spots(lines: int) -> st.SearchStrategy[Spot]:
    """Before any line, or at the end."""
    return st.builds(Spot, st.integers(0, lines))


def lays(lines: int) -> st.SearchStrategy[LayClay]:
    """Beads beside the piece."""
    some = st.lists(st.sampled_from(BEADS), min_size=1, max_size=3).map(tuple)
    return st.builds(LayClay, spots(lines), some, st.sampled_from([300.0, 1234.5]), st.sampled_from([0.0, 10.0]))


def pauses(lines: int) -> st.SearchStrategy[Pause]:
    """Pauses of all kinds."""
    return st.builds(
        Pause,
        spot=spots(lines),
        kind=st.sampled_from(["swap", "refill"]),
        reason=st.just("because"),
        message=st.just("Load blue"),
        prime_ml=st.sampled_from([0.0, 0.001, 3.3, 12.0]),
        lay=st.one_of(st.none(), lays(lines)),
        hold_again=st.booleans(),
    )


def insertions(lines: int) -> st.SearchStrategy[Intention]:
    """Anything that can be inserted."""
    return st.one_of(
        pauses(lines),
        pauses(lines),
        lays(lines),
        st.builds(Say, spots(lines), st.just("half way")),
        st.builds(Air, spots(lines), st.sampled_from([0.0, 0.4, 1.0])),
        st.builds(Command, spots(lines), st.just(("M400", "G4 P0", "M42 P7 S1"))),
    )


MANNERS = st.fixed_dictionaries(
    {
        "relieve_ml": st.sampled_from([0.0, 0.3]),
        "lift_mm": st.sampled_from([0.0, 10.0]),
        "wipe_mm": st.sampled_from([0.0, 15.0]),
        "hold_again": st.booleans(),
        "message": st.sampled_from(["before", "after", "none"]),
    }
)


def clay_mm(wish: Intention) -> float:
    """E that the plan says a wish meters, mm."""
    ml = 0.0
    if isinstance(wish, LayClay):
        ml = wish.clay_ml
    elif isinstance(wish, Pause):
        ml = wish.prime_ml + (wish.lay.clay_ml if wish.lay is not None else 0.0)
    return ml / ML_PER_MM


def check(result, *, ignore: tuple[str, ...] = ()) -> None:
    """Every block keeps the state and meters its clay; every source line does what it did in the source."""
    apart, before = result.apart, result.before
    assert apart.errors == ()
    assert len(apart.rows) == len(before.rows)
    for row, own in zip(apart.rows, before.rows, strict=True):
        assert move_differences(row.event, own.event) == [], own.raw
        assert differences(row.event.state, own.event.state, ignore) == [], own.raw
    by_first = {first: result.plan.entries[index].intention for index, (first, _) in result.written.places.items()}
    for block in apart.blocks:
        wish = by_first[block.events[0].line + 1]
        assert differences(block.after, block.before, ignore) == []
        check_clay(block, wish, scale=float(block.before.scale), flow=float(block.before.flow_factor))


def check_clay(block: Block, wish: Intention, *, scale: float, flow: float) -> None:
    """The block meters what the plan says, to half a last place of an E word."""
    last_place_mm = HALF_E_STEP_MM if scale == 1 else HALF_E_STEP_MM / 10 * scale
    assert total_e(block.events) == pytest.approx(clay_mm(wish), abs=last_place_mm * flow * 1.001 + 1e-8)


def inserted(rewrite, program: bytes, dialect, wishes: list[Intention], manner: dict[str, object]):
    """The rewriting, or no example where the file or the plan is rightly refused."""
    try:
        return rewrite(program, wishes, dialect=dialect, config={"machine": {"pause": manner}})
    except SourceError:
        assume(False)
    except PlanError as error:
        reasons = ("the file has not said a feed", "the piece is", "stands")
        assert any(reason in str(error) for reason in reasons), error
        assume(False)


@given(draft=drafts(min_lines=6), feed=st.sampled_from([b"", b" F1234.5"]), manner=MANNERS, data=st.data())
def test_a_block_leaves_the_machine_as_it_was(rewrite, draft: Draft, feed: bytes, manner, data) -> None:
    """One to four insertions, at one spot or several, in any program of any dialect."""
    program = begun(draft.program, b"G1 X0 Y0 Z0" + feed)
    lines = program.count(b"\n") + (not program.endswith(b"\n"))
    wishes = data.draw(st.lists(insertions(lines), min_size=1, max_size=4))
    assume(any(wish.spot.line for wish in wishes))
    wishes = [w if w.spot.line > 1 or not isinstance(w, Pause | LayClay) else moved(w, 2) for w in wishes]
    result = inserted(rewrite, program, draft.dialect, wishes, manner)
    check(result, ignore=("fan",) if any(isinstance(wish, Air) for wish in wishes) else ())


def moved(wish, line: int):
    return dataclasses.replace(wish, spot=Spot(line))
