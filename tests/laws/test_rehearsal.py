"""Law: a rehearsal goes the whole path higher up, and pushes, heats, blows and waits for nothing."""

from __future__ import annotations

import re

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
    ScaleFeed,
    ScaleFlow,
    Stroke,
    Wait,
)
from gpost.spot import Spot
from gpost.survey.model import Survey
from tests.laws.conftest import Rewrite, Rewritten
from tests.reference.outputs import NOT_KEPT, SILENCED
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.walls import CASES, named

UP_MM = 25.0
CHANGED_MM = 2e-3
"""The last digit of a word in inches."""
IDLE_CODE = re.compile(
    rb"^(?:N\s*\d+\s*)?(?:G\s*0*4|G\s*0*1[01]|M\s*0*(?:0|1|25|226|600|104|109|140|141|190|191|106|107|101|102|103))(?![\d.])",
    re.IGNORECASE,
)
"""What heats, blows, waits or pushes by a code of its own, as a line begins with it."""
NOT_GIVEN_BACK = NOT_KEPT | {"fan"}


def everything(survey: Survey) -> list[Intention]:
    """One of each thing that pushes, waits, blows, or is said."""
    start, middle = survey.start_of(0), survey.start_of(len(survey.layers) // 2)
    lay = LayClay(start, (Stroke(((-120.0, -100.0), (-120.0, 100.0)), 8.0, 3.0, 3.0, 4.0),), 900.0)
    pause = Pause(middle, "swap", "another clay", "Load blue", prime_ml=3.0, lay=lay, hold_again=True)
    fed = ScaleFeed(middle.line, survey.lines, 0.5)
    more = ScaleFlow(start.line, middle.line, 1.2)
    calls = [Air(start, 0.4), AirInPause(True), Wait(middle, 5.0), Say(middle, "Wet the slab")]
    return [lay, pause, fed, more, *calls, Command(start, ("M300 S400",), "a beep")]


def check(done: Rewritten) -> None:
    """Nothing is pushed or waited for; every move goes where it went, in X and Y, and so much higher."""
    after, before = done.apart, done.before
    assert not after.errors
    for event in [row.event for row in after.rows] + [e for block in after.blocks for e in block.events]:
        assert event.e_delta_mm == 0 or event.kind != "move"
        assert event.dwell_s == 0
    lifted = False
    for row, own in zip(after.rows, before.rows, strict=True):
        if row.raw.startswith(SILENCED):
            continue
        assert not IDLE_CODE.match(row.raw.strip()), row.raw
        x, y, z = (float(mm) for mm in row.event.end_mm)
        own_x, own_y, own_z = (float(mm) for mm in own.event.end_mm)
        if own.event.kind == "home":
            lifted = lifted and z != own_z
        if own.event.kind != "move":
            continue
        assert (x, y) == pytest.approx((own_x, own_y), abs=CHANGED_MM)
        lifted = lifted or abs(z - own_z) > CHANGED_MM
        assert z - own_z == pytest.approx(UP_MM if lifted else 0.0, abs=CHANGED_MM)
        if own.event.lays_clay:
            assert z - own_z == pytest.approx(UP_MM, abs=CHANGED_MM)
    for block in after.blocks:
        assert not block.before.differences(block.after, tolerance_mm=1e-6, ignore=NOT_GIVEN_BACK)
        assert not [line for line in block.lines if IDLE_CODE.match(line.strip())]


@given(piece=piece_programs())
def test_a_pot_is_rehearsed(rewrite: Rewrite, piece: Piece) -> None:
    """Pots of every dialect, with something of everything inserted."""
    check(rewrite(piece.program, everything, dialect=piece.dialect, rehearse_mm=UP_MM))


@pytest.mark.parametrize("writing", ["usual", "increments", "inch", "careless"])
@pytest.mark.parametrize("case", [*CASES][::11])
def test_a_wall_is_rehearsed(rewrite: Rewrite, case: str, writing: str) -> None:
    """Walls as people's own scripts write them."""
    wall = named(case, writing)
    config = {"clay": {"metering": wall.metering}, "machine": {"park": {"x_mm": -700, "y_mm": -700}}}
    config["machine"]["bed"] = {"x_min_mm": -900, "x_max_mm": 900, "y_min_mm": -900, "y_max_mm": 900}
    check(rewrite(wall.program, (), config=config, rehearse_mm=UP_MM))


HEAD = b"G28\nG0 Z30 F900\nG1 X10 E1\n"
"""So that most programs know where they are before they lay clay, and all lay some."""


@given(draft=drafts(plain=True, several_codes=False, min_lines=12), chunk_bytes=st.integers(1, 400))
def test_nothing_moves_e_in_any_program(rewrite: Rewrite, draft: Draft, chunk_bytes: int) -> None:
    """Whatever a program does with E, and wherever it is cut; or the rehearsal is refused with its line."""
    try:
        program, dialect = HEAD + draft.program, draft.dialect
        done = rewrite(program, (), dialect=dialect, chunk_bytes=chunk_bytes, rehearse_mm=UP_MM)
    except (PlanError, SourceError):
        assume(False)
    for row in done.apart.rows:
        assert row.event.e_delta_mm == 0 or row.event.kind != "move"
        assert row.event.dwell_s == 0


@given(piece=piece_programs(), chunk_bytes=st.integers(1, 4000))
def test_cuts_can_t_be_seen(rewrite: Rewrite, piece: Piece, chunk_bytes: int) -> None:
    """The rehearsal is the same wherever the file is cut into blocks."""
    whole, cut = (
        rewrite(piece.program, everything, dialect=piece.dialect, rehearse_mm=UP_MM, chunk_bytes=size)
        for size in (1 << 20, chunk_bytes)
    )
    assert whole.output == cut.output


def test_nobody_is_told_to_do_anything(rewrite: Rewrite) -> None:
    """The machine goes on at once, so no words may have somebody reach in; it says that it is a rehearsal."""
    done = rewrite(named(next(iter(CASES))).program, everything, rehearse_mm=UP_MM)
    said = re.findall(rb"^M117 (.*)$", done.output, re.MULTILINE)
    assert said == [b"Rehearsal 25 mm up, no clay", b"Rehearsal, it does not wait here"]


def test_a_place_inside_a_move_is_rehearsed_too(rewrite: Rewrite) -> None:
    """The parts of a split move push nothing."""
    program = named(next(iter(CASES))).program

    def inside(survey: Survey) -> list[Intention]:
        return [Pause(Spot(int(survey.laid_path(0, survey.lines)[0][5]), 0.5), "swap", "", "", prime_ml=2.0)]

    done = rewrite(program, inside, rehearse_mm=UP_MM)
    moves = [e for block in done.apart.blocks for e in block.events] + [row.event for row in done.apart.rows]
    assert all(event.e_delta_mm == 0 for event in moves if event.kind == "move")
