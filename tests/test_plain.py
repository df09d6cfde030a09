"""Text from outside is harmless on a terminal and can always be stored."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.common.plain import restored, shown, storable

HARMFUL = [
    ("\x1b[31mred", r"\x1b[31mred"),
    ("a\nb", r"a\nb"),
    ("a\rb", r"a\rb"),
    ("\u202egpj", r"\u202egpj"),
    ("\udcff", r"\udcff"),
    ("\x9b2J", r"\x9b2J"),
]


@pytest.mark.parametrize(("text", "expected"), HARMFUL)
def test_harmful_characters_are_written_out(text: str, expected: str) -> None:
    """Control and direction characters, and bytes that are no text, are shown as escapes."""
    assert shown(text) == expected


@given(st.text())
def test_shown_text_is_printable(text: str) -> None:
    """Nothing that is shown can steer a terminal; line ends only where they are let pass."""
    assert shown(text).isprintable()
    assert shown(text, keep_newlines=True).replace("\n", "").isprintable()


@given(st.text(alphabet=st.characters(categories=("L", "N", "P", "S"))))
def test_plain_text_is_left_alone(text: str) -> None:
    """Letters of any script, numbers and signs stay as they are."""
    assert shown(text) == text


@given(st.text(alphabet=st.characters()))
def test_storable_text_is_utf8(text: str) -> None:
    """Any text, lone surrogates too, can be encoded afterwards; what could be before is unchanged."""
    stored = storable(text)
    assert stored.encode("utf-8").decode("utf-8") == stored
    if not any("\ud800" <= c <= "\udfff" for c in text):
        assert stored == text


@given(st.binary().filter(lambda name: rb"\udc" not in name))
def test_a_name_that_was_stored_is_restored(name: bytes) -> None:
    """Bytes that are no text come back as Python holds them (PEP 383)."""
    text = name.decode("utf-8", "surrogateescape")
    assert restored(storable(text)) == text
