"""A sliced piece as text: what is said to be true of it, against a reading line by line.

The reader here knows nothing of how the text was made; it counts in decimals, exactly. The meaning of
G90/G91, G20/G21, G92, G3 and modal motion follows the NIST RS274/NGC report (NISTIR 6556, sections
3.3.7 and 3.5); M82/M83, the E axis, `;` comments and checksums are common printing practice.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gpost.demo.gcode import SliceStyle
from gpost.demo.shape import Piece
from tests.sliced import SlicedPiece, Truth, slice_piece, write_piece

WORD = re.compile(r"([A-Z])(-?\d+(?:\.\d+)?)")
STRAND_MM2 = math.pi / 4 * 1.75**2

PIECE = Piece(height_mm=16, radius_mm=30, lobes=3, twist_deg_per_mm=1, foot_mm=5, lean_mm=3, segments=24)
WAVED = replace(PIECE, wave_mm=1.0, wave_count=4)

STYLES: dict[str, SliceStyle] = {
    "plain": SliceStyle(),
    "rising to a level rim": SliceStyle(wall="rise", level_last=True),
    "arcs": SliceStyle(arcs=True),
    "spiral base with arcs": SliceStyle(base="spiral", arcs=True, wall="rise"),
    "relative axes": SliceStyle(relative_axes=True, z_hop=True),
    "all relative": SliceStyle(relative_axes=True, relative_e=True, wall="rise", decimals=9, e_decimals=9),
    "inches": SliceStyle(inches=True, decimals=5, arcs=True),
    "cubic millimetres": SliceStyle(e_unit="mm3", e_decimals=3),
    "inches and cubic millimetres": SliceStyle(inches=True, e_unit="mm3", relative_axes=True, decimals=4),
    "few decimals": SliceStyle(decimals=1, e_decimals=1),
    "no decimals": SliceStyle(decimals=0, g92_every_layer=True, retract=True, heaters=True),
    "trimmed": SliceStyle(trim_zeros=True, decimals=2),
    "hopping": SliceStyle(z_hop=True),
    "drawing back, relative": SliceStyle(retract=True, relative_e=True, prime_in_place=True),
    "heated": SliceStyle(heaters=True, comments=True),
    "zeroed": SliceStyle(g92_every_layer=True, retract=True),
    "carriage returns": SliceStyle(newline="\r\n", comments=True),
    "numbered": SliceStyle(numbered=True, comments=True),
    "modal": SliceStyle(modal_g=True, arcs=True, retract=True),
    "lower case": SliceStyle(lowercase=True, numbered=True, modal_g=True),
    "primed": SliceStyle(prime_in_place=True),
    "slow first": SliceStyle(slow_first_factor=0.5, feed_mm_min=1234.5, travel_feed_mm_min=5000),
}


@dataclass(frozen=True)
class Move:
    """One move as read: its line, code, ends in mm, E in units, total E behind it, and feed."""

    line: int
    code: int
    start: tuple[Decimal, ...]
    end: tuple[Decimal, ...]
    e: Decimal
    total_e: Decimal
    feed: Decimal

    @property
    def lays(self) -> bool:
        """Whether clay flows while the nozzle goes."""
        return self.e > 0 and self.start != self.end

    @property
    def path_mm(self) -> float:
        """Its length; an arc of the base is half a circle."""
        chord = math.sqrt(sum((b - a) ** 2 for a, b in zip(self.start, self.end, strict=True)))
        return float(chord * math.pi / 2 if self.code == 3 else chord)


def commands(text: bytes) -> list[str]:
    """The lines without comments, numbers and checksums, in capitals."""
    bare = [re.sub(r"^N\d+ |\*\d+$", "", line.upper()) for line in text.decode().splitlines()]
    return [re.sub(r"^N\d+ |\*\d+$|;.*", "", line) for line in bare]


def read(text: bytes) -> list[Move]:
    """Follow the program line by line. E is in mm of its axis, inches turned into mm."""
    at, counter, total, feed = [Decimal(0)] * 3, Decimal(0), Decimal(0), Decimal(0)
    unit, relative, e_relative, code = Decimal(1), False, False, 0
    moves = []
    for line, command in enumerate(commands(text)):
        words = {letter: Decimal(value) for letter, value in WORD.findall(command)}
        g, m = words.get("G"), words.get("M")
        if m in (82, 83):
            e_relative = m == 83
        elif g in (20, 21):
            unit = Decimal("25.4") if g == 20 else Decimal(1)
        elif g in (90, 91):
            relative = e_relative = g == 91
        elif g == 92:
            counter = words["E"] * unit
        elif m is None and g != 28 and words:
            code = int(words.get("G", code))
            feed = words["F"] * unit if "F" in words else feed
            start = tuple(at)
            for axis, letter in enumerate("XYZ"):
                if letter in words:
                    at[axis] = words[letter] * unit + (at[axis] if relative else 0)
            goal = words["E"] * unit + (counter if e_relative else 0) if "E" in words else counter
            total, e, counter = total + goal - counter, goal - counter, goal
            moves.append(Move(line, code, start, tuple(at), e, total, feed))
    return moves


def unit_mm3(style: SliceStyle) -> float:
    """Clay of one mm of the E axis."""
    return STRAND_MM2 if style.e_unit == "filament" else 1.0


def step_mm3(style: SliceStyle) -> float:
    """Clay of one unit of E's last decimal."""
    return unit_mm3(style) * (25.4 if style.inches else 1.0) / 10.0**style.e_decimals


