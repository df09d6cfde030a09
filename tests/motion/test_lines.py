"""Which lines move, and which have no defined meaning."""

from __future__ import annotations

import pytest

from gpost.errors import SourceError
from gpost.motion.codes import REFUSED_G, REFUSED_M
from gpost.motion.lines import Lines
from gpost.read.source import Chunk
from gpost.read.words import read_block


def lines_of(*rows: str) -> Lines:
    """The lines of one block that begins at line 10 of its file."""
    data = "\n".join(rows).encode()
    return Lines(read_block(Chunk(data, 0, 10)))


@pytest.mark.parametrize(
    ("row", "moves"),
    [
        ("G1 X5", True),
        ("X5", True),
        ("E5", True),
        ("G1", False),
        ("G1 F500", False),
        ("F500", False),
        # modal codes claim no axis words: NIST RS274/NGC report (NISTIR 6556), sections 3.3.7 and 3.8
        ("G91 X5", True),
        ("X5 G21 G17 G94", True),
        # one-time and unknown codes, M and T do: section 3.4 and printing usage
        ("G92 X5", False),
        ("G28 X5", False),
        ("G4 P5", False),
        ("G10", False),
        ("M92 X80 E90", False),
        ("M106 S5 X5", False),
        ("T1 X5", False),
        ("M104 S5 T1", False),
        # unless the line says G0 to G3 itself
        ("G1 M106 S5 X5", True),
        ("G1 X5 T1", True),
        ("G0 M0", False),
        # arcs
        ("G2 X5 I5", True),
        ("G3 I5 J0", True),
        ("G2 F500", False),
        ("G1 R5", False),
        ("; X5", False),
        ("M117 X5", False),
        ("", False),
    ],
)
def test_which_lines_move(row: str, moves: bool) -> None:
    """A line moves by its own G0 to G3 or by the modal one, where nothing else claims its axis words."""
    assert lines_of("G90", row, "M5").is_move.tolist() == [False, moves, False]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        # two of one group on a line: section 3.3.5
        ("G0 G1 X5", "two codes of one kind"),
        ("G17 G18", "two codes of one kind"),
        ("G20 G21", "two codes of one kind"),
        ("G90 G91 X5", "two codes of one kind"),
        ("G1 X5 G80", "two codes of one kind"),
        ("G28 G92 X0", "two codes of one kind"),
        ("M82 M83", "two codes of one kind"),
        ("M106 M107", "two codes of one kind"),
        ("M0 M2", "two codes of one kind"),
        # the axis words used twice: section 3.4
        ("G1 X1 G92 X0", "uses the axis words itself"),
        ("G0 G28 X0", "uses the axis words itself"),
        ("G1 G29 X0", "uses the axis words itself"),
        # a letter twice: section 3.3.5
        ("G1 X1 X2", "two X words"),
        ("E1 E2", "two E words"),
        ("G92 Y1 Y2", "two Y words"),
        ("G1 X1 F1 F2", "two F words"),
        ("G2 X1 I1 I2", "two I words"),
        # numbers missing or beyond sense
        ("G1 X", "X on this line has no number"),
        ("G92 E", "E on this line has no number"),
        ("G1 Y5 F", "F"),
        ("G", "G on this line has no number"),
        ("M", "M on this line has no number"),
        ("T", "T"),
        ("T-1", "T"),
        ("T1.5", "T"),
        ("G1 X1 F-5", "F"),
        ("G1 X1 F0", "F"),
        ("G1 X1000001", "too large"),
        ("G1 E-9999999999", "too large"),
        ("G92 X1e+300", "too large"),
        ("G1 X5 F100000000", "F"),
        ("G1.05 X5", "no code"),
        ("G-1 X5", "no code"),
        ("M99999999999999999999", "no code"),
        # what is not known
        ("G123 X5", "does not know G123"),
        ("G1.1 X5", "does not know G1.1"),
        ("G10 L2 P1 X5", "G10 sets an origin or a tool"),
        ("G10 P1 S200", "G10 sets an origin or a tool"),
        ("G10 L2", "G10 sets an origin or a tool"),
        ("G10 X5", "G10 sets an origin or a tool"),
        ("G1 X1 F0", "F0 is not above 0, as a feed must be"),
        ("G1 X1 F-5", "F-5 is not above 0, as a feed must be"),
        ("G1 X1 F1e-9", "is too small"),
        ("I5 J5", "part of an arc"),
        ("R5", "part of an arc"),
        ("X150 M8", "beside M8 without G0 or G1"),
        ("E5 M9", "beside M9 without G0 or G1"),
        ("G90 K5", "part of an arc"),
    ],
)
def test_a_line_without_a_defined_meaning(row: str, reason: str) -> None:
    """It is refused, with its line in the file counted from 1, and the reason; of several the first."""
    for rows in ((row, "G90"), (row, "G90", row), (row, row)):
        with pytest.raises(SourceError, match=f"line 12: .*{reason}"):
            lines_of("G21", *rows)


@pytest.mark.parametrize("code", sorted(REFUSED_G))
def test_a_g_code_that_can_not_be_followed(code: int) -> None:
    """Coordinates, cycles and compensation that gpost doesn't know are refused, alone or with words."""
    for words in ("", " X5 Y5"):
        with pytest.raises(SourceError, match=f"line 11: G{code / 10:g} "):
            lines_of(f"G{code / 10:g}{words}")


@pytest.mark.parametrize("code", sorted(REFUSED_M))
def test_an_m_code_that_can_not_be_followed(code: int) -> None:
    """Subprograms are refused."""
    with pytest.raises(SourceError, match="subprogram"):
        lines_of(f"M{code // 10} P100")


def test_letters_that_may_repeat() -> None:
    """Printing machines don't check other letters, and axis words of other codes are theirs alone."""
    assert not lines_of("M104 S5 S6", "M92 X80 X90", "M201 X", "G28 X Y").is_move.any()


def test_unknown_codes_without_axis_words_stay() -> None:
    """A code that gpost doesn't know, and that has nowhere to go, is left to the machine."""
    assert lines_of("G123 S5").other.tolist() == [1230]


def test_moves_are_counted_by_line() -> None:
    """`before` is the number of moves before each line."""
    lines = lines_of("G1 X1", "M5", "X2", "X3")
    assert lines.before.tolist() == [0, 1, 1, 2]
    assert lines.move_line.tolist() == [0, 2, 3]


def test_feed_words_that_count() -> None:
    """F counts on moves, alone, and beside modal codes; elsewhere it is another code's."""
    lines = lines_of("G1 X1 F100", "F200", "G21 F300", "M204 F400", "G28 F500", "G1 F600 M106")
    assert lines.feed_line.tolist() == [0, 1, 2, 5]


def test_axis_words_after_g80() -> None:
    """G80 ends all motion; what to do with axis words then is not defined (section 3.5.16)."""
    assert not lines_of("G80", "M5").is_move.any()
