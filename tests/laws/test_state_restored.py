"""Law: an inserted block leaves the machine as it found it, and later lines do what they did before."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterable, Sequence
from typing import Any

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.errors import PlanError, SourceError
from gpost.plan.intentions import Air, AirInPause, Ask, Command, Intention, LayClay, Pause, Say, Stroke, Wait
from gpost.spot import START, Spot
from tests.reference.interpreter import run
from tests.reference.outputs import Block, begun, differences, move_differences, same_feed, total_e
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.state import State

ML_PER_MM = math.pi / 4 * 1.75**2 / 1000
BEADS = (
    Stroke(((-100.0, -60.0), (-40.0, -60.0)), 8.0, 3.0, 3.0, 1.25),
    Stroke(((-40.0, -50.0), (-100.0, -50.0), (-100.0, -45.0)), 8.0, 3.0, 3.0, 1.5),
    Stroke(((-100.0, -120.0), (-40.0, -120.0)), 8.0, 3.0, 6.0, 0.75),
)
RIGHTLY_REFUSED = ("the file has not said a feed", "the clay or the nozzle is")


def lays(spots: st.SearchStrategy[Spot]) -> st.SearchStrategy[LayClay]:
    """Beads beside the piece."""
    beads = st.lists(st.sampled_from(BEADS), min_size=1, max_size=3).map(tuple)
    return st.builds(LayClay, spots, beads, st.sampled_from([300.0, 1234.5]), st.sampled_from([0.0, 10.0]))


def pauses(spots: st.SearchStrategy[Spot]) -> st.SearchStrategy[Pause]:
    """Pauses of all kinds."""
    return st.builds(
        Pause,
        spot=spots,
        kind=st.sampled_from(["swap", "refill"]),
        reason=st.just("because"),
        message=st.just("Load blue"),
        prime_ml=st.sampled_from([0.0, 0.001, 3.3, 12.0]),
        lay=st.one_of(st.none(), lays(spots)),
        hold_again=st.booleans(),
    )


def insertions(spots: st.SearchStrategy[Spot]) -> st.SearchStrategy[Any]:
    """Anything that can be inserted."""
    return st.one_of(
        pauses(spots),
        pauses(spots),
        lays(spots),
        st.builds(Say, spots, st.just("half way")),
        st.builds(Air, spots, st.sampled_from([0.0, 0.4, 1.0])),
        st.builds(Command, spots, st.just(("M300 S440", "M400", "M42 P7 S1"))),
        st.builds(Wait, spots, st.sampled_from([0.001, 1.5, 60.0])),
        st.builds(Ask, spots, st.just("Look"), st.just("to look")),
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
    lay = wish if isinstance(wish, LayClay) else wish.lay if isinstance(wish, Pause) else None
    prime_ml = wish.prime_ml if isinstance(wish, Pause) else 0.0
    return (prime_ml + (lay.clay_ml if lay is not None else 0.0)) / ML_PER_MM


@dataclasses.dataclass(frozen=True)
class Seen:
    """A block with its wish, and the part of a split move that leads to it, if any."""

    block: Block
    wish: Any

    @property
    def lead(self) -> int:
        """1 if its first line is a part of the move that it stands in."""
        return int(self.wish.spot.fraction > 0 and self.block.events[0].kind == "move")

    @property
    def before(self) -> State:
        """The state in which the inserted lines begin."""
        return self.block.events[0].state if self.lead else self.block.before


def seen(result: Any) -> list[Seen]:
    """All blocks of an output, with their wishes."""
    by_line = {
        first: result.plan.entries[index].intention for index, (first, _) in result.written.places.items()
    }
    return [Seen(block, by_line[block.events[0].line + 1]) for block in result.apart.blocks]


def check(result: Any, *, ignore: Iterable[str] = ()) -> None:
    """Every block keeps the state and meters its clay; every source line does what it did in the source."""
    apart, before = result.apart, result.before
    assert apart.errors == ()
    assert len(apart.rows) == len(before.rows)
    blocks = seen(result)
    split = {item.block.next_row for item in blocks if item.lead}
    for index, (row, own) in enumerate(zip(apart.rows, before.rows, strict=True)):
        if index in split:
            parts = [item for item in blocks if item.block.next_row == index and item.lead]
            check_split(parts, row.event, own.event)
        else:
            assert move_differences(row.event, own.event) == [], own.raw
        assert differences(row.event.state, own.event.state, ignore) == [], own.raw
    for item in blocks:
        assert differences(item.block.after, item.before, ignore) == []
        check_clay(item)


def check_clay(item: Seen) -> None:
    """The block meters what the plan says, to half a last place of an E word (finer in inches)."""
    scale, flow = float(item.before.scale), float(item.before.flow_factor)
    half_place_mm = 0.5e-5 if scale == 1 else 0.5e-6 * scale
    metered = total_e(item.block.events[item.lead :])
    assert metered == pytest.approx(clay_mm(item.wish), abs=half_place_mm * flow * 1.001 + 1e-8)


def check_split(parts: Sequence[Seen], rest: Any, own: Any) -> None:
    """The parts of a move end where their fractions say, and with the rest make the whole."""
    for item in parts:
        end, fraction = item.block.events[0].end_mm, item.wish.spot.fraction
        goal = [a + (b - a) * fraction for a, b in zip(own.start_mm, own.end_mm, strict=True)]
        # a thousandth of an inch would be 0.0254 mm
        assert max(abs(p - q) for p, q in zip(end, goal, strict=True)) <= 0.0128
        assert item.block.events[0].motion == own.motion
        assert same_feed(item.block.events[0].feed_mm_min, rest.feed_mm_min)
    assert max(abs(p - q) for p, q in zip(rest.end_mm, own.end_mm, strict=True)) <= 1e-9
    metered = sum(item.block.events[0].e_metered_mm for item in parts) + rest.e_metered_mm
    assert metered == pytest.approx(own.e_metered_mm, abs=1e-8)
    assert (rest.kind, rest.motion) == (own.kind, own.motion)


def attempt(rewrite: Any, program: bytes, wishes: Any, **how: Any) -> Any:
    """The rewriting, or no example where the file or the plan is rightly refused."""
    try:
        return rewrite(program, wishes, **how)
    except SourceError:
        assume(False)
    except PlanError as error:
        if not any(reason in str(error) for reason in RIGHTLY_REFUSED):
            raise
        assume(False)


def count_lines(program: bytes) -> int:
    """Lines of a program."""
    return program.count(b"\n") + (not program.endswith(b"\n"))


FEEDS = st.sampled_from([b"", b" F1234.5"])


@given(draft=drafts(min_lines=6), feed=FEEDS, manner=MANNERS, data=st.data())
def test_a_block_leaves_the_machine_as_it_was(
    rewrite: Any, draft: Draft, feed: bytes, manner: Any, data: st.DataObject
) -> None:
    """One to four insertions, at one spot or several, in any program of any dialect."""
    program = begun(draft.program, b"G1 X0 Y0 Z0" + feed)
    spots = st.builds(Spot, st.integers(2, count_lines(program)))
    wishes = data.draw(st.lists(insertions(spots), min_size=1, max_size=4))
    result = attempt(rewrite, program, wishes, dialect=draft.dialect, config={"machine": {"pause": manner}})
    check(result, ignore=("fan",) if any(isinstance(wish, Air) for wish in wishes) else ())


@given(draft=drafts(min_lines=6), feed=FEEDS, manner=MANNERS, data=st.data())
def test_a_block_inside_a_move_leaves_the_machine_as_it_was(
    rewrite: Any, draft: Draft, feed: bytes, manner: Any, data: st.DataObject
) -> None:
    """Insertions inside moves split them, several times if need be; other lines are left whole."""
    program = begun(draft.program, b"G1 X0 Y0 Z0" + feed)
    moving = [e.line for e in run(program, draft.dialect) if e.kind == "move" and e.line > 1]
    assume(moving)
    fractions = st.sampled_from([0.0, 0.25, 0.25, 1 / 3, 0.9, 1e-7])
    spots = st.builds(Spot, st.sampled_from(moving), fractions)
    wishes = data.draw(st.lists(insertions(spots), min_size=1, max_size=4))
    result = attempt(rewrite, program, wishes, dialect=draft.dialect, config={"machine": {"pause": manner}})
    event(f"{sum(item.lead for item in seen(result))} parts")
    check(result, ignore=("fan",) if any(isinstance(wish, Air) for wish in wishes) else ())


@given(piece=piece_programs(), data=st.data())
def test_a_pot_is_printed_as_before(rewrite: Any, piece: Piece, data: st.DataObject) -> None:
    """Pauses at layer starts and inside moves of a pot, in every dialect, change nothing of the pot."""
    lines = st.integers(piece.layer_lines[0], count_lines(piece.program) - 1)
    spots = st.one_of(
        st.sampled_from(piece.layer_lines).map(Spot),
        st.builds(Spot, lines, st.sampled_from([0.0, 0.5, 0.125])),
    )
    wishes = data.draw(st.lists(insertions(spots), min_size=1, max_size=5))
    result = rewrite(piece.program, wishes, dialect=piece.dialect)
    check(result, ignore=("fan",) if any(isinstance(wish, Air) for wish in wishes) else ())


@given(level=st.integers(0, 255), at=st.integers(3, 8))
def test_the_blower_rests_and_goes_on(rewrite: Any, level: int, at: int) -> None:
    """With the blower at rest in pauses it is off at the wait, and as before after it."""
    program = b"G28\nG1 X50 Y50 Z2 F1500\nM106 S%d\n" % level + b"G1 X90 E5\nG1 X50 E10\n" * 3
    wishes = [AirInPause(True), Pause(Spot(at), "look", "to look", "Look")]
    result = rewrite(program, wishes)
    (block,) = result.apart.blocks
    waits = [e for e in block.events if block.lines[e.line - block.events[0].line] == b"M0"]
    assert [float(e.state.fan) for e in waits] == [0.0]
    check(result)


def test_clay_switched_on_by_a_code_is_off_while_the_machine_waits(rewrite: Any) -> None:
    """Between M101 and M103 clay runs with every move; a pause switches it off and on again."""
    program = b"G28\nG1 X50 Y50 Z2 F1500\nM101\nG1 X90\nG1 X50\nM103\n"
    result = rewrite(program, [Pause(Spot(4), "look", "to look", "Look")])
    (block,) = result.apart.blocks
    assert not any(e.state.laying for e in block.events if e.kind == "move")
    check(result)


ASKING = {"machine": {"pause": {"commands": ["M400", "M0"]}, "beep": ["M300 S440"]}}


@given(draft=drafts(min_lines=1), times=st.integers(1, 2))
def test_a_question_at_the_start_of_any_file_moves_nothing(rewrite: Any, draft: Draft, times: int) -> None:
    """Before homing, before any place or mode is known: words and waits, and the machine is as it was."""
    wishes = [Ask(START, "In: white 300 ml", "to see the clay")] * times
    result = attempt(rewrite, draft.program, wishes, dialect=draft.dialect, config=ASKING)
    assert len(result.apart.blocks) == times
    for block in result.apart.blocks:
        assert not any(event.kind == "move" for event in block.events)
        assert total_e(block.events) == 0
        found = [re.search(rb"[GM]\d+", line.split(b";")[0]) for line in block.lines]
        assert [code[0] for code in found if code] == [b"M117", b"M300", b"M400", b"M0"]
    check(result)
