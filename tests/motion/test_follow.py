"""The follower is where the reference interpreter is, line by line, in every dialect."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import CubicMillimetres, Home, Machine, PathSection
from gpost.errors import SourceError
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block
from tests.reference.interpreter import Dialect, Event, State, run
from tests.reference.programs import Draft, Piece, drafts, piece_programs

E_AXIS = CubicMillimetres(unit="mm3")
NOTHING_SAID = MachineState()


def machine_of(dialect: Dialect) -> Machine:
    """The config of a dialect."""
    x, y, z = dialect.home_mm
    return Machine(
        dwell_p=dialect.dwell_p,
        axis_mode_sets_e=dialect.axis_mode_sets_e,
        home=Home(x_mm=x, y_mm=y, z_mm=z),
        arc_tolerance_mm=dialect.arc_tolerance_mm,
    )


def chunks(program: bytes, lines: int) -> Iterator[Chunk]:
    """The program in chunks of so many lines."""
    rows = program.splitlines(keepends=True) if program else [b"\n"]
    offset = 0
    for first in range(0, len(rows), lines):
        data = b"".join(rows[first : first + lines])
        yield Chunk(data, offset, first)
        offset += len(data)


def follow(
    program: bytes | str,
    *,
    machine: Machine | None = None,
    state: MachineState = NOTHING_SAID,
    lines: int = 1_000_000,
    by_path: bool = False,
) -> list[Follower]:
    """Follow a program, chunk by chunk."""
    data = program.encode() if isinstance(program, str) else program
    metering = PathSection(unit="path") if by_path else E_AXIS
    found = []
    for chunk in chunks(data, lines):
        found.append(Follower(read_block(chunk), state, machine or Machine(), metering))
        state = found[-1].end
    return found


def one(program: str, **settings: object) -> Follower:
    """Follow a program as one block."""
    (found,) = follow(program, **settings)  # type: ignore[arg-type]
    return found


def near(mine: float, theirs: float | None) -> bool:
    """Equal to 1e-9, absolute below 1 and relative above; NaN stands for None."""
    if theirs is None:
        return math.isnan(mine)
    return abs(mine - theirs) <= 1e-9 * max(1.0, abs(theirs))


def assert_same_move(follower: Follower, index: int, event: Event) -> None:
    """A move of the block is what the reference did on its line."""
    moves = follower.moves
    assert moves.line[index] + follower.block.chunk.first_line == event.line
    assert all(map(near, moves.start[:, index], event.start_mm))
    assert all(map(near, moves.end[:, index], event.end_mm))
    assert near(moves.e_mm[index], event.e_metered_mm)
    assert near(moves.feed_mm_min[index], event.feed_mm_min)
    assert near(moves.length_mm[index], event.path_mm or abs(event.e_metered_mm))
    assert near(moves.radius_mm[index], event.arc.radius_mm if event.arc else None)
    assert moves.rapid[index] == (event.motion == 0)
    across = math.dist(event.start_mm[:2], event.end_mm[:2]) > 1e-9 or event.arc is not None
    clay = event.e_metered_mm > 0 or (event.state.laying and event.motion != 0)
    assert moves.laying[index] == (across and clay)


def assert_same_state(mine: MachineState, theirs: State) -> None:
    """All that both know."""
    assert all(near(mine.register["XYZE".index(a)], float(theirs.register[a])) for a in "XYZE")
    assert all(near(mine.offset["XYZ".index(a)], float(theirs.offset[a])) for a in "XYZ")
    assert mine.offset[3] == 0
    assert mine.known == tuple(theirs.known[a] for a in "XYZ")
    assert near(mine.feed_mm_min, None if theirs.feed_mm_min is None else float(theirs.feed_mm_min))
    for name in ("scale", "feed_factor", "flow_factor"):
        assert near(getattr(mine, name), float(getattr(theirs, name)))
    for name in ("relative", "e_relative", "motion", "plane", "tool", "laying"):
        assert getattr(mine, name) == getattr(theirs, name), name
    assert mine.air == float(theirs.fan)
    assert mine.pressure_relief == theirs.relief


def assert_same_as_reference(program: bytes, dialect: Dialect, lines: int) -> None:
    """Every move, every dwell and the end state."""
    events = run(program, dialect)
    assert [event.error for event in events if event.error] == []
    followers = follow(program, machine=machine_of(dialect), lines=lines)
    moves = iter([event for event in events if event.kind == "move"])
    for follower in followers:
        for index in range(len(follower.moves)):
            assert_same_move(follower, index, next(moves))
    assert next(moves, None) is None
    waits = [float(f.moves.wait_s.sum()) + f.moves.tail_wait_s for f in followers]
    assert near(sum(waits), sum(event.dwell_s for event in events))
    if events:
        assert_same_state(followers[-1].end, events[-1].state)


@given(drafts(blanks_in_numbers=True), st.integers(1, 45))
def test_every_program_is_followed_as_the_reference_does(draft: Draft, lines: int) -> None:
    """Positions, clay, feeds, paths, dwells and the end state are the oracle's to 1e-9, however it is cut."""
    assert_same_as_reference(draft.program, draft.dialect, lines)


