"""Which F words change, block by block, and which F is then in force."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from gpost.config.model import Filament, Machine
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.plan.intentions import ScaleFeed
from gpost.read.block import PAD
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits
from gpost.write.feeds import FeedScaler

METERING = Filament(unit="filament", diameter_mm=1.75)


class Job:
    """Blocks that go through one scaler, one after the other."""

    def __init__(self, scales: Sequence[ScaleFeed], state: MachineState | None = None) -> None:
        self.scaler = FeedScaler(list(enumerate(scales)))
        self.state = state or MachineState(known=(True, True, True), e_relative=True)
        self.line = 0
        self.edited: dict[int, int] = {}

    def block(self, *lines: str) -> list[str]:
        """The lines as they are written."""
        text = "\n".join([*lines, ""]).encode()
        block = read_block(Chunk(text, 0, self.line))
        follower = Follower(block, self.state, Machine(), METERING)
        edits = Edits(block)
        if self.scaler.touches(self.line, self.line + len(lines)):
            self.column = self.scaler.edit(block, follower, edits, self.edited)
        self.state, self.line = follower.end, self.line + len(lines)
        return edits.parts([PAD, len(block.bytes) - PAD])[0].decode().splitlines()


def test_words_change_where_clay_is_laid_and_are_counted() -> None:
    """A number is replaced on laying moves in the range; travel and what lies outside keep theirs."""
    job = Job([ScaleFeed(1, 3, 0.5)])
    assert job.block("G1 X5 E1 F1000", "G1 X6 E1 F1200", "G0 X9 F6000", "G1 X7 E1 F1200") == [
        "G1 X5 E1 F1000",
        "G1 X6 E1 F600",
        "G0 X9 F6000",
        "G1 X7 E1 F1200",
    ]
    assert job.edited == {0: 1}


def test_a_word_is_added_where_the_feed_in_force_is_another() -> None:
    """Modal feeds are said again where laying and travel meet, and where the range ends."""
    job = Job([ScaleFeed(1, 4, 0.5)])
    assert job.block("G1 X5 E1 F1000", "X6 E1", "X7 E1", "X8", "X9 E1") == [
        "G1 X5 E1 F1000",
        "X6 E1 F500",
        "X7 E1",
        "X8 F1000",
        "X9 E1",
    ]


def test_a_feed_alone_on_a_line_stays_and_is_taken_over() -> None:
    """A line of F alone is left; the next laying move says its scaled feed."""
    job = Job([ScaleFeed(0, 9, 0.5)])
    assert job.block("G1 F1000", "X6 E1", "F2000", "X7 E1", "X8 E1") == [
        "G1 F1000",
        "X6 E1 F500",
        "F2000",
        "X7 E1 F1000",
        "X8 E1",
    ]


def test_the_feed_in_force_is_carried_to_the_next_block() -> None:
    """A block behind the range is touched until the source's feed is back in force."""
    job = Job([ScaleFeed(0, 2, 0.5)])
    job.block("G1 X5 E1 F1000", "X6 E1")
    assert job.scaler.changed
    assert job.scaler.touches(2, 3)
    assert job.block("; nothing moves here") == ["; nothing moves here"]
    assert job.block("X7 E1", "X8 E1") == ["X7 E1 F1000", "X8 E1"]
    assert not job.scaler.touches(5, 99)


def test_the_feed_in_force_before_each_line_is_known() -> None:
    """The column says which F the output has said before a line."""
    job = Job([ScaleFeed(1, 3, 0.5)])
    job.block("G1 X5 E1 F1000", "X6 E1", "X7 E1", "X8 E1")
    assert [job.column.before(line) for line in range(1, 5)] == [1000, 500, 500, 1000]
    assert math.isnan(job.column.before(0))


def test_scales_multiply_where_they_overlap() -> None:
    """Two stretches over one move: both factors, each with its own floor."""
    job = Job([ScaleFeed(0, 2, 0.5), ScaleFeed(1, 2, 0.5, floor_mm_min=400)])
    assert job.block("G1 X5 E1 F1000", "G1 X6 E1 F1000") == ["G1 X5 E1 F500", "G1 X6 E1 F400"]
    assert job.edited == {0: 1, 1: 1}


@pytest.mark.parametrize(
    ("factor", "said"), [(0.3333, "F333.3"), (0.123456, "F123.5"), (1e-9, "F0.1"), (2.0, "F2000")]
)
def test_feeds_are_rounded_to_a_tenth(factor: float, said: str) -> None:
    """A tenth of a mm/min, and never less than that."""
    assert Job([ScaleFeed(0, 1, factor)]).block("G1 X5 E1 F1000")[0].endswith(said)


def test_a_feed_that_stays_is_not_rounded() -> None:
    """A floor above the feed leaves the very word."""
    line = "G1 X5 E1 F92.788"
    assert Job([ScaleFeed(0, 1, 0.5, floor_mm_min=500)]).block(line) == [line]


def test_before_the_first_feed_nothing_can_be_scaled() -> None:
    """Where the file has said no F yet, none is made up."""
    assert Job([ScaleFeed(0, 9, 0.5)]).block("G1 X5 E1", "G1 X6 E1 F1000") == ["G1 X5 E1", "G1 X6 E1 F500"]


def test_inches_are_said_in_inches() -> None:
    """The scaled feed is said in the units of its line."""
    job = Job([ScaleFeed(0, 9, 0.5)])
    assert job.block("G20", "G1 X5 E1 F100", "X6 E1") == ["G20", "G1 X5 E1 F50", "X6 E1"]


def test_a_feed_beside_a_change_of_units_is_said_in_the_units_before() -> None:
    """F counts before the units change on its line (NIST RS274/NGC report, section 3.8)."""
    job = Job([ScaleFeed(0, 9, 0.5)])
    assert job.block("G20 G1 X5 E1 F1000", "X6 E1", "G21 X7 E1 F100", "X8 E1") == [
        "G20 G1 X5 E1 F500",
        "X6 E1",
        "G21 X7 E1 F50",
        "X8 E1",
    ]


def test_the_source_s_own_feed_comes_back_to_the_last_digit() -> None:
    """After a stretch of scaled feeds F is what it was, though it was said in mm and now counts in inches."""
    job = Job([ScaleFeed(0, 2, 0.5)])
    assert job.block("G1 X5 E1 F720", "G20", "X6 E1") == ["G1 X5 E1 F360", "G20", "X6 E1 F28.346456692913"]


def test_at_first_the_feed_in_force_is_the_source_s() -> None:
    """A block that no stretch concerns needs no edits, before the first and after the last of them."""
    scaler = Job([ScaleFeed(5, 9, 0.5)]).scaler
    assert not scaler.changed
    assert [scaler.touches(*lines) for lines in ((0, 5), (0, 6), (8, 20), (9, 20))] == [False, True, True, False]
