"""A number and its unit, and a command and its words, stay on one line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.common.layout import Paragraph, laid_out
from gpost.common.unbroken import unbroken


@pytest.mark.parametrize(
    "whole",
    ["M302 P1", "G92 E<value>", "M117 <text>", "G1 X10 Y-2.5 E.3", "G28 X Y", "T1", "M106 S255", "60 ml", "0:19 h", "44 %", "250 g", "142 mm/min", "12* ml", "1 time", "3 times", "21 °C", "0.45 MB", "G28 x 1", "166 x 130 mm", "z 150 mm", "y -12.5", "\u2068300\u2069\u200f mm"],
)
def test_what_belongs_together_is_held(whole: str) -> None:
    """SI puts a space between a number and its unit (brochure of the BIPM, 5.4.3, from memory); that no line ends there is common practice."""
    assert unbroken(f"so it is {whole}, and more") == f"so it is {whole.replace(' ', chr(0xA0))}, and more"


@pytest.mark.parametrize("text", ["12 layers", "layer 3 grows", "in 3 months", "send G28 and wait", "M0 A pause", "5 in a row", "3 mmm"])
def test_other_words_are_not(text: str) -> None:
    """A letter at a word's beginning is no unit."""
    assert unbroken(text) == text


@given(st.text("0123 .:mlgxGME<>%*", max_size=60))
def test_nothing_else_is_changed(text: str) -> None:
    """Letter for letter it is the text; what is held once stays so."""
    held = unbroken(text)
    assert held.replace("\u00a0", " ") == text
    assert unbroken(held) == held


@given(st.lists(st.sampled_from(["load", "60 ml", "0:19 h", "G92 E<value>", "in all", "44 %"]), min_size=1, max_size=30), st.sampled_from([None, *range(40, 101)]))
def test_no_line_is_broken_in_it(parts: list[str], width: int | None) -> None:
    """At any width, in files too; on paper it is a blank again."""
    lines = laid_out([Paragraph(" ".join(parts))], width).splitlines()
    assert " ".join(lines) == " ".join(parts)
    found = [whole for line in lines for whole in ("60 ml", "0:19 h", "G92 E<value>", "44 %") for _ in range(line.count(whole))]
    assert sorted(found) == sorted(part for part in parts if part not in ("load", "in all"))


def test_what_is_longer_than_a_line_is_broken() -> None:
    """A command of many words has no line to itself."""
    command = "G1 " + " ".join(f"X{number}" for number in range(100, 120))
    assert [len(line) for line in laid_out([Paragraph(command)], 40).splitlines()] == [37, 39, 24]
    assert " ".join(laid_out([Paragraph(command)]).split()) == command
