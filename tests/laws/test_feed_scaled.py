"""Law: a scaled feed is the source's feed times the factor where clay is laid, and nothing else changes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.errors import SourceError
from gpost.plan.intentions import Pause, ScaleFeed
from gpost.spot import Spot
from tests.reference.outputs import begun, differences, move_differences
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.state import Event, State

LEAST_MM_MIN = 0.1
POT = b"G28\nG1 X50 Y50 Z2 F3000\nG1 X90 E5 F1500\nG1 Y90 E10\nG0 X50\nG1 Y50 E15\nG1 X60 E16 F1500\n"


def lays(event: Event, before: State) -> bool:
    """Whether a line lays clay along a path: E goes forward, or clay is switched on by a code."""
    sideways = event.path_mm > 0 and (event.arc is not None or event.start_mm[:2] != event.end_mm[:2])
    switched_on = before.laying and event.motion != 0
    return event.kind == "move" and sideways and (event.e_metered_mm > 0 or switched_on)


def wanted_feed(index: int, event: Event, before: State, scales: Sequence[ScaleFeed]) -> float | None:
    """The effective feed that a line of the source is to have."""
    feed = event.feed_mm_min
    for scale in scales:
        if feed is not None and lays(event, before) and scale.first_line <= index < scale.end_line:
            feed = max(feed * scale.factor, min(feed, scale.floor_mm_min))
    return feed


def check_feed(found: float | None, index: int, own: Any, scales: Sequence[ScaleFeed]) -> None:
    """The feed found is the one wanted for a row of the source, to the rounding of an F word."""
    goal, factor = wanted_feed(index, own.event, own.before, scales), float(own.before.feed_factor)
    if goal is None:
        assert found is None
    elif goal == own.event.feed_mm_min:
        assert found == pytest.approx(goal, rel=1e-6)
    else:
        # a tenth of a mm/min, and 4 decimals of an inch
        step = (0.05 + 0.00005 * float(own.event.state.scale)) * factor + 1e-6
        assert found == pytest.approx(max(goal, LEAST_MM_MIN * factor), abs=step)


def check(result: Any, scales: Sequence[ScaleFeed]) -> None:
    """Feeds are as wanted; all else is as in the source."""
    apart, before = result.apart, result.before
    assert apart.errors == ()
    for index, (row, own) in enumerate(zip(apart.rows, before.rows, strict=True)):
        assert move_differences(row.event, own.event, feed=False) == [], own.raw
        assert differences(row.event.state, own.event.state) == [], own.raw
        check_feed(row.event.feed_mm_min, index, own, scales)


def ranges(lines: int) -> st.SearchStrategy[list[ScaleFeed]]:
    """One to three stretches, which may overlap."""
    one = st.builds(
        lambda first, length, factor, floor: ScaleFeed(first, min(first + length, lines), factor, floor),
        st.integers(0, lines - 1),
        st.integers(0, lines),
        st.sampled_from([0.5, 0.731, 0.9, 1.0, 1.4, 0.001]),
        st.sampled_from([0.0, 0.0, 250.0, 900.0, 1e5]),
    )
    return st.lists(one, min_size=1, max_size=3)


def count_lines(program: bytes) -> int:
    """Lines of a program."""
    return program.count(b"\n") + (not program.endswith(b"\n"))


@given(draft=drafts(min_lines=6), data=st.data(), chunk_bytes=st.sampled_from([40, 333, 1 << 18]))
def test_feeds_of_any_program(rewrite: Any, draft: Draft, data: st.DataObject, chunk_bytes: int) -> None:
    """In any program: mixed units, modes, feed factors, F-only lines, F on travel, no F at all."""
    program = begun(draft.program, b"G1 X0 Y0 Z0" + data.draw(st.sampled_from([b"", b" F1234.5"])))
    scales = data.draw(ranges(count_lines(program)))
    try:
        result = rewrite(program, scales, dialect=draft.dialect, chunk_bytes=chunk_bytes)
    except SourceError:
        assume(False)
    event(f"changed: {result.output != program}")
    check(result, scales)


@given(piece=piece_programs(), factor=st.integers(50, 150), data=st.data())
def test_feeds_of_a_pot(rewrite: Any, piece: Piece, factor: int, data: st.DataObject) -> None:
    """In any pot: one F in the file, one a layer, or one a line; also under M220."""
    program = begun(piece.program, b"M220 S%d" % factor)
    scales = data.draw(ranges(count_lines(program)))
    check(rewrite(program, scales, dialect=piece.dialect), scales)


@given(piece=piece_programs(), data=st.data())
def test_blocks_inside_a_scaled_stretch(rewrite: Any, piece: Piece, data: st.DataObject) -> None:
    """What is inserted in a scaled stretch, between moves or inside one, gives the scaled feed back."""
    lines = count_lines(piece.program)
    scales = data.draw(ranges(lines))
    at = st.integers(piece.layer_lines[0], lines - 1)
    spots = st.one_of(at.map(Spot), at.map(lambda line: Spot(line, 0.5)))
    pauses = data.draw(st.lists(st.builds(Pause, spots, st.just("look"), st.just(""), st.just("Look"))))
    result = rewrite(piece.program, [*scales, *pauses], dialect=piece.dialect)
    apart, before = result.apart, result.before
    assert apart.errors == ()
    for index, (row, own) in enumerate(zip(apart.rows, before.rows, strict=True)):
        check_feed(row.event.feed_mm_min, index, own, scales)
    for block in apart.blocks:
        if block.events[0].kind == "move":
            check_feed(block.events[0].feed_mm_min, block.next_row, before.rows[block.next_row], scales)


def test_with_one_f_word_in_the_file_it_is_said_again_where_it_changes(rewrite: Any) -> None:
    """A scaled stretch gets one F at its start, travel inside it gets its own back, and so does the end."""
    program = POT.replace(b" F1500", b"")
    result = rewrite(program, [ScaleFeed(2, 6, 0.5)])
    rows = [row.raw for row in result.apart.rows]
    assert rows[2:] == [
        b"G1 X90 E5 F1500",
        b"G1 Y90 E10",
        b"G0 X50 F3000",
        b"G1 Y50 E15 F1500",
        b"G1 X60 E16 F3000",
    ]


def test_words_that_are_right_already_stay(rewrite: Any) -> None:
    """A line with its own F after the stretch keeps its bytes; inside it only the number changes."""
    result = rewrite(POT, [ScaleFeed(2, 6, 0.5)])
    assert [row.raw for row in result.apart.rows][2:] == [
        b"G1 X90 E5 F750",
        b"G1 Y90 E10",
        b"G0 X50 F1500",
        b"G1 Y50 E15 F750",
        b"G1 X60 E16 F1500",
    ]
    assert dict(result.written.edited) == {0: 2}


def test_the_floor_never_makes_a_slow_move_faster(rewrite: Any) -> None:
    """Below the floor a move keeps its own feed."""
    result = rewrite(POT, [ScaleFeed(0, 99, 0.5, floor_mm_min=2000.0)])
    assert [row.raw for row in result.apart.rows] == [row.raw for row in result.before.rows]


def test_the_floor_is_of_the_feed_that_the_machine_runs(rewrite: Any) -> None:
    """Under M220 S50 a floor of 600 keeps the effective feed at 600, so F at 1200."""
    result = rewrite(begun(POT, b"M220 S50"), [ScaleFeed(0, 99, 0.5, floor_mm_min=600.0)])
    slowed = result.apart.rows[3].event
    assert slowed.feed_mm_min == pytest.approx(600)
    assert b"F1200" in result.apart.rows[3].raw


def test_a_feed_is_never_nothing(rewrite: Any) -> None:
    """However small the factor, a feed of at least a tenth of a mm/min is left."""
    result = rewrite(POT, [ScaleFeed(0, 99, 1e-9)])
    feeds = [row.event.feed_mm_min for row in result.apart.rows if row.event.kind == "move"]
    assert min(feed for feed in feeds if feed is not None) == pytest.approx(LEAST_MM_MIN)


@pytest.mark.parametrize("unit", [b"G20", b"G21"])
def test_inches_are_scaled_alike(rewrite: Any, unit: bytes) -> None:
    """In inches F is inches a minute: the factor is the same, in the file's own unit."""
    program = begun(POT.replace(b"F1500", b"F60"), unit)
    scale = 25.4 if unit == b"G20" else 1.0
    result = rewrite(program, [ScaleFeed(0, 99, 0.5)], config={"machine": {"ceiling_mm": 9000}})
    assert result.apart.rows[3].event.feed_mm_min == pytest.approx(30 * scale, abs=1e-3)
