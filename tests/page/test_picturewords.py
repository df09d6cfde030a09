"""All words of the pictures stand in one file, and each of them is used."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import gpost.page
from gpost.page.picturewords import say

FOLDER = Path(gpost.page.__file__).parent
WORDS = json.loads((FOLDER / "picturewords.json").read_text("utf-8"))


@pytest.mark.parametrize("key", WORDS)
def test_every_word_is_used(key: str) -> None:
    """What nobody says needs no translation."""
    quoted = (f'"{key}"', f"'{key}'")
    assert any(word in path.read_text("utf-8") for path in FOLDER.glob("*.py") for word in quoted)


def test_words_that_there_are_not_are_an_error() -> None:
    """KeyError, not an empty label."""
    with pytest.raises(KeyError):
        say("no such words")
