"""Law: scaled clay is the source's clay times the factor where clay is laid, and nothing else changes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.errors import SourceError
from gpost.plan.intentions import Intention, Pause, Say, ScaleFeed, ScaleFlow
from gpost.spot import Spot
from tests.reference.outputs import begun, differences, move_differences, total_e
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.state import Event
from tests.reference.words import read_line

ML_PER_MM = 3.141592653589793 / 4 * 1.75**2 / 1000
POT = b"G28\nG1 X50 Y50 Z2 F3000\nG1 X90 E5\nG1 Y90 E10\nG1 E8\nG0 X50\nG1 E10\nG1 Y50 E15\nG1 X60 E16\n"


def wanted_e(index: int, event: Event, scales: Sequence[Intention]) -> float:
    """E in mm that a line of the source is to push, by what the program says."""
    sideways = event.arc is not None or event.start_mm[:2] != event.end_mm[:2]
    e_mm = event.e_delta_mm
    if event.kind == "move" and sideways and event.path_mm > 0 and event.e_metered_mm > 0:
        for scale in scales:
            if isinstance(scale, ScaleFlow) and scale.first_line <= index < scale.end_line:
                e_mm *= scale.factor
    return e_mm


def pushed(result: Any, index: int) -> float:
    """E in mm that a source line pushes in the output, with the parts split off from it."""
    e_mm = float(result.apart.rows[index].event.e_delta_mm)
    blocks = [block for block in result.apart.blocks if block.next_row == index]
    return e_mm + sum(b.events[0].e_delta_mm for b in blocks if b.events[0].kind == "move")


def check(result: Any, scales: Sequence[Intention], *, feed: bool = True) -> None:
    """Each line pushes what is wanted, sums are never off by more than half a last place; all else stays."""
    apart, before = result.apart, result.before
    assert apart.errors == ()
    off_mm = half_place_mm = 0.0
    split = {b.next_row for b in apart.blocks if b.events[0].kind == "move"}
    for index, (row, own) in enumerate(zip(apart.rows, before.rows, strict=True)):
        if not inside(index, scales) or sets_e(own.raw, first=index == 0):
            off_mm = half_place_mm = 0.0
        by_mm = pushed(result, index) - wanted_e(index, own.event, scales)
        off_mm += by_mm
        if by_mm:
            # what a word in inches leaves over may be taken up by a later one in mm
            half_place_mm = max(half_place_mm, 0.5e-5 if own.event.state.scale == 1 else 0.5e-6 * 25.4)
        assert abs(off_mm) <= 1.001 * half_place_mm + 1e-8, own.raw
        if index not in split:
            found = move_differences(row.event, own.event, feed=feed)
            assert [text for text in found if not text.startswith("e:")] == [], own.raw
        ignore = ("register",) if inside(index, scales) else ()
        assert differences(row.event.state, own.event.state, ignore) == [], own.raw


def sets_e(raw: bytes, *, first: bool = False) -> bool:
    """Whether a line, the first of its file or not, sets the E register: a G92 that names E, or no axis at all."""
    words = read_line(raw, first=first).words
    axes = {word.letter for word in words} & set("XYZE")
    is_g92 = any(word.letter == "G" and word.value == 92 for word in words)
    return is_g92 and ("E" in axes or not axes)


def inside(index: int, scales: Sequence[Intention]) -> bool:
    """Whether a line lies in a scaled stretch."""
    return any(isinstance(s, ScaleFlow) and s.first_line <= index < s.end_line for s in scales)


def ranges(lines: int) -> st.SearchStrategy[list[ScaleFlow]]:
    """One to three stretches, which may overlap or follow on one another."""
    one = st.builds(
        lambda first, length, factor: ScaleFlow(first, min(first + length, lines), factor),
        st.integers(0, lines - 1),
        st.integers(0, lines),
        st.sampled_from([0.5, 0.9, 1.0, 1.05, 1.333, 2.0]),
    )
    return st.lists(one, min_size=1, max_size=3)


def count_lines(program: bytes) -> int:
    """Lines of a program."""
    return program.count(b"\n") + (not program.endswith(b"\n"))


@given(draft=drafts(min_lines=6), data=st.data(), chunk_bytes=st.sampled_from([40, 333, 1 << 18]))
def test_clay_of_any_program(rewrite: Any, draft: Draft, data: st.DataObject, chunk_bytes: int) -> None:
    """In any program: E absolute, relative or changing, inches, G92, flow factors, arcs."""
    program = begun(draft.program, b"G1 X0 Y0 Z0 F1200")
    scales = data.draw(ranges(count_lines(program)))
    try:
        result = rewrite(program, scales, dialect=draft.dialect, chunk_bytes=chunk_bytes)
    except SourceError:
        assume(False)
    event(f"changed: {result.output != program}")
    check(result, scales)


@given(piece=piece_programs(), data=st.data())
def test_clay_and_feed_of_a_pot_with_blocks_in_it(rewrite: Any, piece: Piece, data: st.DataObject) -> None:
    """In any pot, together with scaled feeds and with pauses between moves and inside them."""
    lines = count_lines(piece.program)
    scales: list[Intention] = [*data.draw(ranges(lines))]
    if data.draw(st.booleans()):
        scales.append(ScaleFeed(0, lines, 0.5))
    at = st.integers(piece.layer_lines[0], lines - 1)
    spots = st.one_of(
        at.map(Spot), at.map(lambda line: Spot(line, 0.5)), st.sampled_from(piece.layer_lines).map(Spot)
    )
    pauses = st.builds(
        Pause, spots, st.just("refill"), st.just(""), st.just("Load"), prime_ml=st.sampled_from([0.0, 7.7])
    )
    wishes = [
        *scales,
        *data.draw(st.lists(st.one_of(pauses, st.builds(Say, spots, st.just("half way"))), max_size=4)),
    ]
    result = rewrite(piece.program, wishes, dialect=piece.dialect)
    check(result, scales, feed=False)
    for block in result.apart.blocks:
        lead = block.events[0].kind == "move"
        is_reset = len(block.lines) == 1 and b"G92" in block.lines[0]
        if not is_reset:
            before = block.events[0].state if lead else block.before
            assert differences(block.after, before) == []


@given(piece=piece_programs(), factor=st.sampled_from([0.5, 0.93, 1.07]))
def test_the_plan_counts_the_clay_that_is_written(rewrite: Any, piece: Piece, factor: float) -> None:
    """The plan's clay before each layer and in all is what the output meters."""
    starts = piece.layer_lines
    scale = ScaleFlow(starts[len(starts) // 2], count_lines(piece.program), factor)
    result = rewrite(
        piece.program,
        [scale, Pause(Spot(starts[-1]), "refill", "", "Load", prime_ml=5.0)],
        dialect=piece.dialect,
    )
    e_mm = total_e([row.event for row in result.apart.rows])
    assert result.plan.total_ml == pytest.approx(e_mm * ML_PER_MM + 5.0, abs=1e-6, rel=1e-7)
    layers = result.survey.layers
    for first in layers["first_line"].tolist():
        rows = result.apart.rows[:first]
        metered = sum(row.event.e_metered_mm for row in rows) * ML_PER_MM
        added = 5.0 if first > starts[-1] else 0.0
        assert result.plan.clay_before(Spot(first)) == pytest.approx(metered + added, abs=1e-6, rel=1e-7)


def ring(radius_mm: float, z_mm: float) -> list[str]:
    """A ring of 24 sides round X0 Y0, 2 of E each."""
    angles = [2 * math.pi * side / 24 for side in range(25)]
    places = [(radius_mm * math.cos(angle), radius_mm * math.sin(angle)) for angle in angles]
    (x, y), *others = places
    return [f"G0 X{x:.3f} Y{y:.3f} Z{z_mm}", *(f"G1 X{x:.3f} Y{y:.3f} E2" for x, y in others)]


@pytest.mark.parametrize("first", [0, 4, 60, 90])
@pytest.mark.parametrize("end", [45, 120, 999])
def test_what_is_laid_beside_the_piece_is_counted_too(rewrite: Any, first: int, end: int) -> None:
    """A skirt, a line beside the first layer and one after the last are none of a layer, and yet are scaled."""
    lines = ["G28", "M83", "G1 Z2 F3000", *ring(60, 2)]
    lines += [*ring(30, 2), "G0 X-130 Y100", "G1 X-130 Y125 E30"]
    for layer in range(2, 5):
        lines += [*ring(30, 2 * layer), "G1 E-1", "G1 E1"]
    lines += ["G0 X-130 Y100 Z8.6", "G1 X-130 Y125 Z8.6 E40", ""]
    program = "\n".join(lines).encode()
    end = min(end, len(lines) - 1)
    result = rewrite(program, [ScaleFlow(min(first, end - 1), end, 1.1)])
    rows = result.apart.rows
    edges = [*result.survey.layers["first_line"].tolist(), min(first, end - 1), end, result.survey.lines]
    for line in edges:
        metered = sum(row.event.e_metered_mm for row in rows[:line]) * ML_PER_MM
        assert result.plan.clay_before(Spot(line)) == pytest.approx(metered, abs=1e-6)
    assert result.plan.total_ml == pytest.approx(total_e([row.event for row in rows]) * ML_PER_MM, abs=1e-6)


def test_absolute_words_carry_what_was_added_and_the_register_is_set_back(rewrite: Any) -> None:
    """Every E word of the stretch counts on from the scaled ones; a G92 at its end spares the later lines."""
    result = rewrite(POT, [ScaleFlow(2, 8, 1.1)])
    assert [row.raw for row in result.apart.rows][2:] == [
        b"G1 X90 E5.5",
        b"G1 Y90 E11",
        b"G1 E9",
        b"G0 X50",
        b"G1 E11",
        b"G1 Y50 E16.5",
        b"G1 X60 E16",
    ]
    (block,) = result.apart.blocks
    assert block.lines == (b"G92 E15",)
    assert block.next_row == 8
    assert dict(result.written.edited) == {0: 3}


def test_relative_words_take_their_own_share(rewrite: Any) -> None:
    """With M83 only the words that lay clay change; rounding is carried, so that the sum stays right."""
    program = b"G28\nM83\nG1 X50 Y50 Z2 F3000\n" + b"G1 X90 E0.00001\nG1 X50 E0.00001\n" * 10 + b"G1 E-1\n"
    result = rewrite(program, [ScaleFlow(0, 99, 1.25)])
    assert sum(row.event.e_delta_mm for row in result.apart.rows[:-1]) == pytest.approx(25e-5, abs=0.5e-5)
    assert result.apart.rows[-1].raw == b"G1 E-1"


def test_a_source_that_sets_its_register_needs_no_other_word(rewrite: Any) -> None:
    """Where the source itself says G92 E at the end of the stretch, nothing is inserted."""
    program = POT + b"G92 E0\nG1 X70 E1\n"
    result = rewrite(program, [ScaleFlow(2, 9, 1.1)])
    assert result.apart.blocks == ()
    assert result.apart.rows[-1].raw == b"G1 X70 E1"


def test_stretches_that_follow_on_need_one_setting_back(rewrite: Any) -> None:
    """Between two scaled stretches the register runs on; only the last one's end sets it back."""
    result = rewrite(POT, [ScaleFlow(2, 4, 1.1), ScaleFlow(4, 8, 1.2)])
    assert [block.lines for block in result.apart.blocks] == [(b"G92 E15",)]
    assert result.apart.rows[7].raw == b"G1 Y50 E17"