@given(piece_programs(), st.integers(1, 45))
def test_every_pot_is_followed_as_the_reference_does(piece: Piece, lines: int) -> None:
    """The same for programs that print a pot."""
    assert_same_as_reference(piece.program, piece.dialect, lines)


HAND_MADE = [
    # modal words claim no axis words: NIST RS274/NGC report (NISTIR 6556), sections 3.3.7 and 3.8
    "G1 X10\nG91 X1\nX1 G90\nG20 X1 G17\nG21 F1200\nX9\n",
    "G0 X1\nM106 S5 X9\nT1 X9\nG92 E0\nY2\n",
    "G91\nG28\nG1 X5 E1\nG28 X\nG1 Y5 E1\nG28 Z\nG1 X-1 Z3\n",
    "G1 X7 Y7\nG92 X0\nG28 X\nG1 X5\nG92.1\nG1 X5 Y5\n",
    # a code that sets registers comes before the move on its line: section 3.8, orders 19 and 20
    "G28\nG92.1G1X2\n",
    "G1 X7 Y7\nG92 X0 Y3\nG1 X5 G92.1 Y9 E4\nX1\nG91 G92.1 G0 X1\nG28 X\nG92 X9\nG3 X4 I2 G92.1\nG1 X1\n",
    "G1 X7 Y7\nG92 X0 Y3\nG92.1 X4\nX5\nG20 G92.1 G1 X1 F9\nG92.1 F4\nG2 I1 G92.1\n",
    "G1 Y66.163\nG92 X0 Y-11.445 Z0 E0\nG1 E3000\n",  # the offset's rounding is no path
    "G92\nG1 X5 E5\nG92\nG1 X5 E5\nG92 E0 X3\nX5 E2\n",
    "M83\nG92 E5\nG1 X1 E2\nG90\nX2 E3\nM82\nX3 E9\nG91 M82\nX3 E9\n",
    "G20\nG1 X1 E1 F10\nG21 X30 F600\nG20 F20 X2\nF30\nX3\n",
    "M220 S50\nG1 X1 F600 E1\nM221 S80\nX2 E2\nG1 X3 E3 M221 S200\nM220 S100\nX4\n",
    "G4 P500\nG1 X5 F60\nG4 S2\nG4 P1 S3\n",
    "G17\nG2 X10 Y10 R10 F100\nX20 Y0 I0 J-10\nG18\nG3 X30 Z10 I0 K10\nG19\nG2 Y20 Z0 R50\nG3 J5 K0\n",
    "G0 X5\nG1 F900\nG80\nG0\nX9\n",
    "M101\nG1 X5\nG0 X9\nM103\nX0\n",
    "G10\nG11\nG11\nG10\nT2\nM104 S200 T1\nM106\nM107\nM106 S12.5\n",
    "%\nN1 G1 X5*100\n/X6\n(none) Y7 ; G1 X99\nM117 G1 X99\n%\n",
]


@pytest.mark.parametrize("program", HAND_MADE)
@pytest.mark.parametrize("sets_e", [False, True])
@pytest.mark.parametrize("lines", [1, 2, 100])
def test_hand_made_programs(program: str, sets_e: bool, lines: int) -> None:
    """Programs about one rule each are followed as the oracle does, however they are cut."""
    dialect = Dialect(axis_mode_sets_e=sets_e, home_mm=(100.0, 200.0, 50.0))
    assert_same_as_reference(program.encode(), dialect, lines)


def test_the_published_offsets() -> None:
    """At x=4 `G92 x7` makes the offset -3, then `G92 x9` -5 (published case, section 3.5.18)."""
    first = one("G1 X4\nG92 X7\n").end
    assert (first.register[0], first.offset[0]) == (7.0, -3.0)
    second = one("G92 x9\n", state=first).end
    assert (second.register[0], second.offset[0]) == (9.0, -5.0)
    assert second.position_mm[0] == 4.0


def test_the_published_blanks() -> None:
    """`g0x +0. 12 34y 7` goes to x=0.1234, y=7 (published case, section 3.3)."""
    assert one("g0x +0. 12 34y 7").end.position_mm == (0.1234, 7.0, 0.0)


