"""Which position words change, with how many decimals, and where the output then is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from gpost.config.model import Machine, PathSection
from gpost.errors import PlanError
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.plan.intentions import Shift
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits
from gpost.write.shifts import Shifter

Place = tuple[float, float, float]


class Bench:
    """Feeds blocks to one shifter, and shows their edited lines."""

    def __init__(self, *shifts: Shift) -> None:
        self.shifter = Shifter(list(enumerate(shifts)))
        self.edited: dict[int, int] = {}
        self._state, self._line = MachineState(), 0

    def edit(self, *lines: str) -> list[str]:
        """The next block of the file, edited."""
        data = ("\n".join(lines) + "\n").encode()
        block = read_block(Chunk(data, 0, self._line))
        follower = Follower(block, self._state, Machine(), PathSection(unit="path"))
        edits = Edits(block)
        self.shifter.edit(follower, edits, self.edited)
        self._state, self._line = follower.end, self._line + len(lines)
        (text,) = edits.parts([int(block.line_start[0]), int(block.line_end[-1])])
        return text.decode().split("\n")

    def before(self, line: int) -> list[tuple[float, float]]:
        """(ahead, kept) of each axis before a line of the block edited last, mm."""
        return [axis.before(line) for axis in self.shifter.axes]


def x_by(mm: float) -> Bench:
    """All lines moved along x."""
    return Bench(Shift(0, 999, (mm, 0.0, 0.0)))


@pytest.mark.parametrize(
    ("by_mm", "line", "moved"),
    [
        (1.0, "G1 X10", "G1 X11"),
        (0.5, "G1 X10.25", "G1 X10.75"),
        (0.0625, "G1 X10", "G1 X10.062"),  # three decimals at least; halves go to the even digit
        (0.0625, "G1 X10.0000", "G1 X10.0625"),
        (1 / 3, "G1 X10.00000", "G1 X10.33333"),
        (-10.0, "G1 X10.000", "G1 X0"),
        (-10.5, "G1 X10", "G1 X-0.5"),
        (1.0, "G1 X1.5e-3", "G1 X1.0015"),
        (1.0, "G1 X1 0 . 5", "G1 X11.5"),
        (1.0, "G1 X+.5 ; X7", "G1 X1.5 ; X7"),
        (1.0, "g1x10y20", "g1x11y20"),
        (1.0, "G1 X10.123456789012345", "G1 X11.123456789012"),
        (0.0001, "G1 X10", "G1 X10"),
    ],
)
def test_a_word_keeps_its_decimals(by_mm: float, line: str, moved: str) -> None:
    """A number gets as many decimals as it has, but three at least; one that stays equal keeps its bytes."""
    assert x_by(by_mm).edit("G0 Y0 Z0", line)[1] == moved


def test_inches_get_one_decimal_more() -> None:
    """A shift is in millimetres whatever the file's unit; in inches four decimals are written at least."""
    assert x_by(25.4).edit("G20", "G1 X1", "G1 X2.5") == ["G20", "G1 X2", "G1 X3.5"]
    assert x_by(1.0).edit("G20", "G1 X1") == ["G20", "G1 X1.0394"]


def test_arc_centres_and_what_does_not_move_stay() -> None:
    """I and J count from the arc's start; words of G92, G28 and of machine codes are no places to go to."""
    lines = ["G1 X10 Y0", "G2 X30 Y0 I10 J0", "G92 X0", "G28 X0", "M92 X80"]
    assert x_by(5.0).edit(*lines) == ["G1 X15 Y0", "G2 X35 Y0 I10 J0", "G92 X0", "G28 X0", "M92 X80"]


def test_what_is_ahead_is_told_as_written() -> None:
    """The state before each line is what the output really says, its rounding included."""
    bench = x_by(1 / 3)
    assert bench.edit("G1 X10", "G91", "G1 X5", "G92 X0", "G90", "G1 X7")[0] == "G1 X10.333"
    assert [round(bench.before(line)[0][0], 9) for line in range(6)] == [0, 0.333, 0.333, 0.333, 0.333, 0.333]
    assert [round(bench.before(line)[0][1], 9) for line in (3, 4, 5)] == [0, 0.333, 0.333]