def layer_of(moves: list[Move], truth: Truth) -> list[list[Move]]:
    """The laying moves of every layer, parted at its first lines."""
    edges = [*truth.first_line.tolist(), truth.lines]
    laying = [move for move in moves if move.lays]
    return [[m for m in laying if a <= m.line < b] for a, b in pairwise(edges)]


def assert_true(sliced: SlicedPiece, piece: Piece, style: SliceStyle) -> None:
    """Hold everything that is said to be true against the text."""
    truth, moves = sliced.truth, read(sliced.text)
    assert sliced.text.endswith(style.newline.encode())
    assert truth.lines == sliced.text.count(style.newline.encode())
    layers = layer_of(moves, truth)
    assert sum(map(len, layers)) == sum(move.lays for move in moves)
    assert [layer[0].line for layer in layers] == truth.first_line.tolist()
    by_line = {move.line: move for move in moves}
    assert all(by_line[line].lays for line in truth.seam_line.tolist())
    ends = np.array([(m.start, m.end) for m in moves if m.lays], dtype=float).reshape(-1, 3)
    np.testing.assert_allclose(truth.bounds_mm, np.column_stack([ends.min(0), ends.max(0)]), atol=1e-9)
    for number, layer in enumerate(layers):
        path_mm = math.fsum(move.path_mm for move in layer)
        z = [float(end[2]) for move in layer for end in (move.start, move.end)]
        clay_mm3 = float(sum(move.e for move in layer)) * unit_mm3(style)
        assert (truth.low_mm[number], truth.height_mm[number]) == pytest.approx((min(z), max(z)), abs=1e-9)
        assert truth.path_mm[number] == pytest.approx(path_mm, rel=1e-12)
        assert truth.laid_mm3[number] == pytest.approx(path_mm * piece.section_mm2, rel=1e-12)
        assert abs(truth.laid_mm3[number] - clay_mm3) <= step_mm3(style) * 1.0001
    assert abs(truth.total_ml * 1000 - float(moves[-1].total_e) * unit_mm3(style)) <= step_mm3(style) * 0.5001
    assert truth.total_ml == pytest.approx(truth.lead_in_ml + truth.laid_ml.sum(), rel=1e-12)


@pytest.mark.parametrize("name", STYLES)
@pytest.mark.parametrize("piece", [PIECE, WAVED], ids=["lobed", "waved"])
def test_the_truth_is_in_the_text(name: str, piece: Piece) -> None:
    """Lines, heights, paths, volumes and bounds are those of a reading line by line, in every style."""
    assert_true(slice_piece(piece, STYLES[name]), piece, STYLES[name])


def test_every_option_is_tried() -> None:
    """Every option of a style stands in some tried style with a value that is not its default."""
    plain = vars(SliceStyle()) | {"level_first": None}
    tried = {key for style in STYLES.values() for key, value in vars(style).items() if value != plain[key]}
    assert tried == set(plain)


