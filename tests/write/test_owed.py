"""What is owed after an inserted block is settled by the right line, also in a later block."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from gpost.config.model import Filament, Machine
from gpost.errors import PlanError
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits
from gpost.write.owed import Owed
from gpost.write.script import Script

STATE = MachineState(register=(50.0, 50.0, 5.0, 0.0), known=(True, True, True), feed_mm_min=1500.0, motion=3)
BACK = {
    "travel_feed_mm_min": 3000.0,
    "lift_feed_mm_min": 600.0,
    "way_feed_mm_min": 1500.0,
    "flow_ml_min": 20.0,
}


def moved(state: MachineState) -> Script:
    """A block that went somewhere and came back."""
    script = Script(state, ml_per_mm=0.002)
    script.fly(z=15.0, feed_mm_min=600)
    script.go_back(safe_z_mm=15, **BACK)
    script.restore()
    return script


def settle(debts: Owed, text: str, *, from_line: int = 0, first_line: int = 0) -> dict[int, str]:
    """The words put before lines of a block."""
    data = text.encode()
    block = read_block(Chunk(data, 0, first_line))
    edits = Edits(block)
    follower = Follower(block, STATE, Machine(), Filament(unit="filament", diameter_mm=1.75))
    debts.settle(follower, edits, from_line)
    return edits.before


def test_the_next_modal_arc_gets_its_code() -> None:
    """The first move that relies on the arc's mode says it; later ones rely on that."""
    debts = Owed()
    debts.owe(moved(STATE), 7)
    assert settle(debts, "X60 Y50 I5\nX50 Y50 I-5\n") == {0: "G3"}
    assert not debts.open


def test_a_move_that_says_its_code_settles_the_debt() -> None:
    """Nothing is added where the source says a motion code of its own first."""
    debts = Owed()
    debts.owe(moved(STATE), 7)
    assert settle(debts, "G1 X60\nX50 Y50 I-5\n") == {}
    assert not debts.open


def test_lines_before_the_insertion_do_not_count() -> None:
    """Only moves from the insertion on are looked at."""
    debts = Owed()
    debts.owe(moved(STATE), 1)
    assert settle(debts, "X60 Y50 I5\nX50 Y50 I-5\n", from_line=1) == {1: "G3"}


def test_a_debt_is_carried_over_blocks() -> None:
    """Blocks without moves leave it open."""
    debts = Owed()
    debts.owe(moved(STATE), 7)
    assert settle(debts, "; nothing\nM105\n") == {}
    assert debts.open
    assert settle(debts, "X60 Y50 I5\n") == {0: "G3"}


def test_a_straight_mode_owes_nothing() -> None:
    """G0 and G1 are given back by the block itself."""
    debts = Owed()
    debts.owe(moved(replace(STATE, motion=1)), 7)
    assert not debts.open


def test_a_move_without_any_feed_before_it_is_refused() -> None:
    """The machine's own feed can't be given back: the sentence names both lines."""
    debts = Owed()
    debts.owe(moved(replace(STATE, motion=1, feed_mm_min=math.nan)), 7)
    with pytest.raises(PlanError, match=r"at line 8, but .* the move on line 11 relies .* add a feed"):
        settle(debts, "M105\nG1 X60\n", first_line=9)


@pytest.mark.parametrize("text", ["G1 X60 F900\n", "F900\nG1 X60\n", "G1 F900\nX60\n"])
def test_a_move_with_a_feed_of_its_own_settles_it(text: str) -> None:
    """Where the source says its first F by the next move, nothing is owed any more."""
    debts = Owed()
    debts.owe(moved(replace(STATE, motion=1, feed_mm_min=math.nan)), 7)
    settle(debts, text)
    assert not debts.open