def test_a_step_between_ranges_in_relative_mode_makes_up_for_rounding() -> None:
    """What the word before lost, the next one that changes gets back."""
    bench = Bench(
        Shift(0, 2, (1 / 3, 0.0, 0.0)), Shift(2, 4, (2 / 3, 0.0, 0.0)), Shift(4, 6, (1.0, 0.0, 0.0))
    )
    lines = bench.edit("G91", "G1 X1", "G1 X1", "G1 X1", "G1 X1", "G1 X1")
    assert lines == ["G91", "G1 X1.333", "G1 X1.334", "G1 X1", "G1 X1.333", "G1 X1"]
    assert bench.before(6)[0][0] == pytest.approx(1.0, abs=1e-9)


def test_it_goes_on_over_block_borders() -> None:
    """Absolute words need no memory; in relative mode, after G92 and after homing the state is carried."""
    bench = x_by(2.0)
    assert bench.edit("G91", "G1 X1") == ["G91", "G1 X3"]
    assert bench.edit("G1 X1") == ["G1 X1"]
    assert bench.edit("G28 X") == ["G28 X"]
    assert bench.edit("G90", "G1 X5") == ["G90", "G1 X7"]


def test_only_blocks_that_are_concerned_are_touched() -> None:
    """Before the range none is; after it those are in which something is still moved."""
    bench = Bench(Shift(2, 4, (1.0, 0.0, 0.0)))
    assert [bench.shifter.touches(*lines) for lines in ((0, 2), (0, 3), (3, 9), (4, 9))] == [
        False,
        True,
        True,
        False,
    ]
    bench.edit("G1 X1", "G1 X2", "G1 X3")
    assert bench.shifter.touches(4, 9)
    bench.edit("G1 Y1", "G1 X1")
    assert not bench.shifter.touches(5, 9)


def test_changed_lines_are_counted_once() -> None:
    """A line with two changed words is one, and counts for each range over it; no change, no count."""
    bench = Bench(Shift(0, 9, (1.0, 1.0, 0.0)), Shift(1, 9, (0.0, 0.0, 3.0)), Shift(0, 9, (0.0, 0.0, 0.0)))
    bench.edit("G1 X1 Y1", "G1 X2 Y2 Z2", "M107")
    assert bench.edited == {0: 2, 1: 1}


@pytest.mark.parametrize("lines", [["G28", "G2 X10 Y0 I5 J0"], ["G1 X5 Y0", "G28 X", "G3 X10 Y0 I5 J0"]])
def test_an_arc_from_where_no_word_has_moved_it_is_refused(lines: Sequence[str]) -> None:
    """Its start stays and its end moves: that would be another arc."""
    with pytest.raises(PlanError, match=f"the arc on line {len(lines)} "):
        x_by(5.0).edit(*lines)


def test_the_usual_path_is_the_exact_one() -> None:
    """Thousands of words at once come out as they do one by one."""
    rng = np.random.default_rng(4)
    lines = [f"G1 X{x:.3f} Y{y:.2f}" for x, y in rng.uniform(-300, 300, (2000, 2))]
    bench = Bench(Shift(0, 9999, (12.3, -45.67, 0.0)))
    together = bench.edit(*lines)
    alone = Bench(Shift(0, 9999, (12.3, -45.67, 0.0)))
    assert together == [alone.edit(line)[0] for line in lines]