PIECES = st.builds(
    Piece,
    height_mm=st.floats(4, 24),
    radius_mm=st.floats(15, 60),
    profile=st.sampled_from(["cylinder", "cone", "wave", "bowl", "bottle"]),
    lobes=st.sampled_from([0, 3, 7, 12]),
    twist_deg_per_mm=st.floats(-3, 3),
    lean_mm=st.floats(-5, 5),
    layer_mm=st.floats(0.8, 2.5),
    bead_width_mm=st.floats(3, 6),
    base_layers=st.integers(0, 1),
    wave_mm=st.sampled_from([0.0, 1.5]),
    wave_count=st.integers(0, 5),
    segments=st.integers(3, 30),
)
STYLE_OPTIONS: dict[str, Any] = {
    "wall": st.sampled_from(["flat", "rise"]),
    "base": st.sampled_from(["rings", "spiral"]),
    "e_unit": st.sampled_from(["filament", "mm3"]),
    "decimals": st.integers(3, 7),
    "e_decimals": st.integers(3, 7),
    "newline": st.sampled_from(["\n", "\r\n", "\r"]),
} | {name: st.booleans() for name, value in vars(SliceStyle()).items() if isinstance(value, bool)}


@settings(max_examples=60, deadline=None)
@given(PIECES, st.builds(SliceStyle, **STYLE_OPTIONS))
def test_the_truth_holds_for_any_piece_in_any_style(piece: Piece, style: SliceStyle) -> None:
    """Whatever the form and the mix of options, the truth is that of the text."""
    assert_true(slice_piece(piece, style), piece, style)


@pytest.mark.parametrize("e_decimals", [0, 1, 5])
def test_rounding_never_adds_up(e_decimals: int) -> None:
    """Relative and absolute E agree to the last digit after every move, and with the exact total."""
    piece = replace(PIECE, segments=200, height_mm=60)
    absolute = SliceStyle(e_decimals=e_decimals)
    texts = [slice_piece(piece, replace(absolute, relative_e=relative)) for relative in (False, True)]
    one, other = ([move.total_e for move in read(sliced.text)] for sliced in texts)
    assert len(one) > 6000
    assert one == other
    exact = texts[0].truth.total_ml * 1000
    assert abs(float(other[-1]) * STRAND_MM2 - exact) <= step_mm3(absolute) * 0.5001


@pytest.mark.parametrize("decimals", [0, 3])
def test_zeroing_the_counter_changes_no_clay(decimals: int) -> None:
    """G92 E0 between the layers, and only there, leaves each move's clay as it was."""
    style = SliceStyle(decimals=decimals)
    plain, zeroed = (slice_piece(PIECE, replace(style, g92_every_layer=on)) for on in (False, True))
    assert [m.e for m in read(plain.text)] == [m.e for m in read(zeroed.text)]
    places = [line for line, command in enumerate(commands(zeroed.text)) if command == "G92 E0"][1:]
    last = [layer[-1].line for layer in layer_of(read(zeroed.text), zeroed.truth)]
    assert len(places) == PIECE.layers
    assert all(a < place for a, place in zip(last, places[1:], strict=False))
    assert all(place < b for place, b in zip(places, zeroed.truth.first_line, strict=True))


@pytest.mark.parametrize("decimals", [1, 4])
def test_relative_axes_reach_the_same_points(decimals: int) -> None:
    """Increments end at the very points that absolute words name."""
    absolute, relative = (
        slice_piece(PIECE, SliceStyle(decimals=decimals, relative_axes=on)).text for on in (False, True)
    )
    assert [m.end for m in read(absolute)] == [m.end for m in read(relative)]
    assert relative.count(b"G91\nM82\n") == 1
    assert relative.index(b"G91") < relative.rindex(b"G90\nM82\n")


def test_inches_are_the_same_piece() -> None:
    """A file in inches lays the same path and clay, to the rounding of its words."""
    mm, inch = (slice_piece(PIECE, SliceStyle(inches=on, decimals=7)).truth for on in (False, True))
    np.testing.assert_allclose(inch.path_mm, mm.path_mm, rtol=1e-6)
    np.testing.assert_allclose(inch.bounds_mm, mm.bounds_mm, atol=1e-5)
    assert {round(m.feed) for m in read(slice_piece(PIECE, SliceStyle(inches=True)).text)} == {1800, 3600}