def test_a_relative_half_circle() -> None:
    """In G91 at (5, 5) `G2 X10 Y0 I5 J0` ends at (15, 5), 15.7 mm on (derived from section 3.5.17)."""
    moves = one("G1 X5 Y5\nG91\nG2 X10 Y0 I5 J0").moves
    assert moves.end[:, 1].tolist() == [15.0, 5.0, 0.0]
    assert moves.length_mm[1] == pytest.approx(15.7079632679, abs=1e-9)


def test_an_inch_a_second() -> None:
    """`G20 G1 X1 F60` goes 25.4 mm at 25.4 mm/s (derived from sections 3.5.7 and 3.5.19)."""
    moves = one("G20\nG1 X1 F60").moves
    assert (moves.length_mm[0], moves.feed_mm_min[0] / 60) == (25.4, 25.4)


def test_stops_come_before_and_after_moves() -> None:
    """`G4 X..` and a heat wait stop before the next move; `G1 X10 M0` moves first (section 3.8, Table 8)."""
    program = "G1 X1\nG1 X2\nM109 S0\nG1 X3\nG1 X4 M0\nG1 X5\nG4 P5\nG1 X6\nT1\nG28\nG1 X7\nM0\n"
    moves = one(program).moves
    assert moves.stop.tolist() == [False, False, True, False, True, True, True]
    assert moves.tail_stop
    assert moves.wait_s.tolist() == [0, 0, 0, 0, 0, 0.005, 0]


def test_after_homing_a_move_starts_at_home() -> None:
    """A move starts where the one before ended, but for axes homed in between."""
    moves = one("G1 X50 Y60 Z5\nG28 X\nG1 X1 Y1\n", machine=Machine(home=Home(x_mm=7))).moves
    assert moves.start[:, 1].tolist() == [7.0, 60.0, 5.0]
    assert moves.length_mm[1] == pytest.approx(math.hypot(6, 59))


def test_clay_by_path_alone() -> None:
    """Where the config says that clay runs with every G1, all moves but G0 that go anywhere lay it."""
    moves = one("G0 X5\nG1 X9\nG1 Z5\nG2 X9 Y9 R9\n", by_path=True).moves
    assert moves.laying.tolist() == [False, True, False, True]


def test_directions() -> None:
    """Straight moves have one unit direction at both ends; moves of E alone have none."""
    moves = one("M83\nG1 X3 Y4\nG1 E5\nG2 X13 Y14 R10\n").moves
    assert moves.entry[:, 0].tolist() == moves.exit[:, 0].tolist() == [0.6, 0.8, 0.0]
    assert moves.entry[:, 1].tolist() == [0, 0, 0]
    assert moves.length_mm[1] == 5.0
    assert moves.entry[:, 2] == pytest.approx([0, 1, 0])
    assert moves.exit[:, 2] == pytest.approx([1, 0, 0])


def test_commands_with_their_lines() -> None:
    """Every code that is no plain move, in order, with its line in the file."""
    (first, second) = follow("G21 G90\nG1 X5\nM104 S9 T1\nT2\nG92.1\nM106 S5\n", lines=3)
    rows = [row for f in (first, second) for row in f.commands.tolist()]
    assert rows == [
        *((b"G", 210, 0), (b"G", 900, 0), (b"M", 1040, 2), (b"T", 20, 3), (b"G", 921, 4), (b"M", 1060, 5)),
    ]


def test_what_the_writer_is_told() -> None:
    """The raw F of each move, units on each move, and the F words that count, with their lines."""
    found = one("G20\nG1 X1 F10\nM220 S50\nX2\nM204 F9\nF20\nG21 X9 F30\n")
    assert found.raw_feed.tolist() == pytest.approx([254, 254, 762])
    assert found.moves.feed_mm_min.tolist() == pytest.approx([127 * 2, 127, 381])
    assert found.scale_on_moves.tolist() == [25.4, 25.4, 1.0]
    assert found.feed_line.tolist() == [1, 5, 6]
    words = found.block.of("F")
    assert found.feed_of_words(words[[0, 2, 3]]).tolist() == pytest.approx([254, 508, 762])
    assert np.flatnonzero(found.claimed).tolist() == [2, 4]
    assert found.move_line.tolist() == [1, 3, 6]
    assert found.motion_line.tolist() == [1]
    assert found.special == {}
    assert one("G92 E0\nG28\n").special == {0: 920, 1: 280}


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("G4 P-5", "negative"),
        ("G4 P", "no number"),
        ("G1 X5 F0", "F"),
        ("M106 S", "no number"),
    ],
)
def test_numbers_that_can_not_be(line: str, reason: str) -> None:
    """A dwell below zero, a feed of zero, a letter without its number are refused with their line."""
    with pytest.raises(SourceError, match=f"line 3: .*{reason}"):
        one(f"G21\nG90\n{line}\nG1 X5\n")
