"""What follows the machine in one compiled pass gives the very same as the columns, and does what is usual."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gpost.config.model import CubicMillimetres, Home, Machine
from gpost.demo.gcode import SliceStyle
from gpost.demo.shape import Piece as Form
from gpost.errors import SourceError
from gpost.motion import bycolumns
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.motion.way import Way
from gpost.read.block import Block
from gpost.read.source import Chunk
from gpost.read.words import read_block
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.sliced import slice_piece

onepass = pytest.importorskip("gpost.motion.onepass", reason="there was no compiler")

FindWay = Callable[[Block, MachineState, Machine], Way]
NEW = MachineState()
MM3 = CubicMillimetres(unit="mm3")
WORDS = (
    *("G0", "G1", "G1", "G1", "X0", "X-0", "X1.25", "Y-2.5", "Z0.3", "E1", "E-0.7", "E123456.78901", "F1800"),
    *("G90", "G91", "G92", "G4", "G10", "G11", "M82", "M83", "M106", "M107", "M104", "M73", "M201", "M18"),
    *("S0", "S127.5", "P5", "N7", "T0", "*33", "A1", "H3", "G21", "G28"),
)
"""Of which an ordinary line is made, and many a strange one."""
SELDOM = (
    *("G", "M", "X", "E", "F", "S", "T", "N", "G2", "G3", "G20", "G21", "G17", "G28", "G80", "G92.1", "G5", "G52"),
    *("G1.5", "G-1", "G0.00001", "G30000", "G61", "M0", "M2", "M6", "M5", "M98", "M101", "M103", "M220", "M221"),
    *("M-1", "M106.5", "M1000", "M99999999", "T1", "T-1", "I1", "J0", "K0.05", "R2", "L2", "D5", "F0", "F-1"),
    *("F.0000001", "F100000000", "X1000000", "X1000001", "E1000000000", "E10000000000", "M117 X5", "; G1 X3"),
)
lines = st.one_of(
    st.sampled_from(["G1 X1 Y2 E0.3", "X3 Y4 E0.1", "G92 E0", "M106 S9", "G1 E-2 F2400", ";", "", "G91", "M83"]),
    st.lists(st.sampled_from(WORDS), max_size=5).map(" ".join),
    st.lists(st.sampled_from((*WORDS, *SELDOM)), max_size=4).map(" ".join),
)
states = st.builds(
    MachineState,
    register=st.sampled_from([(0.0,) * 4, (-0.0, 3.1, 0.2, 7.7)]),
    offset=st.sampled_from([(0.0,) * 4, (0.1, 0.0, -3.0, 0.0)]),
    known=st.sampled_from([(False, False, False), (True, False, True)]),
    scale=st.sampled_from([1.0, 1.0, 25.4]),
    relative=st.booleans(),
    e_relative=st.booleans(),
    motion=st.sampled_from([0, 1, 1, 2, 3, 80]),
    feed_mm_min=st.sampled_from([float("nan"), 900.0]),
    feed_factor=st.sampled_from([1.0, 0.8]),
    flow_factor=st.sampled_from([1.0, 1.2]),
    air=st.sampled_from([0.0, 90.0]),
    tool=st.sampled_from([0, 2]),
    laying=st.booleans(),
    pressure_relief=st.integers(0, 2),
)
machines = st.builds(
    Machine, axis_mode_sets_e=st.booleans(), home=st.sampled_from([Home(), Home(x_mm=5, y_mm=9, z_mm=2)])
)


def block_of(text: str | bytes) -> Block:
    """These lines as a block."""
    return read_block(Chunk(text.encode() if isinstance(text, str) else text, 0, 0))


def told(find_way: FindWay, block: Block, state: MachineState, machine: Machine) -> Way | str:
    """The way, or what the block is refused for."""
    try:
        return find_way(block, state, machine)
    except SourceError as error:
        return str(error)


def bits(value: object) -> object:
    """What a column or a state holds, -0.0 told from 0.0, and with the types of its numbers."""
    return (value.dtype, value.shape, value.tobytes()) if isinstance(value, np.ndarray) else repr(value)


def assert_same_way(block: Block, state: MachineState, machine: Machine) -> Way | None:
    """Both makers give the very same way, or the same refusal; returns the columns' way."""
    ours, theirs = (told(maker.find_way, block, state, machine) for maker in (bycolumns, onepass))
    if isinstance(ours, str) or isinstance(theirs, str):
        assert ours == theirs
        return None
    for column in fields(Way):
        if column.name not in ("lines", "modes"):
            found = bits(getattr(ours, column.name)), bits(getattr(theirs, column.name))
            assert found[0] == found[1], column.name
    return ours


def is_ordinary(text: str, state: MachineState = NEW) -> bool:
    """Whether a block is followed in one pass."""
    return onepass.find_way(block_of(text), state, Machine()).modes is None


def cut(program: bytes, lines: int) -> Iterator[bytes]:
    """The program in blocks of so many lines."""
    rows = program.splitlines(keepends=True)
    return (b"".join(rows[first : first + lines]) for first in range(0, len(rows), lines))


def assert_same_ways(program: bytes, lines: int, machine: Machine) -> None:
    """So through all blocks of a program."""
    state = NEW
    for data in cut(program, lines):
        way = assert_same_way(block_of(data), state, machine)
        if way is None:
            return
        state = way.after


@pytest.fixture(scope="module", autouse=True)
def maker() -> None:
    """Both are tried in each test here."""