def test_a_rising_wall_has_one_layer_a_turn() -> None:
    """Above its level base, each turn starts on the seam and rises evenly by one layer."""
    sliced = slice_piece(PIECE, SliceStyle(wall="rise", level_last=True))
    truth = sliced.truth
    assert truth.kind.tolist() == [0, 0, 1, 1, 1, 1, 1, 1, 0]
    np.testing.assert_allclose(truth.height_mm, [2, 4, 6, 8, 10, 12, 14, 16, 16], atol=1e-12)
    np.testing.assert_allclose(truth.low_mm[2:], [4, 6, 8, 10, 12, 14, 16], atol=1e-12)
    rising = [m for m in read(sliced.text) if truth.seam_line[2] <= m.line < truth.seam_line[8]]
    assert all(move.lays for move in rising)
    steps = np.diff([float(move.end[2]) for move in rising])
    np.testing.assert_allclose(steps, 2 / PIECE.segments, atol=1e-3)
    np.testing.assert_array_equal(np.diff(truth.seam_line[2:]), PIECE.segments)


@pytest.mark.parametrize("style", [SliceStyle(), SliceStyle(wall="rise")], ids=["flat", "rising"])
def test_every_turn_begins_on_the_seam(style: SliceStyle) -> None:
    """Each turn of the wall begins straight behind the axis, on the side of growing X."""
    sliced = slice_piece(PIECE, style)
    by_line = {move.line: move for move in read(sliced.text)}
    starts = [by_line[line].start for line in sliced.truth.seam_line.tolist()]
    assert all(y == 150 and x > 150 for x, y, _ in starts)


@pytest.mark.parametrize("inches", [False, True])
def test_arcs_are_the_circles_of_the_base(inches: bool) -> None:
    """Arcs lay the clay of the rings they stand for, and both ends are at one and the same radius.

    The report allows the two radii of an arc to differ by 0.002 mm (NISTIR 6556, section 3.5.3.2).
    """
    piece = replace(PIECE, segments=1000)
    style = SliceStyle(arcs=True, inches=inches, decimals=4)
    arcs, straight = slice_piece(piece, style), slice_piece(piece, replace(style, arcs=False))
    assert arcs.truth.laid_mm3[0] == pytest.approx(straight.truth.laid_mm3[0], rel=1e-4)
    words = [dict(WORD.findall(line)) for line in commands(arcs.text)]
    halves = [(move, words[move.line]) for move in read(arcs.text) if move.code == 3]
    assert len(halves) == 2 * 2 * 4
    for move, said in halves:
        centre = move.start[0] + Decimal(said["I"]) * (Decimal("25.4") if inches else 1)
        assert Decimal(said["J"]) == 0
        assert abs(move.start[0] - centre) == abs(move.end[0] - centre)
        assert move.start[1] == move.end[1]


def test_a_plastic_file_heats_and_waits() -> None:
    """With heaters the file heats and waits before it homes, brings the fan up by layer, and ends cold."""
    lines = commands(slice_piece(PIECE, STYLES["heated"]).text)
    hot = [lines.index(line) for line in ("M140 S60", "M104 S205", "M190 S60", "M109 S205", "G28")]
    assert hot == sorted(hot)
    assert [line for line in lines if line.startswith("M10") and "S" in line][2:] == [
        "M106 S85",
        "M106 S170",
        "M106 S255",
        "M104 S0",
    ]
    assert not any(line.startswith(("M1", "M2")) for line in commands(slice_piece(PIECE).text))


def test_numbers_and_checksums_stand_on_every_command() -> None:
    """Commands count up from N1, each with the exclusive or of its bytes; comments have neither."""
    lines = slice_piece(PIECE, STYLES["numbered"]).text.decode().splitlines()
    numbered = [line for line in lines if not line.startswith(";")]
    for number, line in enumerate(numbered, 1):
        body, _, check = line.rpartition("*")
        assert body.startswith(f"N{number} ")
        assert int(check) == int(np.bitwise_xor.reduce(np.frombuffer(body.encode(), np.uint8)))


def test_modal_moves_name_their_code_once() -> None:
    """With modal motion a G0, G1 or G3 word stands only where the kind of move changes."""
    moves, lines = (
        read(slice_piece(PIECE, STYLES["modal"]).text),
        commands(slice_piece(PIECE, STYLES["modal"]).text),
    )
    codes = [move.code for move in moves]
    says = [lines[move.line].startswith("G") for move in moves]
    assert says == [True, *(a != b for a, b in pairwise(codes))]
    assert [m.end for m in moves] == [
        m.end for m in read(slice_piece(PIECE, replace(STYLES["modal"], modal_g=False)).text)
    ]


