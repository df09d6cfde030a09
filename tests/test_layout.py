"""How text is laid out: by what stands in it on a terminal, and as ever in a file."""

from __future__ import annotations

import textwrap
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wcwidth import wcswidth

from gpost.common.columns import READABLE
from gpost.common.layout import (
    Column,
    Line,
    Paragraph,
    Part,
    Table,
    apart,
    breadth,
    laid_out,
    of_message,
    shortened,
)

WORDS = st.lists(st.text("abc-.äé釉薬", min_size=1, max_size=14), min_size=1, max_size=12)
TEXTS = WORDS.map(" ".join)
CELLS = st.lists(TEXTS, min_size=1, max_size=5)
PIECES = (Column("piece", 8, number=False, ends=2), Column("ml", 5), Column("said", number=False, gap=2))


@given(TEXTS, st.sampled_from(["", "  - ", "    "]), st.booleans())
def test_a_file_s_paragraphs_are_those_of_the_standard_library(text: str, first: str, hyphens: bool) -> None:
    """As `textwrap` breaks them at 80 columns."""
    lines = textwrap.wrap(text, 80, initial_indent=first, subsequent_indent="  ", break_on_hyphens=hyphens)
    assert laid_out([Paragraph(text, first, "  ", hyphens)]).splitlines() == lines


@given(st.lists(st.text("abc-.", min_size=1, max_size=14), min_size=1, max_size=40), st.integers(40, 200))
def test_a_terminal_s_paragraphs_are_too(words: list[str], width: int) -> None:
    """But no wider than can be read, and with words whole; where they are in letters of one column."""
    lines = textwrap.wrap(" ".join(words), min(width, READABLE), break_long_words=False, break_on_hyphens=False)
    assert laid_out([Paragraph(" ".join(words))], width).splitlines() == lines


@given(TEXTS)
def test_letters_are_as_wide_as_a_terminal_has_them(text: str) -> None:
    """By the tables of Unicode: the reference is the library wcwidth."""
    assert breadth(text) == wcswidth(text)


@pytest.mark.parametrize(("text", "columns"), [("", 0), ("weiß", 4), ("白", 2), ("ﾊｸ", 2), ("Ａ", 2), ("e\u0301", 1), ("पु", 1), ("ab\u200d", 2)])
def test_wide_and_narrow_letters(text: str, columns: int) -> None:
    """Wide and full-width letters have two columns, marks upon others none (UAX #11)."""
    assert breadth(text) == columns == wcswidth(text)


@given(CELLS, st.integers(40, 200))
def test_what_stands_in_a_table_stands_at_any_width(texts: list[str], width: int) -> None:
    """No word is lost, and none of them makes a line wider that could stand beside others."""
    rows = [(text, f"{12 * number}", text[::-1]) for number, text in enumerate(texts)]
    found = laid_out([Table(PIECES, rows)], width)
    wanted = Counter(" ".join(cell for row in rows for cell in row).split())
    assert not wanted - Counter(found.split())
    for line in found.splitlines():
        assert breadth(line) <= width
    for line in laid_out([Paragraph(text) for text in texts], width).splitlines():
        assert breadth(line) <= width


def test_columns_by_their_content() -> None:
    """Numbers to the right, texts to the left; what is narrow takes no more than it needs."""
    rows = [("bowl", "99", "dry"), ("vase", "277", "a crack")]
    assert laid_out([Table(PIECES, rows)], 80) == "piece   ml  said\nbowl    99  dry\nvase   277  a crack\n"
    assert laid_out([Table(PIECES, rows, margin="  ")], 80).startswith("  piece   ml  said\n")


def test_texts_are_broken_in_their_cells() -> None:
    """Each below itself; the one that is broken most often gets the room."""
    rows = [("bowl", "99", "dry, and it has a crack at its foot since the slab was dry")]
    assert laid_out([Table(PIECES, rows)], 40) == (
        "piece  ml  said\nbowl   99  dry, and it has a crack at\n           its foot since the slab was\n           dry\n"
    )