@given(st.lists(lines, max_size=12), states, machines)
@example(["G1 X-0", "G92 X0", "Y1"], NEW, Machine())
@example(["G92 X0 Y0", "G91 G1 X-0 Y-0"], NEW, Machine())
@example(["G28 X", "G28 Y0 Z9999999", "G28 E5", "G1 X5"], NEW, Machine(home=Home(x_mm=5, y_mm=9, z_mm=2)))
@example(["G92 X7 Y0", "G28 W", "G91 G1 X5"], MachineState(offset=(1.0, 2.0, 3.0, 0.0)), Machine())
@example(["G21 G21"], NEW, Machine())
@example(["G28 F5 X0", "G28 X X", "G28 N5", "G28 G4"], NEW, Machine())
def test_any_lines(rows: list[str], state: MachineState, machine: Machine) -> None:
    """Whatever stands on some lines, and whatever was before: the same columns to the last bit, or the same refusal."""
    assert_same_way(block_of("\n".join(rows)), state, machine)


@given(drafts(), st.integers(1, 30))
def test_any_program(draft: Draft, lines: int) -> None:
    """So it is through a program of every dialect, wherever it is cut into blocks."""
    x, y, z = draft.dialect.home_mm
    home = Home(x_mm=x, y_mm=y, z_mm=z)
    assert_same_ways(draft.program, lines, Machine(axis_mode_sets_e=draft.dialect.axis_mode_sets_e, home=home))


@given(piece_programs(), st.integers(1, 60))
def test_any_pot(piece: Piece, lines: int) -> None:
    """So it is through a program that prints a pot."""
    assert_same_ways(piece.program, lines, Machine())


@given(st.lists(lines, max_size=12), states, machines)
def test_what_edits_ask_for(rows: list[str], state: MachineState, machine: Machine) -> None:
    """What a follower makes when it is asked for is what the columns know."""
    block = block_of("\n".join(rows))
    try:
        found = Follower(block, state, machine, MM3)
    except SourceError:
        return
    way = bycolumns.find_way(block, state, machine)
    assert way.lines is not None
    assert way.modes is not None
    special = dict(zip(way.lines.special_line.tolist(), way.lines.special_code.tolist(), strict=True))
    assert found.special == special
    assert bits(found.claimed) == bits(way.lines.claimed)
    assert bits(found.motion_line) == bits(way.lines.motion_line)
    assert bits(found.feed_line) == bits(way.lines.feed_line)
    for mode in ("scale", "relative", "e_relative"):
        assert bits(getattr(found, mode)) == bits(getattr(way.modes, mode)), mode


STYLES = {
    "rings with lifts": SliceStyle(z_hop=True, retract=True, comments=True, g92_every_layer=True),
    "a rise, all relative": SliceStyle(wall="rise", relative_axes=True, relative_e=True),
    "numbered, modal": SliceStyle(modal_g=True, numbered=True, lowercase=True, newline="\r\n"),
}
FORM = Form(height_mm=14, radius_mm=20, lobes=5, twist_deg_per_mm=2, lean_mm=4, base_layers=1, segments=24)


@pytest.mark.parametrize("style", STYLES.values(), ids=STYLES)
def test_sliced_pieces_are_followed_in_one_pass(style: SliceStyle) -> None:
    """Of a sliced piece in blocks of twenty lines all are, the first too, which sets the machine up."""
    state, declined = NEW, []
    blocks = list(cut(slice_piece(FORM, style).text, 20))
    for number, data in enumerate(blocks):
        found = onepass.find_way(block_of(data), state, Machine())
        assert_same_way(block_of(data), state, Machine())
        declined += [number] * (found.modes is not None)
        state = found.after
    assert len(blocks) > 10
    assert declined == []


@pytest.mark.parametrize(
    "row",
    [
        *("G92 E0", "G92 X1 Y2 Z3", "M106 S128", "M107", "M104 S200 T0", "M73 P5 R30", "M900 K0.05", "M201 X500 Y500"),
        *("M82", "M83", "G90", "G91", "G91 G0 Z0.5", "G1 E-2 F1800", "F900", "X5", "N5 G1 X5*99", "; a layer", ""),
        *("M117 a text", "G4 P100", "G10", "G11", "M400", "G21", "G1 X5 M106 S1", "M2", "T1 M104 S5"),
    ],
)
def test_what_is_usual(row: str) -> None:
    """A line as sliced files have it in every layer leaves its block an ordinary one."""
    assert is_ordinary(f"G1 X5 Y6 E0.3\n{row}\nG1 X7")


@pytest.mark.parametrize(
    "row",
    [
        *("G20", "G28", "G28 Z\nG28 Z", "G2 X9 R5", "G92", "G92.1", "G80", "M220 S90", "M221 S90", "M101", "M103", "M6", "T1"),
        *("M92 E93\nM92 E93 M104 S0", "M1000", "G53.5"),
    ],
)
def test_what_is_rare(row: str) -> None:
    """What changes more than the pass follows, or may be refused, is left to the columns."""
    assert not is_ordinary(f"G1 X5 Y6 E0.3\n{row}\nG1 X7")


def test_homing_before_any_move() -> None:
    """Most files begin with it; behind a move it makes the next one start elsewhere than the last has ended."""
    start = "G21\nG90\nM82\nM107\nG28 X Y\nG28 Z0\nG92 E0\n"
    assert is_ordinary(f"{start}G0 Z20 F3600\nG1 X5 E1")
    assert not is_ordinary(f"{start}G0 Z20 F3600\nG28 X0\nG1 X5 E1")
    assert not is_ordinary("G28 E0\nG1 X5 E1")


def test_other_states() -> None:
    """So is a block in inches, one whose words go on an arc, and all after G80."""
    assert is_ordinary("X5")
    assert not is_ordinary("X5", MachineState(scale=25.4))
    assert not is_ordinary("G1 X5", MachineState(motion=2))
    assert is_ordinary("")