def test_lower_case_is_lower_throughout() -> None:
    """In lower case not one capital is left, and the checksums are of the bytes as they stand."""
    text = slice_piece(PIECE, replace(STYLES["lower case"], comments=True)).text
    assert text == text.lower()
    body, _, check = text.splitlines()[1].rpartition(b"*")
    assert int(check) == int(np.bitwise_xor.reduce(np.frombuffer(body, np.uint8)))


@pytest.mark.parametrize("relative_e", [False, True])
def test_what_is_drawn_back_is_given_again(relative_e: bool) -> None:
    """Every travel between beads draws clay back before it and gives as much again after it."""
    sliced = slice_piece(PIECE, SliceStyle(retract=True, z_hop=True, relative_e=relative_e))
    pushes = [move for move in read(sliced.text) if move.start == move.end]
    assert len(pushes) > 2 * PIECE.layers
    volumes = np.array([float(move.e) for move in pushes]) * STRAND_MM2
    np.testing.assert_allclose(volumes, np.tile([-120.0, 120.0], len(pushes) // 2), atol=1e-4)
    assert sliced.truth.total_ml == pytest.approx(slice_piece(PIECE).truth.total_ml, rel=1e-12)


def test_a_hop_goes_over_the_piece() -> None:
    """With hops no travel moves sideways less than 4 mm above all clay laid so far."""
    top = Decimal(0)
    hops = 0
    for move in read(slice_piece(PIECE, SliceStyle(z_hop=True)).text):
        if move.lays:
            top = max(top, move.end[2])
        elif move.start[:2] != move.end[:2]:
            assert move.start[2] == move.end[2] >= top + 4
            hops += 1
    assert hops >= 2 * PIECE.layers - 1


def test_a_prime_in_place_is_clay_of_the_file() -> None:
    """The prime is one push before the piece, counted in the total and in no layer."""
    sliced = slice_piece(PIECE, SliceStyle(prime_in_place=True))
    first = next(move for move in read(sliced.text) if move.e > 0)
    assert first.start == first.end
    assert float(first.e) * STRAND_MM2 == pytest.approx(12000, abs=1e-4)
    assert sliced.truth.lead_in_ml == 12.0
    assert sliced.truth.first_line[0] > first.line
    plain = slice_piece(PIECE).truth
    assert sliced.truth.total_ml == pytest.approx(plain.total_ml + 12, rel=1e-12)
    np.testing.assert_array_equal(sliced.truth.laid_mm3, plain.laid_mm3)


def test_feeds_are_said_when_they_change() -> None:
    """Beads go at their feed, slower by the factor in the first layer, travels at theirs."""
    style = STYLES["slow first"]
    sliced = slice_piece(PIECE, style)
    moves = read(sliced.text)
    assert {m.feed for m in moves if m.lays and m.line < sliced.truth.first_line[1]} == {Decimal("617.25")}
    assert {m.feed for m in moves if m.lays and m.line >= sliced.truth.first_line[1]} == {Decimal("1234.5")}
    assert {m.feed for m in moves if m.code == 0} == {Decimal(5000)}


def test_trimmed_numbers_are_the_same_numbers() -> None:
    """Trimming shortens the file and changes no move."""
    full, trimmed = (slice_piece(PIECE, SliceStyle(decimals=2, trim_zeros=on)).text for on in (False, True))
    assert len(trimmed) < len(full)
    assert read(trimmed) == read(full)
    assert not re.search(rb"\.\d*0\b", trimmed)


def test_a_piece_goes_to_a_file_as_it_is(tmp_path: Path) -> None:
    """What is written to a file is the sliced text, and the truth comes back."""
    sliced = slice_piece(PIECE, STYLES["heated"])
    truth = write_piece(tmp_path / "piece.gcode", PIECE, STYLES["heated"])
    assert (tmp_path / "piece.gcode").read_bytes() == sliced.text
    assert truth.lines == sliced.truth.lines
    assert truth.total_ml == sliced.truth.total_ml
