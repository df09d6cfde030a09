"""What of a page or a picture is in plain letters, and not marked as English."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from html.parser import HTMLParser

from tests.page.translated import CALLED, CLAYS

UNITS = {"mm", "ml", "g", "kg", "l", "h", "min", "s", "x", "y", "mm/min"}
NAMED = ("alt", "aria-label", "aria-valuetext", "aria-description", "title", "placeholder", "content")
VOID = {"meta", "link", "img", "input", "br", "hr"}
UNMARKED = re.compile(r"\b(?:ask|refill|resume|swap)\b")
"""Records that stand in place of a picture, where no part can be marked as English: the kinds of pauses."""
SILENT = {"script", "style", "code"}
"""What is not read as words, and commands and lines of a file."""
NAMES = re.compile(
    rf"\b(?:{'|'.join(CLAYS)})\b|(?:\b\d\d-)?{CALLED}[\w-]+(?:\.gcode)?|\b\w+\.\w+_\w+\b|\b[GM]\d+\b",
    re.ASCII,
)
"""Of clays and files, keys of a config, commands."""
NOT_SAID = {"description", "viewport", "referrer", "color-scheme", None}
"""Names of `meta` that nobody is shown."""


class Read(HTMLParser):
    """All texts of a document with the languages that they are in, those of the pictures in it too."""

    def __init__(self) -> None:
        super().__init__()
        self._open: list[tuple[str, str]] = []
        self.said: list[tuple[str, str]] = []
        """(language, text)"""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Its language goes on inside it."""
        given = dict(attrs)
        language = given.get("lang") or (self._open[-1][1] if self._open else "")
        for name in NAMED:
            if given.get(name) and not (name == "content" and given.get("name") in NOT_SAID):
                self.said.append((language, UNMARKED.sub("", str(given[name])) if name == "alt" else str(given[name])))
        picture = (given.get("src") or "").partition("data:image/svg+xml;base64,")[2]
        if picture:
            self.said += texts(base64.b64decode(picture).decode())
        if tag not in VOID:
            self._open.append((tag, language))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """It has no inside."""
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        """The language before it goes on."""
        assert self._open, tag
        assert self._open[-1][0] == tag, f"{tag} ends in {self._open[-1][0]}"
        self._open.pop()

    def handle_data(self, data: str) -> None:
        """A text."""
        if self._open and self._open[-1][0] == "desc":
            data = UNMARKED.sub("", data)
        if data.strip() and not SILENT & {tag for tag, _ in self._open}:
            self.said.append((self._open[-1][1] if self._open else "", data))


def texts(document: str) -> list[tuple[str, str]]:
    """(language, text) of all that is said in HTML or SVG."""
    reader = Read()
    reader.feed(document)
    reader.close()
    return reader.said


def untranslated(document: str) -> list[str]:
    """Texts with something in plain letters that is no unit, no name, no command, and not marked as English."""
    return [text for language, text in texts(document) if language != "en" and any(_left(text))]


def in_english(document: str) -> list[str]:
    """Texts that are marked as English."""
    return [text for language, text in texts(document) if language == "en"]


def _left(text: str) -> Iterator[str]:
    words = re.findall(r"[A-Za-z][\w/]*", NAMES.sub("", text), re.ASCII)
    yield from (word for word in words if word not in UNITS)