def test_offsets_cleared_beside_a_move() -> None:
    """G92.1 comes before the move on its line (NIST RS274/NGC report, section 3.8): its words say machine mm."""
    bench = x_by(5)
    lines = bench.edit("G1 X10", "G92 X0", "X3", "G92.1 G1 X20", "X21", "G92 X0", "G91 G92.1 G1 X1", "G90 X9")
    assert lines[:5] == ["G1 X15", "G92 X0", "X3", "G92.1 G1 X25", "X26"]
    assert lines[6:] == ["G91 G92.1 G1 X1", "G90 X14"]
    assert [bench.before(line)[0] for line in range(9)] == [
        (0, 0), (5, 0), (5, 5), (5, 5), (5, 0), (5, 0), (5, 5), (5, 0), (5, 0)
    ]  # fmt: skip


def test_a_range_may_begin_where_offsets_are_cleared() -> None:
    """What is ahead then is said by the word, and not by the code before it."""
    bench = Bench(Shift(2, 999, (5.0, 0.0, 0.0)))
    assert bench.edit("G1 X10", "G92 X0", "G92.1 G1 X20", "X21") == [
        "G1 X10",
        "G92 X0",
        "G92.1 G1 X25",
        "X26",
    ]
    assert [bench.before(line)[0] for line in range(5)] == [(0, 0), (0, 0), (0, 0), (5, 0), (5, 0)]


def test_a_range_may_begin_and_end_between_two_beads() -> None:
    """The bead on its border leads from where the one before ended to its own place."""
    bench = Bench(Shift(2, 3, (1.0, 0.0, 0.0)), Shift(3, 5, (2.0, 0.0, 0.0)))
    lines = ["G1 X1 Y1 Z1 E1", "X2 E2", "X3 E3", "X4 E4", "X5 E5", "X6 E6"]
    assert bench.edit(*lines) == ["G1 X1 Y1 Z1 E1", "X2 E2", "X4 E3", "X6 E4", "X7 E5", "X6 E6"]
    bench = Bench(Shift(2, 4, (1.0, 0.0, 0.0)))
    assert bench.edit(*lines[:2]) == lines[:2]
    assert bench.edit(*lines[2:]) == ["X4 E3", "X5 E4", "X5 E5", "X6 E6"]


@pytest.mark.parametrize("cut", [1, 2, 3])
def test_clay_that_would_be_laid_in_its_old_place_is_refused(cut: int) -> None:
    """Along an axis that no word has moved since homing; a travel that names it is enough."""
    lines = ["G28", "G1 Y5 E1", "Y6 E2"]
    bench = x_by(5.0)
    with pytest.raises(PlanError, match="on line 2 clay is laid before the nozzle has gone to its new place"):
        _ = [bench.edit(*part) for part in (lines[:cut], lines[cut:]) if part]
    assert x_by(5.0).edit("G28", "G0 X0", "G1 Y5 E1", "Y6 E2")[1] == "G0 X5"


def test_an_arc_on_the_border_of_a_range_is_refused() -> None:
    """It would start in one place and end in another that is moved otherwise."""
    bench = Bench(Shift(2, 9, (1.0, 0.0, 0.0)))
    with pytest.raises(PlanError, match="the arc on line 3 "):
        bench.edit("G1 X1 Y1 Z1 E1", "X2 E2", "G2 X12 I5 J0 E9")
    bench = Bench(Shift(3, 9, (1.0, 0.0, 0.0)))
    assert bench.edit("G1 X1 Y1 Z1 E1", "X2 E2", "G2 X12 I5 J0 E9", "G1 X3 E12")[2:4] == ["G2 X12 I5 J0 E9", "G1 X4 E12"]


def test_an_arc_may_begin_a_block() -> None:
    """From where the words of the block before have moved the nozzle."""
    bench = x_by(5.0)
    assert bench.edit("G0 X10 Y0 Z1") == ["G0 X15 Y0 Z1"]
    assert bench.edit("G2 X30 I10 J0 E9") == ["G2 X35 I10 J0 E9"]
    assert bench.edit("G92 X0") == ["G92 X0"]
    assert bench.edit("G3 X-20 I-10 J0 E18") == ["G3 X-20 I-10 J0 E18"]
