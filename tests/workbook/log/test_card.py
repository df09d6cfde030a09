"""The card that was filled in: all that stands on it is read, or is said to be no part of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.common.columns import NARROWEST, USUAL
from gpost.common.layout import laid_out
from gpost.errors import ConfigError
from gpost.report.afterwards import CARD, card_parts
from gpost.report.model import SlabRecord
from gpost.workbook.log.card import read_card
from tests.workbook.log.test_log_model import SUMMARY


def card(source: str = "a/vase.gcode", **filled: str) -> str:
    """The card of that file, after 2 other lines, with those words written over the blanks."""
    text = laid_out(card_parts(SUMMARY.model_copy(update={"source": source})))
    for name, words in filled.items():
        blank = f"  {name + ':':<10}{'':<12}"
        assert text.count(blank) == 1
        text = text.replace(blank, f"  {name + ':':<10}{words:<12}")
    return f"Summary\n\n{text}"


def read(folder: Path, text: str) -> dict[str, str]:
    """What is filled in on a card of that text."""
    (folder / "card.txt").write_text(text, "utf-8")
    return read_card(folder / "card.txt").filled


@pytest.mark.parametrize(
    "note",
    [
        'ok: "fein" #1',
        "#3 of the set",
        "C# minor",
        "a: b # c # d",
        "grams: 5 are missing",
        "'half",
        "- thin",
        "100 %",
    ],
)
def test_a_note_is_text(tmp_path: Path, note: str) -> None:
    """Whatever a potter writes is kept, # and all, but for the card's own remark; before it or in its place."""
    assert read(tmp_path, card(note=note)) == {"note": note}
    assert read(tmp_path, card().replace("             # what to remember", f" {note}")) == {"note": note}


@given(note=st.text(st.characters(exclude_categories=["C", "Z"]) | st.just(" "), min_size=1, max_size=60))
def test_any_note(tmp_path_factory: pytest.TempPathFactory, note: str) -> None:
    """Letters, digits and signs of any script come back; blanks at the ends don't count."""
    found = read(tmp_path_factory.mktemp("card"), card(note=note))
    assert found.get("note", "") == note.strip()


def test_a_note_of_several_lines(tmp_path: Path) -> None:
    """It goes on below, to the next name or to the end."""
    text = card(note="soft on the left").rstrip() + "\n\n  and it leaned # a lot\r\nsince noon\n"
    assert read(tmp_path, text) == {"note": "soft on the left and it leaned # a lot since noon"}


def test_the_other_lines_have_remarks(tmp_path: Path) -> None:
    """Behind # stands what is asked for; with a blank behind the colon or without."""
    text = card(grams="512", minutes="1:32").replace("  left_g:    ", "  left_g:90 ")
    assert read(tmp_path, text) == {"grams": "512", "minutes": "1:32", "left_g": "90"}
    assert read(tmp_path, card()) == {}


@pytest.mark.parametrize(
    "source", ["a/vase.gcode", "/home/me/" + "a long folder/" * 9 + "vase.gcode", "x" * 300]
)
def test_of_whichever_piece(tmp_path: Path, source: str) -> None:
    """However its head was set in lines."""
    (tmp_path / "card.txt").write_text(card(source, grams="5"))
    found = read_card(tmp_path / "card.txt")
    assert found.is_of(source)
    assert not found.is_of("bowl.gcode")
    assert found.filled == {"grams": "5"}


@pytest.mark.parametrize("width", [30, 40])
def test_of_a_narrow_terminal(tmp_path: Path, width: int) -> None:
    """What it asks for may stand below then."""
    text = laid_out(card_parts(SUMMARY), width)
    assert read(tmp_path, text.replace("  grams: ", "  grams: 9").replace("  note: ", "  note: b #1")) == {
        "grams": "9",
        "note": "b #1",
    }


@pytest.mark.parametrize("wet_g", [182.7, 1204.0])
def test_of_a_piece_on_a_slab(tmp_path: Path, wet_g: float) -> None:
    """However wide the terminal is, what it says of the slab's mass is none of the potter's words."""
    slab = SlabRecord(x_mm=9, y_mm=9, x_size_mm=9, y_size_mm=9, thickness_mm=3, wet_g=wet_g)
    parts = list(card_parts(SUMMARY.model_copy(update={"slab": slab})))
    for width in (None, *range(NARROWEST, USUAL + 1)):
        text = laid_out(parts, width)
        assert "slab" in text
        assert read(tmp_path, text.replace("  grams: ", "  grams: 9")) == {"grams": "9"}, width


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (card().replace("  grams:  ", "  gramms: "), "line 4: 'gramms:.* is none of the card's lines"),
        (card().replace("  note: ", "  soft clay today\n  note: "), "line 9: 'soft clay today' is none"),
        (card(note="good") + "  note: bad\n", "line 10: note stands on the card twice"),
    ],
)
def test_what_is_no_line_of_it(tmp_path: Path, text: str, words: str) -> None:
    """It is said with its line, rather than lost."""
    with pytest.raises(ConfigError, match=words):
        read(tmp_path, text)


def test_a_note_that_is_no_utf_8(tmp_path: Path) -> None:
    """It is said with its line: letters of it would be lost."""
    (tmp_path / "card.txt").write_bytes(card(note="schön").encode("latin-1"))
    with pytest.raises(ConfigError, match=r"line 9: this is no UTF-8; save the card as UTF-8 text"):
        read_card(tmp_path / "card.txt")


def test_every_name_is_an_option() -> None:
    """What the card asks for is what `gpost log add` takes."""
    from gpost.cli.log import add

    assert {name for name, _ in CARD} <= {option.name for option in add.params}
