"""Law: an auger that the file switches stands still in every inserted block, but for clay that the block pushes.

M3 turns the spindle at S until M5, and an S counts without them (NISTIR 6556, sections 3.6.2 and 3.7.2); that an auger
is driven so is common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gpost.plan.intentions import Ask, Intention, LayClay, Pause, Wait
from gpost.spot import Spot
from tests.laws.test_state_restored import BEADS, check, clay_mm, seen
from tests.reference.interpreter import run
from tests.reference.outputs import Block, total_e
from tests.reference.state import Event

AUGER = {"machine": {"auger": {"on": "M3 S<level>", "off": "M5"}}}
START = ["G28", "M83", "M5 S90", "G1 X50 Y50 Z2 F1500", "M3 S600", "G1 X60 E1"]
BEAD_LINES = ("G1 X90 E5", "G1 X50 E5", "Y70 E2", "G1 X60 S450 E1", "G0 X80")
SWITCHES = ("M3 S600", "M3 S250.5", "M3", "M5", "S300", "m3s77", "M3 S0", "M5 S40", "G1 X55 E1 M3 S80", "M5 G0 X70")
WISHES: tuple[Any, ...] = (
    lambda spot: Pause(spot, "look", "to look", "Look", prime_ml=3.3),
    lambda spot: Pause(spot, "look", "to look", "Look", lay=LayClay(spot, BEADS, 300.0)),
    lambda spot: LayClay(spot, BEADS, 1234.5),
    lambda spot: Wait(spot, 1.5),
    lambda spot: Ask(spot, "Look", "to look"),
)


def still(event: Event, block: Block) -> bool:
    """Whether the machine waits, stands still or flies by a line."""
    line = block.lines[event.line - block.events[0].line]
    return line == b"M0" or event.kind == "dwell" or (event.kind == "move" and event.motion == 0)


@given(
    lines=st.lists(st.sampled_from(BEAD_LINES + SWITCHES), min_size=1, max_size=12),
    wishes=st.lists(
        st.tuples(st.integers(0, 20), st.sampled_from([0.0, 0.4]), st.sampled_from(WISHES)), min_size=1, max_size=3
    ),
    chunk_bytes=st.sampled_from([20, 90, 1 << 18]),
)
@example(lines=["M5", "S300", "M3", "G1 X90 E5"], wishes=[(2, 0.0, WISHES[0])], chunk_bytes=1 << 18)
@example(lines=["M3 S0", "S300", "G1 X90 E5"], wishes=[(2, 0.0, WISHES[2])], chunk_bytes=20)
def test_off_in_blocks_and_as_it_was_behind_them(
    rewrite: Any, lines: list[str], wishes: list[tuple[int, float, Any]], chunk_bytes: int
) -> None:
    """The machine is given back with spindle and speed as they were; E that is asked for comes while it turns."""
    program = "\n".join([*START, *lines, "G1 X50 E1", "M5", ""]).encode()
    asked: list[Intention] = [
        wish(Spot(len(START) + min(at, len(lines)), fraction)) for at, fraction, wish in wishes
    ]
    result = rewrite(program, asked, config=AUGER, chunk_bytes=chunk_bytes)
    check(result)
    for one in seen(result):
        block = one.block
        assert not any(event.state.spindle_on for event in block.events[one.lead :] if still(event, block))
        turning = [event for event in block.events[one.lead :] if event.kind == "move" and event.state.spindle_on]
        # what is drawn back comes and goes while it is off, be it over the wall or beside it
        assert total_e(turning) == pytest.approx(clay_mm(one.wish), rel=1e-3)
        assert all(event.state.speed == one.before.speed for event in turning)


@pytest.mark.parametrize("line", range(2, 6))
def test_where_the_file_has_not_begun_its_first_number_counts(rewrite: Any, line: int) -> None:
    """Beads before the first M3 are laid as fast as that says."""
    program = b"G28\nM83\nM5\nG1 X50 Y50 Z2 F1500\nG1 X52\nM3 S600\nG1 X90 E5\nG1 X50 E5\nM5\n"
    (block,) = rewrite(program, [LayClay(Spot(line), BEADS, 300.0)], config=AUGER).apart.blocks
    turning = [event for event in block.events if event.state.spindle_on]
    assert {event.state.speed for event in turning} == {600}
    assert not block.events[-1].state.spindle_on


@pytest.mark.parametrize(
    ("starts", "stops"),
    [("M3 S600\nG1 X50 Y50 Z2 F1500", "M5"), ("G1 X50 Y50 Z2 F1500 M3 S600", "M5 G0 Z9"), ("M3 G1 X50 Y50 Z2 F900", "M5 G0 Z9")],
)
def test_a_rehearsal_never_starts_it(rewrite: Any, starts: str, stops: str) -> None:
    """What pushes clay is a comment, or taken out of a move that stays; no block writes it."""
    program = f"G28\nM83\n{starts}\nG1 X90 E5\nG1 X50 E5\n{stops}\n".encode()
    wishes = [Pause(Spot(5), "look", "to look", "Look", prime_ml=3.0), LayClay(Spot(5), BEADS, 300.0)]
    output = rewrite(program, wishes, config=AUGER, rehearse_mm=20.0).output
    assert not any(event.state.spindle_on for event in run(output))
    ends = {event.end_mm[:2] for event in run(output) if event.kind == "move"}
    assert {event.end_mm[:2] for event in run(program) if event.kind == "move"} <= ends


def test_without_the_key_nothing_of_it_is_sent(rewrite: Any) -> None:
    """M3 may be anything."""
    program = b"G28\nM83\nM3 S600\nG1 X50 Y50 Z2 F1500\nG1 X90 E5\nG1 X50 E5\nM5\n"
    (block,) = rewrite(program, [Pause(Spot(5), "look", "to look", "Look")]).apart.blocks
    assert all(event.state.spindle_on for event in block.events)
