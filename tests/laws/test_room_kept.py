"""Law: nothing inserted crosses the piece under its top, leaves the bed, or passes zero or the ceiling."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.errors import PlanError
from gpost.plan.intentions import LayClay, Pause, Shift, Stroke
from gpost.spot import Spot
from tests.reference.outputs import Block, Row, split_lines
from tests.reference.programs import Piece, piece_programs
from tests.reference.state import Event

BED_MM = 280.0
CEILING_MM = 300.0
HALF_BEAD_MM = 3.0
CLEAR_MM = 2.0
ROUNDING_MM = 0.0013
"""Half a last place of a word in inches, 4 decimals."""
BED = {"x_min_mm": 0, "x_max_mm": BED_MM, "y_min_mm": 0, "y_max_mm": BED_MM}
MACHINE: dict[str, Any] = {
    "bed": BED,
    "ceiling_mm": CEILING_MM,
    "park": {"x_mm": 20, "y_mm": 25},
    "nozzle_mm": 4,
}
STACK = tuple(
    Stroke(ends, 8.0, 4.0, 4.0 * level, 2.0)
    for level in range(1, 6)
    for ends in [((20.0, 100.0), (20.0, 200.0)), ((30.0, 200.0), (30.0, 100.0))]
)
Box = tuple[tuple[float, float], tuple[float, float]]


def laid_box(rows: Sequence[Row]) -> Box | None:
    """The box around all clay that the piece has so far, half a bead included; None before the first."""
    moves = [row.event for row in rows if row.event.lays_clay]
    places = [place for event in moves for place in (event.start_mm, event.end_mm)]
    if not places:
        return None
    x, y = ([place[axis] for place in places] for axis in (0, 1))
    return (min(x) - HALF_BEAD_MM, max(x) + HALF_BEAD_MM), (min(y) - HALF_BEAD_MM, max(y) + HALF_BEAD_MM)


def meets(event: Event, box: Box) -> bool:
    """Whether any of a hundred places on the way of a straight move lies over the box."""
    for share in range(101):
        place = [a + (b - a) * share / 100 for a, b in zip(event.start_mm, event.end_mm, strict=True)]
        if all(low < place[axis] < high for axis, (low, high) in enumerate(box)):
            return True
    return False


def check(block: Block, rows: Sequence[Row]) -> None:
    """All moves of one inserted block keep to the room there is."""
    box = laid_box(rows)
    top_mm = max(
        (max(r.event.start_mm[2], r.event.end_mm[2]) for r in rows if r.event.lays_clay), default=0.0
    )
    # a first line that moves is a part of the source's own move
    lead = int(block.events[0].kind == "move")
    start = block.events[lead].start_mm
    for line, event in zip(block.lines[lead:], block.events[lead:], strict=True):
        x, y, z = event.end_mm
        if event.kind == "move":
            assert -ROUNDING_MM <= x <= BED_MM + ROUNDING_MM
            assert -ROUNDING_MM <= y <= BED_MM + ROUNDING_MM
            assert 0 <= z <= CEILING_MM + ROUNDING_MM
            upright = event.start_mm[:2] == event.end_mm[:2]
            if not upright and box is not None and meets(event, box):
                assert min(event.start_mm[2], z) >= top_mm + CLEAR_MM - ROUNDING_MM, line
            if upright and event.start_mm[:2] == pytest.approx(start[:2]):
                assert z >= start[2] - 1e-9, line
        if line.endswith(b"M0") or b"M0*" in line:
            assert box is None or not meets(event, box)


def inserted(piece: Piece, result: Any) -> None:
    """Check every block against the clay that lies there before it."""
    for block in result.apart.blocks:
        check(block, result.before.rows[: block.next_row + 1])


def attempt(rewrite: Any, piece: Piece, pause: Pause, machine: dict[str, Any], refusal: str) -> Any:
    """The rewriting, or None if it is refused with these words."""
    try:
        return rewrite(piece.program, [pause], dialect=piece.dialect, config={"machine": machine})
    except PlanError as error:
        if refusal not in str(error):
            raise
        return None


@given(piece=piece_programs(), data=st.data(), lift_mm=st.sampled_from([0.0, 3.0, 25.0]))
def test_pauses_and_beads_keep_to_the_room(
    rewrite: Any, piece: Piece, data: st.DataObject, lift_mm: float
) -> None:
    """Pauses with primes, and stacks of beads that may be higher than the piece, at any place in a pot."""
    lines = len(split_lines(piece.program))
    at = st.integers(piece.layer_lines[0], lines - 1)
    spots = st.one_of(
        st.sampled_from(piece.layer_lines).map(Spot), st.builds(Spot, at, st.sampled_from([0.0, 0.5]))
    )
    beads = st.builds(LayClay, spots, st.integers(1, len(STACK)).map(lambda n: STACK[:n]), st.just(900.0))
    pauses = st.builds(
        Pause,
        spots,
        st.just("swap"),
        st.just("why"),
        st.just("Load"),
        prime_ml=st.sampled_from([0.0, 8.0]),
        lay=st.one_of(st.none(), beads),
        hold_again=st.booleans(),
    )
    wishes = data.draw(st.lists(st.one_of(pauses, beads), min_size=1, max_size=3))
    machine = {**MACHINE, "pause": {"lift_mm": lift_mm}}
    result = rewrite(piece.program, wishes, dialect=piece.dialect, config={"machine": machine})
    assert result.apart.errors == ()
    inserted(piece, result)


@given(
    piece=piece_programs(), data=st.data(), x=st.floats(0, 280), y=st.floats(0, 280), round_bed=st.booleans()
)
def test_a_park_over_the_piece_or_off_the_bed_is_refused(
    rewrite: Any, piece: Piece, data: st.DataObject, x: float, y: float, round_bed: bool
) -> None:
    """Wherever the park is: the nozzle waits there, clear of the piece and on the bed, or it is refused."""
    pause = Pause(Spot(data.draw(st.sampled_from(piece.layer_lines))), "swap", "why", "Load", prime_ml=3.0)
    machine = {**MACHINE, "bed": {**BED, "round": round_bed}, "park": {"x_mm": x, "y_mm": y}}
    on_bed = not round_bed or (x / 140 - 1) ** 2 + (y / 140 - 1) ** 2 <= 1
    result = attempt(rewrite, piece, pause, machine, "the park (x")
    if result is None:
        return
    assert on_bed
    box = laid_box(result.before.rows)
    (block,) = result.apart.blocks
    waits = [event for event in block.events if event.state.paused > block.before.paused]
    assert waits
    assert box is not None
    assert not meets(waits[0], box)
    assert waits[0].end_mm[:2] == pytest.approx((x, y), abs=0.01)


@given(piece=piece_programs(), ceiling_mm=st.floats(1, 60))
def test_a_low_ceiling_is_kept_or_refused(rewrite: Any, piece: Piece, ceiling_mm: float) -> None:
    """Under a low ceiling the lift is less, down to 2 mm over the top; with less than that it is refused."""
    assume(piece.dialect.home_mm[2] == 0)
    pause = Pause(Spot(piece.layer_lines[-1]), "swap", "why", "Load")
    machine = {**MACHINE, "ceiling_mm": ceiling_mm}
    result = attempt(rewrite, piece, pause, machine, "the ceiling is")
    if result is None:
        # the source's own hop may be 6 mm higher than the piece
        assert ceiling_mm < max(piece.layer_heights_mm) + 6 + CLEAR_MM + ROUNDING_MM
        return
    (block,) = result.apart.blocks
    assert max(event.end_mm[2] for event in block.events) <= ceiling_mm + ROUNDING_MM


@pytest.mark.parametrize(
    ("points", "z_mm", "said"),
    [
        (((20.0, 20.0), (300.0, 20.0)), 4.0, "would leave the bed"),
        (((20.0, 20.0), (20.0, 60.0)), -1.0, "under the bed's zero"),
        (((20.0, 140.0), (260.0, 140.0)), 4.0, "would run into the piece"),
        (((140.0, 140.0), (140.0, 150.0)), 4.0, "would run into the piece"),
    ],
)
def test_beads_in_the_wrong_place_are_refused(rewrite: Any, points: Any, z_mm: float, said: str) -> None:
    """A bead off the bed, under its zero, or through the piece is refused with the reason."""
    program = b"G28\nG1 X90 Y90 Z2 F1500\nG1 X190 E5\nG1 Y190 E10\nG1 X90 E15\nG1 Y90 E20\n"
    lay = LayClay(Spot(2), (Stroke(points, 8.0, 4.0, z_mm, 2.0),), 900.0, why="purge")
    with pytest.raises(PlanError, match=said):
        rewrite(program, [lay], config={"machine": MACHINE})


@pytest.mark.parametrize(("by_mm", "lifted"), [(0.0, b"G0 Z8 "), (30.0, b"G0 Z38 ")])
def test_a_pause_at_the_end_flies_over_the_piece_as_it_was_moved(
    rewrite: Any, by_mm: float, lifted: bytes
) -> None:
    """After the last line, with the nozzle lower than the piece: 2 mm over its top, where that has been raised to."""
    program = b"G28\nG90\nM83\nG0 X100 Y100 Z6 F900\nG1 X150 E30\nG1 Y150 E30\nG1 X100 E30\nG1 Y100 E30\nG0 X60\nG0 Z1\n"
    end = program.count(b"\n")
    pause = Pause(Spot(end), "look", "why", "Look")
    wishes = [Shift(0, end, (0.0, 0.0, by_mm)), pause]
    result = rewrite(program, wishes, config={"machine": {"pause": {"lift_mm": 0}}})
    (block,) = result.apart.blocks
    assert any(line.startswith(lifted) for line in block.lines), block.lines