def test_a_long_name_stands_alone() -> None:
    """With the rest of its row below it, in its columns; others don't make room for it."""
    rows = [("b" * 50, "99", "dry"), ("vase", "277", "wet")]
    assert laid_out([Table(PIECES, rows)], 40) == f"piece   ml  said\n{'b' * 50}\n        99  dry\nvase   277  wet\n"


def test_where_there_is_no_room_a_row_is_a_block() -> None:
    """Each value with its name, the longer one if it has one; as many on a line as fit."""
    columns = (Column("piece", number=False), *(Column(f"x {what[0]}", long=f"{what} ratio") for what in ("mass", "time", "water")))
    rows = [("bowl", "0.1234567", "1.1234567", "2.1234567"), ("vase",)]
    assert laid_out([Table(columns, rows)], 40) == (
        "piece        x m        x t        x w\nbowl   0.1234567  1.1234567  2.1234567\nvase\n"
    )
    wide = [(*row, *("9" * 12,) * (3 if len(row) > 1 else 0)) for row in rows]
    more = (*columns, *(Column(name) for name in "xyz"))
    assert laid_out([Table(more, wide)], 40) == (
        "piece: bowl  mass ratio: 0.1234567\n  time ratio: 1.1234567\n  water ratio: 2.1234567\n"
        "  x: 999999999999  y: 999999999999\n  z: 999999999999\n\npiece: vase\n"
    )


def test_blocks_are_broken_in_the_same_places() -> None:
    """Whatever stands in them, with an empty line between; what stands between rows follows the one before."""
    columns = [Column(name * 5, number=False) for name in "abcdefgh"]
    short, long = ("1",) * 8, ("1" * 9,) * 8
    found = laid_out([Table(columns, [short, Paragraph("so it is", "  "), long, ("", *short[1:])])], 40)
    assert found == (
        "aaaaa: 1  bbbbb: 1\n  ccccc: 1  ddddd: 1\n  eeeee: 1  fffff: 1\n  ggggg: 1  hhhhh: 1\n  so it is\n\n"
        "aaaaa: 111111111  bbbbb: 111111111\n  ccccc: 111111111  ddddd: 111111111\n"
        "  eeeee: 111111111  fffff: 111111111\n  ggggg: 111111111  hhhhh: 111111111\n\n"
        "bbbbb: 1\n  ccccc: 1  ddddd: 1\n  eeeee: 1  fffff: 1\n  ggggg: 1  hhhhh: 1\n"
    )
    name = ("n" * 60, "9" * 20)
    assert laid_out([Table([Column("piece"), Column("ml")], [name, name])], 40).count("\n\n") == 1


def test_a_file_s_table_keeps_its_columns() -> None:
    """Whatever stands in it; of a long name both ends stay, and other long texts go on."""
    rows = [("bowl", "99", "dry"), ("a-long-name", "277", "wet"), ("early",), Paragraph("between", "  ")]
    assert laid_out([Table(PIECES, rows)]) == (
        "piece       ml  said\nbowl        99  dry\na-l...me   277  wet\nearly\n  between\n"
    )
    assert shortened("vase", 8, 2) == "vase"
    assert shortened("vase-of-mine", 8, 0) == "vase-..."


def test_a_row_may_begin_with_nothing() -> None:
    """Its columns stay where they are."""
    columns = (Column("", number=False), Column("ml", 5))
    assert laid_out([Table(columns, [("", "9"), ("", "12")])]) == "    ml\n     9\n    12\n"
    assert laid_out([Table(columns, [("", "9"), ("", "12")])], 80) == "  ml\n   9\n  12\n"


def test_a_heading_may_be_longer_than_the_terminal() -> None:
    """It stands alone, as a long name does."""
    table = Table((Column("h" * 50, number=False), Column("ml")), [("n" * 60, "9")])
    assert laid_out([table], 40) == f"{'h' * 50}\n  ml\n{'n' * 60}\n   9\n"
    assert laid_out([Table((Column("h" * 50),), [("9",)])], 40) == f"{'h' * 50}: 9\n".replace(": 9", ":\n    9")


def test_a_table_without_names_has_no_head() -> None:
    """Nor has a block of it names."""
    table = Table((Column("", 6, number=False), Column("", number=False)), [("sure", "How sure it is")])
    assert laid_out([table]) == "sure   How sure it is\n"
    assert laid_out([table], 80) == "sure  How sure it is\n"


