"""The words of the pages, and the sentences that summary and calendar share with them, from one file.

All of them stand in `words.json`, in groups, ready to be translated: whole sentences, in which braces keep
the places of what is put in. What a plan says in its own words is no part of it: `record` marks that.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from importlib.resources import files
from string import Formatter
from typing import NamedTuple

ENGLISH = "en"
"""The language of records, whatever that of the words is."""


class Part(NamedTuple):
    """A stretch of a text."""

    text: str
    recorded: bool
    """Whether it is a record's, and no word of the file."""


class Told(str):
    """A text in which a record stands: it knows which part that is, so that a page can mark its language."""

    parts: tuple[Part, ...]


def say(key: str, **values: object) -> str:
    """The words of a key such as `page.now`, with what belongs into their places.

    What counts stands there twice, as `..._one` and `..._many`, and `count` tells which it is. A text with
    records in it is `Told`. Raises KeyError for words that there aren't, and for a place without its value.
    """
    return joined(_put_in(sentence(key, values), values))


def sentence(key: str, values: Mapping[str, object]) -> str:
    """The words of a key with their places empty. Raises KeyError for words that there aren't."""
    name, _, word = key.partition(".")
    found = group(name)
    if word not in found and "count" in values:
        word += "_one" if values["count"] == 1 else "_many"
    return found[word]


def group(name: str) -> dict[str, str]:
    """All words of a group, by their keys without its name. Raises KeyError for a group that there isn't."""
    found = written()[name]
    if not isinstance(found, dict):
        raise KeyError(name)
    return found


def language() -> str:
    """That of the words, as HTML names it: `en`."""
    return str(written()["lang"])


def fingerprint() -> str:
    """SHA-256 of all words: what is written in others is another page."""
    return hashlib.sha256(json.dumps(written(), sort_keys=True).encode()).hexdigest()


def record(text: str) -> str:
    """A text that is a record of a plan or of a run: in English, whatever the language of the words."""
    return joined([Part(text, True)])


def parts(text: str) -> tuple[Part, ...]:
    """Any text as its parts."""
    return text.parts if isinstance(text, Told) else (Part(text, False),)


def joined(found: Iterable[Part]) -> str:
    """Parts as one text; parts without a letter are none."""
    whole: list[Part] = []
    for part in found:
        if whole and whole[-1].recorded == part.recorded:
            whole[-1] = Part(whole[-1].text + part.text, part.recorded)
        elif part.text:
            whole.append(part)
    text = "".join(part.text for part in whole)
    if not any(part.recorded for part in whole):
        return text
    told = Told(text)
    told.parts = tuple(whole)
    return told


def _put_in(text: str, values: Mapping[str, object]) -> Iterator[Part]:
    for words, place, _, _ in Formatter().parse(text):
        yield Part(words, False)
        if place is not None:
            value = values[place]
            yield from parts(value if isinstance(value, str) else str(value))


@cache
def written() -> dict[str, str | dict[str, str]]:
    """The file as it is: its language as `lang`, and its groups."""
    found: dict[str, str | dict[str, str]] = json.loads(
        files("gpost").joinpath("words.json").read_text("utf-8")
    )
    return found
