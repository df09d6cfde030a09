"""Which E words change where clay is scaled, and where the register then is."""

from __future__ import annotations

import pytest

from gpost.config.model import Filament, Machine
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.plan.intentions import ScaleFlow
from gpost.read.block import PAD
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits
from gpost.write.flows import FlowScaler

METERING = Filament(unit="filament", diameter_mm=1.75)


class Job:
    """Blocks that go through one scaler, one after the other."""

    def __init__(self, *scales: ScaleFlow) -> None:
        self.scaler = FlowScaler(list(enumerate(scales)))
        self.state, self.line = MachineState(known=(True, True, True), feed_mm_min=900.0), 0
        self.edited: dict[int, int] = {}

    def block(self, *lines: str) -> list[str]:
        """The lines as they are written."""
        block = read_block(Chunk("\n".join([*lines, ""]).encode(), 0, self.line))
        follower = Follower(block, self.state, Machine(), METERING)
        edits = Edits(block)
        self.column = self.scaler.edit(follower, edits, self.edited)
        self.state, self.line = follower.end, self.line + len(lines)
        return edits.parts([PAD, len(block.bytes) - PAD])[0].decode().splitlines()


def test_absolute_words_gain_all_that_was_added_so_far() -> None:
    """Also those that lay nothing, so that the nozzle draws back by what it did; after the stretch it is set back."""
    job = Job(ScaleFlow(1, 4, 1.5))
    assert job.block("G1 X1 E1", "X2 E2", "X3 E4", "E3.5", "X4 E5") == [
        "G1 X1 E1",
        "X2 E2.5",
        "X3 E5.5",
        "E5",
        "X4 E5",
    ]
    assert job.column.resets == {4: 0}
    assert [job.column.ahead_mm.before(line) for line in range(6)] == pytest.approx([0, 0, 0.5, 1.5, 0, 0])
    assert job.edited == {0: 2}
    assert job.scaler.ahead_mm == 0


def test_relative_words_gain_their_own_share() -> None:
    """Nothing is left to be set back in what follows but the register."""
    job = Job(ScaleFlow(2, 4, 0.5))
    assert job.block("M83", "G1 X1 E1", "X2 E0.4", "E-1", "X3 E1") == ["M83", "G1 X1 E1", "X2 E0.2", "E-1", "X3 E1"]
    assert job.edited == {0: 1}


def test_a_push_of_less_than_a_millimetre_is_scaled() -> None:
    """Any clay that is laid counts, and a move that draws back while it travels does not."""
    job = Job(ScaleFlow(0, 9, 2.0))
    assert job.block("M83", "G1 X1 E0.25", "X2 E-0.25", "X3 E0", "X4") == ["M83", "G1 X1 E0.5", "X2 E-0.25", "X3 E0", "X4"]


def test_a_mode_that_changes_in_the_stretch() -> None:
    """Absolute words count from what the relative ones have said, and the other way round."""
    job = Job(ScaleFlow(0, 99, 2.0))
    lines = ["G1 X1 E1", "M83", "X2 E1", "X3 E1", "M82", "X4 E4"]
    assert job.block(*lines) == ["G1 X1 E2", "M83", "X2 E2", "X3 E2", "M82", "X4 E8"]
    assert job.scaler.ahead_mm == pytest.approx(4)
    assert job.block("X5 E5", "M83", "X6 E1") == ["X5 E10", "M83", "X6 E2"]


def test_a_unit_that_changes_in_the_stretch() -> None:
    """What is ahead is a length: an inch is 25.4 mm, and gets one decimal more (NIST RS274/NGC, section 3.5.7)."""
    job = Job(ScaleFlow(0, 99, 2.0))
    assert job.block("G1 X1 E25.4", "G20", "X0.1 E2", "G21", "X9 E76.2") == [
        "G1 X1 E50.8",
        "G20",
        "X0.1 E4",
        "G21",
        "X9 E152.4",
    ]
    job = Job(ScaleFlow(0, 99, 1.5))
    assert job.block("M83", "G20", "G1 X1 E0.0001", "G21", "X30 E0.001") == [
        "M83",
        "G20",
        "G1 X1 E0.00015",
        "G21",
        "X30 E0.0015",
    ]


def test_where_the_source_sets_the_register_nothing_is_ahead() -> None:
    """It need not be set back there, and the sum begins anew."""
    job = Job(ScaleFlow(0, 2, 2.0))
    assert job.block("G1 X1 E1", "X2 E2", "G92 E0", "X3 E1") == ["G1 X1 E2", "X2 E4", "G92 E0", "X3 E1"]
    assert (job.column.resets, job.scaler.ahead_mm) == ({}, 0)
    job = Job(ScaleFlow(0, 99, 2.0))
    assert job.block("G1 X1 E1", "G92 E0", "X3 E1") == ["G1 X1 E2", "G92 E0", "X3 E2"]
    assert job.scaler.ahead_mm == pytest.approx(1)


def test_over_the_border_of_a_block() -> None:
    """The register stays ahead; where the stretch ends with the block, the next one sets it back."""
    job = Job(ScaleFlow(0, 2, 2.0))
    assert job.scaler.touches(0, 1)
    assert job.block("G1 X1 E1", "X2 E2") == ["G1 X1 E2", "X2 E4"]
    assert (job.column.resets, job.scaler.ahead_mm) == ({}, pytest.approx(2))
    assert job.scaler.touches(2, 3)
    assert not job.scaler.wants(2, 3)
    assert job.block("X3 E3") == ["X3 E3"]
    assert job.column.resets == {0: 0}
    assert job.column.ahead_mm.before(0) == 0
    assert not job.scaler.touches(3, 4)


def test_stretches_that_follow_one_another_are_set_back_once() -> None:
    """Where one ends and another begins, or goes on, nothing is set back; each counts its own lines."""
    job = Job(ScaleFlow(0, 2, 2.0), ScaleFlow(2, 3, 3.0), ScaleFlow(1, 2, 1.0))
    assert job.block("G1 X1 E1", "X2 E2", "X3 E3", "X4 E4") == ["G1 X1 E2", "X2 E4", "X3 E7", "X4 E4"]
    assert job.column.resets == {3: 1}


def test_sums_are_rounded_and_not_what_is_added() -> None:
    """A third of a last place is never lost, nor added up."""
    job = Job(ScaleFlow(0, 99, 4 / 3))
    lines = job.block("M83", *(f"G1 X{x} E0.00001" for x in range(1, 7)))
    said = [float(line.split("E")[1]) for line in lines[1:]]
    assert sum(said) == pytest.approx(6e-5 * 4 / 3, abs=5e-6)
    assert set(said) == {1e-5, 2e-5}
