"""How the reference interpreter reads a line: NIST RS274/NGC report (NISTIR 6556) and printing usage."""

from __future__ import annotations

import itertools
from decimal import Decimal

import pytest

from tests.reference.interpreter import NIST, Dialect, Machine, run


def at(x: float, y: float, z: float = 0.0, dialect: Dialect = NIST) -> Machine:
    """A machine that has gone to a place."""
    machine = Machine(dialect)
    machine.execute(f"G0 X{x} Y{y} Z{z}")
    return machine


def test_blanks_inside_a_number_mean_nothing() -> None:
    """`g0x +0. 12 34y 7` is `g0 x+0.1234 y7` (NISTIR 6556, section 3.3, published case)."""
    event = Machine(NIST).execute("g0x +0. 12 34y 7")
    assert event.end_mm == (0.1234, 7.0, 0.0)


@pytest.mark.parametrize("line", ["", "   \t", "%", "(a comment)", "; a comment", "N12", "\0\0\0", "\r"])
def test_a_line_without_words_does_nothing(line: str) -> None:
    """Blank lines, comments and lone line numbers are allowed and ignored (NISTIR 6556, section 3.3)."""
    event = at(1, 2, 3).execute(line)
    assert (event.kind, event.error, event.end_mm) == ("empty", None, (1.0, 2.0, 3.0))


@pytest.mark.parametrize(
    "line",
    ["G1X5Y6F100", "g01 x5 y6 f100", "G1.0 X+5. Y06.00 F100", "G001\tX5\tY6\tF1e+02", "N7 G1X5Y6F100 \r"],
)
def test_spellings_of_one_line_mean_the_same(line: str) -> None:
    """Case, blanks, zeros and signs carry no meaning (NISTIR 6556, sections 3.3 and 3.3.2.1)."""
    event = Machine().execute(line)
    assert (event.end_mm, event.motion, event.feed_mm_min) == ((5.0, 6.0, 0.0), 1, 100.0)


def test_the_order_of_words_carries_no_meaning() -> None:
    """All orders of a line's words do the same (NISTIR 6556, 3.3.6; the report's own case has parameters)."""
    words = ("G1", "G91", "X3", "Y4", "F60")
    results = {
        (event.end_mm, event.path_mm, event.feed_mm_min)
        for order in itertools.permutations(words)
        for event in [at(1, 1).execute(" ".join(order))]
    }
    assert results == {((4.0, 5.0, 0.0), 5.0, 60.0)}


def test_a_line_number_has_at_most_five_digits_in_the_report() -> None:
    """`N000009` is an error (NISTIR 6556, 3.3.1, published case); printing files may have more digits."""
    assert Machine(NIST).execute("N000009 G0 X1").error is not None
    assert Machine(NIST).execute("N00009 G0 X1").error is None
    assert Machine(Dialect()).execute("N000009 G0 X1").error is None


@pytest.mark.parametrize("line", ["G0 X1 N5", "N G0 X1", "N-1 G0 X1", "N1.5 G0 X1"])
def test_a_line_number_is_unsigned_whole_and_comes_first(line: str) -> None:
    """N stands before the words and is an unsigned integer (NISTIR 6556, section 3.3.1)."""
    assert Machine().execute(line).error is not None


@pytest.mark.parametrize(
    "line",
    [
        "G1 X1 #2",
        "G1 X[1+2]",
        "O100 X1",
        "G1 X1.2.3",
        "G1 X-",
        "G1 X.",
        "G1 X1 )",
        "G1 X1 @",
        "G",
        "G1 X1 \xe9",
    ],
)
def test_what_is_not_allowed_is_an_error(line: str) -> None:
    """Nothing is skipped in silence (NISTIR 6556, section 3.3); expressions are beyond this interpreter."""
    machine = at(7, 7)
    event = machine.execute(line)
    assert event.error is not None
    assert event.end_mm == (7.0, 7.0, 0.0)


@pytest.mark.parametrize("line", ["G1 X5 (open", "G1 X5 (outer (inner) )", "G1 X5 (outer (inner)"])
def test_a_comment_closes_on_its_line_and_does_not_nest(line: str) -> None:
    """An unclosed or nested comment is an error (NISTIR 6556, section 3.3.4)."""
    assert Machine().execute(line).error is not None


@pytest.mark.parametrize(
    "line", [b"G1 X5 (G1 X9)", b"(Y3) G1 X5", b"G1 (;) X5", b"G1 X5 ; X9 (open", b"G1 X5 (\xff\xe9) ;\xfe"]
)
def test_comments_never_move_the_machine(line: bytes) -> None:
    """What stands in a comment is no word (NISTIR 6556, section 3.3.4; `;` is printing usage)."""
    event = Machine().execute(line)
    assert (event.error, event.end_mm) == (None, (5.0, 0.0, 0.0))