def test_a_line_is_one_in_a_file() -> None:
    """On a terminal it is broken, if it may be, with a hanging indent or with its own."""
    text = "  a line that is rather long for a terminal of so few columns"
    parts: list[Part] = [text, Line(text), Line(text, "  # ")]
    assert laid_out(parts) == f"{text}\n" * 3
    assert laid_out(parts, 40) == (
        f"  a line that is rather long for a\n    terminal of so few columns\n{text}\n"
        "  a line that is rather long for a\n  # terminal of so few columns\n"
    )


def test_margins_give_way_on_a_narrow_terminal() -> None:
    """A word is not driven over the edge by blanks."""
    part = Paragraph("pulverised, then watered", " " * 24, " " * 24)
    assert laid_out([part], 40).splitlines() == [" " * 16 + "pulverised, then watered"]
    assert laid_out([part], 80).startswith(" " * 24)


@pytest.mark.parametrize("width", range(40, 81))
def test_what_stands_further_in_does_so_at_any_width(width: int) -> None:
    """By a level of four columns; and what goes on below a mark stands below its text, up to twelve."""
    ins = [len(line) - 1 for line in laid_out([Paragraph("a", " " * 4 * at) for at in range(8)], width).splitlines()]
    assert all(low < high for low, high in pairwise(ins))
    for mark in ("  - ", "  10. ", "   0:10  ", f"{'name':<12}"):
        for part in (Paragraph("so " * 30, mark, " " * len(mark)), Paragraph(mark + "so " * 30, "", " " * len(mark))):
            assert {line.index("so") for line in laid_out([part], width).splitlines()} == {len(mark)}


def test_sections_stand_apart() -> None:
    """By an empty line, but for those with nothing in them."""
    assert list(apart([[], ["a", "b"], iter([]), ["c"]])) == ["a", "b", "", "c"]
    assert laid_out(["a", "", "b"], 80) == "a\n\nb\n"


def test_places_in_a_message_stay_whole() -> None:
    """What stands further in is from a file, and a mark stands under it."""
    place = f"    {'x ' * 30}\n      ^"
    assert laid_out(of_message(f"Error:\nslip.yaml: {'no ' * 20}\n{place}"), 40).endswith(f"\n{place}\n")


@pytest.mark.parametrize("typed", ["`gpost log add`", "`pip install -e '.[test]'`", "`where: exact`", "(gpost calibrate --tube-folded)", "`two-colours.yaml`", "-140 140 -140 140", "round 300 300"])
@pytest.mark.parametrize("width", [40, 57, 80, None])
def test_what_is_to_be_typed_stands_on_one_line(typed: str, width: int | None) -> None:
    """Wherever it comes in a line, and whatever stands at it: code, a command in parentheses, an answer."""
    for before in range(90):
        text = f"{'x' * 9} {'y ' * before}{typed}, and so on"
        for hyphens in (False, True):
            assert typed.removeprefix("round ") in laid_out([Paragraph(text, hyphens=hyphens)], width)


def test_what_is_to_be_typed_stands_on_one_line_in_a_table() -> None:
    """Where it leaves room for the other columns; where it doesn't, it is broken as other words are."""
    columns = (Column("key", number=False), Column("what it is for", number=False))
    typed, said = "`where: exact`", "it is where it was " * 8
    for width in range(40, 120):
        assert typed in laid_out([Table(columns, [(typed, said)])], width)
        assert typed in laid_out([Table(columns, [("where", f"{said}{typed} {said}")])], width)
    long = f"`{'gpost run ' * 6}`"
    assert len(laid_out([Table(columns, [(long, said)])], 40).split("\n")[1]) <= 40


def test_code_that_is_longer_than_a_line_is_broken_at_its_blanks() -> None:
    """But not between a number and its unit."""
    lines = laid_out([Paragraph(f"`{'go on ' * 5}60 ml {'go on ' * 5}`")], 40).splitlines()
    assert lines == ["`go on go on go on go on go on 60 ml go", "on go on go on go on go on `"]
