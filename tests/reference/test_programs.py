"""The generated programs are what they claim, and general-purpose parsers read them as the reference does."""

from __future__ import annotations

import ast
import math
from decimal import Decimal
from pathlib import Path

import gcodeparser  # type: ignore[import-untyped]
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pygcode import Machine as OtherMachine  # type: ignore[import-untyped]
from pygcode.words import text2words  # type: ignore[import-untyped]

from tests.reference.interpreter import Dialect, Event, Machine, run
from tests.reference.programs import Draft, Piece, drafts, piece_programs, programs
from tests.reference.spelling import NumberStyle, Spelling, write_words
from tests.reference.words import Word, read_line

PLAIN_SPIRAL = b"""G21
G90
G0 X10 Y5 Z2
G1 X20.5 Y5 F600
Y15.25
G91
G1 X-3 Y1.5
X0.125
G3 X10 Y0 I5 J0
G90
G2 X47.625 Y36.75 I20 J0 Z4
G0 Z20
"""


def test_the_reference_imports_nothing_of_the_program_it_checks() -> None:
    """No module of the reference imports gpost."""
    for path in Path(__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            assert not any(name.split(".")[0].startswith("gpost") for name in names), path


@settings(deadline=None)
@given(drafts(blanks_in_numbers=True))
def test_writer_and_interpreter_keep_the_same_account(draft: Draft) -> None:
    """After each generated line the machine is exactly where its writer meant it to be, in the room."""
    events = run(draft.program, draft.dialect)
    for index, mark in enumerate(draft.marks):
        event = events[draft.first_line + index]
        state = event.state
        assert event.error is None, (event.error, draft.program.split(b"\n")[event.line])
        place = tuple(state.register[axis] + state.offset[axis] for axis in "XYZ")
        assert place == mark.position_mm
        assert state.register["E"] == mark.e_mm
        assert all(0 <= place[axis] <= room for axis, room in enumerate((280, 280, 250)))


@settings(deadline=None)
@given(drafts())
def test_arcs_lead_from_start_to_end(draft: Draft) -> None:
    """Turning the start about the centre by the sweep gives the end, within the arc tolerance."""
    axes = {17: (0, 1), 18: (2, 0), 19: (1, 2)}
    for event in run(draft.program, draft.dialect):
        if event.arc is None:
            continue
        first, second = axes[event.arc.plane]
        c = event.arc.centre_mm
        u, v = event.start_mm[first] - c[first], event.start_mm[second] - c[second]
        cosine, sine = math.cos(event.arc.sweep_rad), math.sin(event.arc.sweep_rad)
        end = (c[first] + u * cosine - v * sine, c[second] + u * sine + v * cosine)
        assert math.dist(end, (event.end_mm[first], event.end_mm[second])) < 0.001
        assert event.path_mm >= math.dist(event.start_mm, event.end_mm) - 0.001


@settings(deadline=None)
@given(st.data())
def test_programs_have_as_many_lines_as_asked(data: st.DataObject) -> None:
    """min_lines and max_lines bound the number of lines."""
    low = data.draw(st.integers(1, 5))
    program = data.draw(programs(min_lines=low, max_lines=low + 4))
    assert low <= len(run(program)) <= low + 4


@settings(deadline=None)
@given(programs(laying_only=True))
def test_laying_programs_do_nothing_but_lay(program: bytes) -> None:
    """With laying_only every line that pushes or moves pushes forward and is no G0."""
    for event in run(program):
        assert event.error is None
        if event.kind == "move":
            assert event.motion != 0
            assert event.e_delta_mm > 0


def laid(piece: Piece, events: list[Event], layer: int) -> list[Event]:
    """The laying moves of one layer, by the lines that the piece names."""
    ends = (*piece.layer_lines[1:], len(events))
    return [e for e in events[piece.layer_lines[layer] : ends[layer]] if e.lays_clay]


@given(piece_programs())
def test_a_piece_is_what_it_says(piece: Piece) -> None:
    """Heights, clay and path of each layer, and all clay together, are those of the executed program."""
    events = run(piece.program, piece.dialect)
    assert [event.error for event in events if event.error] == []
    for layer, height in enumerate(piece.layer_heights_mm):
        moves = laid(piece, events, layer)
        assert moves[0].line == piece.layer_lines[layer]
        assert max(max(e.start_mm[2], e.end_mm[2]) for e in moves) == pytest.approx(height, abs=1e-9)
        assert sum(e.e_delta_mm for e in moves) == pytest.approx(piece.layer_e_mm[layer], rel=1e-9)
        assert sum(e.path_mm for e in moves) == pytest.approx(piece.layer_path_mm[layer], rel=1e-9)
    assert sum(e.e_delta_mm for e in events) == pytest.approx(piece.net_e_mm, rel=1e-9, abs=1e-9)
    assert list(piece.layer_heights_mm) == sorted(piece.layer_heights_mm)


@given(st.one_of(piece_programs(rise="flat", max_layers=5), piece_programs(rise="continuous", max_layers=5)))
def test_the_wall_of_a_piece_is_flat_or_rises(piece: Piece) -> None:
    """On flat layers no laying move changes height; on a rise all after the first layer go up."""
    events = run(piece.program, piece.dialect)
    for layer in range(len(piece.layer_lines)):
        climbs = [e.end_mm[2] - e.start_mm[2] for e in laid(piece, events, layer)]
        if piece.rise == "flat" or layer == 0:
            assert climbs == [0.0] * len(climbs)
        else:
            assert min(climbs) > 0


# --- against general-purpose parsers ---


def words_of(line: bytes) -> list[Word]:
    """The words of a line as the reference reads them."""
    return list(read_line(line).words)


def plain_lines(program: bytes) -> list[bytes]:
    """Lines in the part of the language that all parsers share: no comments, no text arguments."""
    lines = [line for line in program.splitlines() if line.strip(b" \t\0") and line[:1] not in b";("]
    return [line for line in lines if not line.upper().startswith((b"M117", b"M118", b"M23", b"M30"))]


@settings(deadline=None)
@given(programs(plain=True))
def test_numbers_agree_with_gcodeparser(program: bytes) -> None:
    """The PyPI parser gcodeparser reads the same words (it knows no modal lines and no tenths of codes)."""
    for line in plain_lines(program):
        if line[:1] not in (b"G", b"M") or b"G92.1" in line:
            continue
        parsed = list(gcodeparser.parse_gcode_lines(line.decode()))
        codes = [f"{part.command[0]}{part.command[1]}" for part in parsed]
        theirs = {letter: value for part in parsed for letter, value in part.params.items()}
        ours = {w.letter: w.value for w in words_of(line) if w.letter not in "GM"}
        assert codes == [f"{w.letter}{w.value}" for w in words_of(line) if w.letter in "GM"]
        assert {k: True if v is None else float(v) for k, v in ours.items()} == theirs


@settings(deadline=None)
@given(programs(plain=True))
def test_numbers_agree_with_pygcode(program: bytes) -> None:
    """The PyPI parser pygcode reads the same words (it knows no flags)."""
    for line in plain_lines(program):
        ours = words_of(line)
        if any(word.value is None for word in ours):
            continue
        theirs = [(word.letter, float(word.value)) for word in text2words(line.decode())]
        assert [(word.letter, float(word.value or 0)) for word in ours] == theirs


def test_positions_agree_with_pygcode() -> None:
    """pygcode's machine goes to the same places: straight moves, modal lines, G90 and G91, arcs' ends."""
    other, machine = OtherMachine(), Machine()
    for line in PLAIN_SPIRAL.splitlines():
        other.process_str(line.decode())
        event = machine.execute(line)
        assert event.error is None
        theirs = (other.pos.X, other.pos.Y, other.pos.Z)
        assert event.end_mm == pytest.approx(theirs, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["0.1", "-3e-05", "123456.789012345678", "1e+21", ".5", "5.", "+0.30000000000000004"]
)
def test_numbers_are_those_of_python(text: str) -> None:
    """A number is the decimal that stands there, and as a float the one that Python reads."""
    (word,) = words_of(f"X{text}".encode())
    assert word.value == Decimal(text)
    assert float(word.value or 0) == float(text)


@pytest.mark.parametrize("lower", [False, True])
@pytest.mark.parametrize("number", ["plain", "exponent", "short exponent", "EXPONENT"])
def test_every_spelling_reads_back_as_its_words(lower: bool, number: NumberStyle) -> None:
    """Even without blanks an E word after a number is not taken for its exponent, nor the other way round."""
    words = [("X", Decimal(10)), ("Y", Decimal("-0.00003")), ("E", Decimal(-12)), ("Z", Decimal(1))]
    how = Spelling(lower=lower, number=number, gap="", plus=True)
    line = write_words(["G1"], words, how).content
    assert [(word.letter, word.value) for word in words_of(line)] == [("G", Decimal(1)), *words]


def test_a_dialect_given_is_the_dialect_used() -> None:
    """A piece asked for in a dialect is in it."""
    dialect = Dialect(home_mm=(140.0, 280.0, 0.0))

    @settings(max_examples=3, deadline=None)
    @given(piece_programs(dialect=dialect, max_layers=2))
    def check(piece: Piece) -> None:
        assert piece.dialect == dialect
        assert any(event.end_mm[1] == 280.0 for event in run(piece.program, dialect))

    check()
