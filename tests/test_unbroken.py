"""A number stays with its unit, and a command whole."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.common.unbroken import NO_BREAK, unbroken


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("0:19 h of machine time", "0:19~h of machine time"),
        ("44 % cobalt blue, 8 g (2.5 ml)", "44~% cobalt blue, 8~g (2.5~ml)"),
        ("from 4 to 6 min, 3 kg; 1 l", "from 4 to 6~min, 3~kg; 1~l"),
        ("\u2068300\u2069\u200f mm", "\u2068300\u2069\u200f~mm"),
        ("at 1200 mm/min for 5 s", "at 1200~mm/min for 5~s"),
        ("send M302 P1 first", "send M302~P1 first"),
        ("G92 E<value> and G28 X0 Y-1.5.", "G92~E<value> and G28~X0~Y-1.5."),
        ("2 slabs, 3 mix, 4 get, 5 hoses", "2 slabs, 3 mix, 4 get, 5 hoses"),
        ("layer 3 of 5, cartridge 2 is on", "layer 3 of 5, cartridge 2 is on"),
        ("layer G1 A pot", "layer G1 A pot"),
        ("", ""),
    ],
)
def test_what_belongs_together_stays_so(text: str, told: str) -> None:
    """Between a number and a unit of the pages, and between the words of a command, no line ends."""
    assert unbroken(text) == told.replace("~", NO_BREAK)


@given(st.text(alphabet="0123 mlgh%MGP.<>~éx", max_size=40))
def test_nothing_but_blanks_is_changed(text: str) -> None:
    """Letter by letter it is the same text, and doing it again changes nothing."""
    told = unbroken(text)
    assert [
        old for old, new in zip(text, told, strict=True) if old != new and (old, new) != (" ", NO_BREAK)
    ] == []
    assert unbroken(told) == told
