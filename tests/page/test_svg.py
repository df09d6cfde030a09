"""Text that is escaped and fits, ticks that are round, labels that keep apart."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.page.svg import Part, apart, drawing, text, ticks, wide, words, wrap

NAMES = st.text(max_size=60)


@given(NAMES)
def test_whatever_is_written_stays_words(said: str) -> None:
    """No text ends its element, and none breaks the document; what can't be printed is written out."""
    picture = drawing([Part(text(10, 10, said), 20, said)], title=said).svg
    (line,) = ET.fromstring(picture).iter("{http://www.w3.org/2000/svg}text")
    assert not list(line)
    assert (line.text or "").isprintable()


@pytest.mark.parametrize("said", ["</text><script>alert(1)</script>", "a' onload='b", 'x" y', "&lt;", "]]>"])
def test_text_is_escaped_for_both_places(said: str) -> None:
    """Neither a tag nor the end of an attribute comes through."""
    assert not set("<>\"'") & set(words(said))
    assert ET.fromstring(f"<a b='{words(said)}'>{words(said)}</a>").get("b") == said


@given(NAMES, st.floats(40, 300))
def test_lines_fit_and_lose_no_letter(said: str, room: float) -> None:
    """Every line is as narrow as the room, whatever the word; all letters are there in their order."""
    lines = wrap(said, room)
    assert all(wide(line) <= room for line in lines)
    assert "".join("".join(lines).split()) == "".join("".join(wrap(said, 1e9)).split())


def test_no_line_ends_before_a_unit() -> None:
    """25 % and 41 mm stay together."""
    lines = [line for room in range(60, 200) for line in wrap("25 % white from 41 mm on, 8 ml", room)]
    assert not [line for line in lines if line.startswith(("%", "mm", "ml"))]


@given(st.floats(1e-3, 1e6), st.integers(3, 8))
def test_ticks_are_round_and_few(top: float, most: int) -> None:
    """From 0 on in even steps of 1, 2 or 5, at most so many, and none beyond the top."""
    found = ticks(top, most)
    assert found[0] == 0
    assert 1 <= len(found) - 1 <= most
    assert found[-1] <= top * (1 + 1e-6)
    assert f"{found[1]:e}"[0] in "125"


def test_nothing_has_one_tick() -> None:
    """0."""
    assert ticks(0.0) == [0.0]


@given(st.lists(st.tuples(st.floats(0, 400), st.floats(10, 80)), min_size=1, max_size=25))
def test_labels_keep_apart_and_inside(labels: list[tuple[float, float]]) -> None:
    """None lies on another, all lie between the limits if they can, and their order is kept."""
    labels.sort()
    tall = [height for _, height in labels]
    high = max(sum(tall), 400.0)
    found = apart([middle for middle, _ in labels], tall, 0.0, high)
    for (y, height), below in itertools.pairwise(zip(found, tall, strict=True)):
        assert y + height <= below[0] + 1e-6
    assert found[0] >= -1e-6
    assert found[-1] + tall[-1] <= high + 1e-6


def test_a_label_with_room_is_where_it_is_wanted() -> None:
    """Its middle at its spot."""
    assert apart([50.0, 200.0], [20.0, 30.0], 0.0, 400.0) == [40.0, 185.0]


@given(st.integers(20, 300))
def test_amounts_and_commands_are_never_torn(room: int) -> None:
    """A line that is wide enough for a number and its unit has both, and blanks are blanks in the end."""
    said = "load 44 % cobalt blue, 8 g (2.5 ml), 3 min before M302 P1 is sent"
    lines = wrap(said, room + wide("M302 P1"))
    assert " ".join(lines) == said
    for whole in ("44 %", "8 g", "2.5 ml", "3 min", "M302 P1"):
        assert any(whole in line for line in lines)
