"""A page in a language that is written from right to left: values keep their order, and nothing is written out."""

from __future__ import annotations

import base64
import itertools
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gpost import words
from gpost.page import svg
from gpost.words import ISOLATE, ISOLATED, MARK, harmless, recorded, say
from tests.page.browser import open_anew, unreadable, wait_for

KEPT = re.compile(r"(\{\w+\}|\b(?:x|mm|ml|g|h|min|l)\b|[^A-Za-z{]+)")
"""Places and units; other words become Hebrew letters."""
SHOWN = """
const walker = document.createTreeWalker(arguments[0], NodeFilter.SHOW_TEXT), found = [];
for (let node; (node = walker.nextNode()); )
  for (const one of node.data.matchAll(/[\\d.:]*\\d/g)) {
    const range = document.createRange();
    range.setStart(node, one.index);
    range.setEnd(node, one.index + one[0].length);
    const box = range.getBoundingClientRect();
    found.push([one[0], Math.round(box.top), box.left]);
  }
return found;
"""
"""The numbers in an element, each with its line and its left edge, in the order in which they are written."""


def other(sentence: str) -> str:
    """A sentence in letters that go from right to left."""
    parts = KEPT.split(sentence)
    return "".join(
        part if at % 2 else "".join(chr(0x5D0 + ord(c) % 27) for c in part) for at, part in enumerate(parts)
    )


@pytest.fixture
def hebrew(monkeypatch: pytest.MonkeyPatch) -> None:
    """All that is said is said so."""
    english = words.written()
    found: Any = {
        name: {key: other(text) for key, text in said.items()}
        for name, said in english.items()
        if isinstance(said, dict)
    }
    monkeypatch.setattr(words, "written", lambda: {"lang": "he", "dir": "rtl", **found})


def put_in(value: str) -> str:
    return f"{MARK}{ISOLATE}{value}{ISOLATED}{MARK}"


@pytest.mark.usefixtures("hebrew")
def test_values_stand_by_themselves() -> None:
    """Each between isolates; what is shown afterwards keeps those, and writes out all else that turns text."""
    said = say("pictures.mm", value="3")
    assert said == f"{put_in('3')} mm"
    assert harmless(said) == said
    assert harmless("a\u202eb") == "a\\u202eb"
    assert put_in("a\\u2069b") in say("pictures.mm", value=f"a{ISOLATED}b")
    assert put_in("why") in say("waits.head", where="", why=recorded("why"))


def test_nothing_stands_round_values_elsewhere() -> None:
    """And such a sign in a name is written out, as ever."""
    assert say("pictures.mm", value="3") == "3 mm"
    assert harmless(f"a{ISOLATE}b") == "a\\u2068b"


@pytest.mark.usefixtures("hebrew")
def test_texts_of_pictures_keep_their_place() -> None:
    """What begins at the left ends there where it is written from the right, and is as wide."""
    ours = ET.fromstring(svg.text(12, 0, say("pictures.mm", value="3")))
    assert (ours.get("direction"), ours.get("text-anchor"), ours.get("x")) == ("rtl", "end", "12")
    assert svg.wide(put_in("3")) == svg.wide("3")


@pytest.mark.usefixtures("hebrew")
def test_sizes_keep_their_order(make_page: Callable[..., Path], drawing_browser: Any) -> None:
    """The first number of a size or a sentence stands rightmost on its line, the next one left of it."""
    page = make_page("hebrew.html")
    html = page.read_text("utf-8")
    assert '<html lang="he" dir="rtl">' in html
    pictures = map(base64.b64decode, re.findall(r"base64,([\w+/=]+)", html))
    seen = re.sub(r"<script.*?</script>", "", html, flags=re.DOTALL)
    assert not re.search(r"\\u20(0f|6[6-9])", "".join([seen, *(drawn.decode() for drawn in pictures)]))
    browser = drawing_browser
    open_anew(browser, page)
    wait_for(browser, "return document.getElementById('canvas').dataset.ready")
    for element in browser.find_elements("css selector", "#card dd, .facts, #visits .more:last-child, #built"):
        found = browser.execute_script(SHOWN, element)
        for (_, line, left), (_, next_line, next_left) in itertools.pairwise(found):
            assert line != next_line or left > next_left, element.text
    assert unreadable(browser, "light", 390) == []