def test_block_delete_is_a_switch() -> None:
    """A line that begins with / is skipped if the switch is on (NISTIR 6556, 3.3; the switch from memory)."""
    assert run(b"/G1 X5")[0].end_mm[0] == 5.0
    assert run(b"/G1 X5", Dialect(block_delete=True))[0].kind == "empty"


def test_a_byte_order_mark_counts_only_at_the_start_of_the_file() -> None:
    """The mark is skipped on the first line; later it is an error (common practice, no source)."""
    first, second = run(b"\xef\xbb\xbfG1 X1\n\xef\xbb\xbfG1 X2\n")
    assert first.end_mm[0] == 1.0
    assert second.error is not None


@pytest.mark.parametrize(
    ("program", "lines"), [(b"", 0), (b"\n", 1), (b"G1 X1", 1), (b"G1 X1\r\nG1 X2\r\n", 2)]
)
def test_a_line_ends_at_its_newline(program: bytes, lines: int) -> None:
    """The last line may lack its newline; after the last newline there is no line (common practice)."""
    assert len(run(program)) == lines


@pytest.mark.parametrize(
    ("line", "x", "e"),
    [
        ("G1 X-3e-05", "-0.00003", 0),
        ("G1 X1e+2", "100", 0),
        ("G1 X1.e-1", "0.1", 0),
        ("g1 x1e-01", "0.1", 0),
        ("G1 X2E+01", "20", 0),
        ("G1 X2 E-1", "2", -1),
        ("G1X2E-1", "2", -1),
        ("g1x2e-1", "2", -1),
        ("G1X2E-1.5", "2", -1.5),
        ("G1X2e-12.5", "2", -12.5),
        ("G1X2E5", "2", 5),
        ("G1 X2 e-12", "2", -12),
    ],
)
def test_an_exponent_is_told_from_an_e_word(line: str, x: str, e: float) -> None:
    """e, sign and digits right after a number are its exponent where no E word is meant (common practice)."""
    machine = Machine()
    event = machine.execute(line)
    assert event.error is None
    assert machine.state.register["X"] == Decimal(x)
    assert event.e_delta_mm == e


@pytest.mark.parametrize(
    "line",
    [
        "N3 T0*57",
        "N1 G28*18",
        "N0 M110 N0*125",
        "N1 G92 E0*70",
        "N2 G1 X10 Y20 F1500*74",
        "N123 M105*39",
        "N42 G1 X12.5 Y-3.0 E0.75*126",
        "N10 G1 X50 Y50 E1.25 F1200*0",
        "N10 G1 X50 Y50 E1.25 F1200 *32",
        "N3 T0*57 ; a comment",
        "  N3 T0*57 (blanks before the N do not count)",
        "/N3 T0*57",
    ],
)
def test_a_checksum_is_the_exclusive_or_of_the_bytes_before_it(line: str) -> None:
    """Values computed from the usual formula of serial links (common practice, no source)."""
    assert Machine().execute(line).error is None


@pytest.mark.parametrize("line", ["N3 T0*58", "N1 G92 E0*", "N3 T0*57 X1", "N3 M117 hello*1"])
def test_a_wrong_checksum_is_an_error(line: str) -> None:
    """A line whose checksum is wrong does nothing (common practice, no source)."""
    machine = Machine()
    assert machine.execute(line).error is not None
    assert machine.state == Machine().state


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("M117 G1 X5 (open", "G1 X5 (open"),
        ("M117 5 minutes; wait", "5 minutes; wait"),
        ("m117Hello", "Hello"),
        ("M117", ""),
        ("N5 M117 2*3*42", "2*3"),
        ("M117 2*3", "2*3"),
        ("M117 Größe", "Größe"),
    ],
)
def test_the_rest_of_a_message_line_is_text(line: str, shown: str) -> None:
    """After M117 nothing is a word or a comment (common practice, no source)."""
    machine = at(1, 2)
    event = machine.execute(line)
    assert (event.kind, event.error, machine.state.messages) == ("text", None, (shown,))


@pytest.mark.parametrize("code", ["M118", "M23", "M28", "M30", "M32", "M36"])
def test_file_commands_take_text(code: str) -> None:
    """The argument is text, and is not shown (common practice, no source)."""
    machine = Machine()
    event = machine.execute(f"{code} G1 X5 bowl(2).txt")
    assert (event.kind, event.error, event.end_mm, machine.state.messages) == ("text", None, (0, 0, 0), ())
