"""The words of the pages, and the sentences that summary and calendar share with them, from one file.

All of them stand in `words.json`, in groups, ready to be translated: whole sentences, in which braces keep
the places of what is put in. What a plan says in its own words is no part of it: `recorded` marks that.
`python -m gpost.words FILE` compares a translation with that file.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import NamedTuple, TypeAlias

from gpost.common.plain import shown
from gpost.errors import WordsError

Words: TypeAlias = dict[str, str | dict[str, str]]
"""A file as it is: its language as `lang`, how that is written as `dir`, and its groups."""
ENGLISH = "en"
"""The language of records, whatever that of the words is."""
MARK = "\N{RIGHT-TO-LEFT MARK}"
ISOLATE, ISOLATED = "\N{FIRST STRONG ISOLATE}", "\N{POP DIRECTIONAL ISOLATE}"
"""What stands round a value among words that go from right to left (UAX #9): it keeps its order inside, and
its place among others, also where `x` or `mm` between them go from left to right."""
_FILE = "words.json"
_NOTES = "_notes"
"""The group for who translates, of which nothing is said."""
_PLACE = re.compile(r"\{(\w+)\}")
_SENTENCE = re.compile(r"(?:[^{}]|\{\w+\})*")


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
    records in it is `Told`. Raises WordsError for words that there aren't, and for a place without its value.
    """
    return joined(_put_in(_whole(key, values), sentence(key, values), values))


def sentence(key: str, values: Mapping[str, object]) -> str:
    """The words of a key with their places empty. Raises WordsError for words that there aren't."""
    name, _, word = _whole(key, values).partition(".")
    found = group(name)
    if word not in found:
        raise _slip(f"{name}.{word} is missing; put it in as the English file has it")
    return found[word]


def _whole(key: str, values: Mapping[str, object]) -> str:
    """The key with the form that counts."""
    name, _, word = key.partition(".")
    if word in group(name) or "count" not in values:
        return key
    return f"{key}_one" if values["count"] == 1 else f"{key}_many"


def group(name: str) -> dict[str, str]:
    """All words of a group, by their keys without its name. Raises WordsError if there is none."""
    found = written().get(name)
    if not isinstance(found, dict):
        raise _slip(f"the group {name} is missing; put it in as the English file has it")
    return found


def places(text: str) -> set[str]:
    """Names of what is put into a sentence."""
    return set(_PLACE.findall(text))


def language() -> str:
    """That of the words, as HTML names it: `en`."""
    return str(written()["lang"])


def right_to_left() -> bool:
    """Whether the words are written so; the file says it by `dir`, `ltr` or `rtl`, as HTML does."""
    return written().get("dir") == "rtl"


def in_two_languages(text: str) -> bool:
    """Whether records stand in a text whose language is not that of the words."""
    return isinstance(text, Told) and language() != ENGLISH


def harmless(text: object) -> str:
    """A text as `shown`; what `say` puts round values stays, where it puts anything."""
    if not right_to_left():
        return shown(text)
    stretches = re.split(f"([{MARK}{ISOLATE}{ISOLATED}])", str(text))
    return "".join(stretch if at % 2 else shown(stretch) for at, stretch in enumerate(stretches))


def fingerprint() -> str:
    """SHA-256 of all words: what is written in others is another page."""
    said = {name: words for name, words in written().items() if name != _NOTES}
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def recorded(text: str) -> str:
    """A text that is a record of a plan or of a run: in English, whatever the language of the words."""
    return joined([Part(text, True)])


def listed(texts: Iterable[str], between: str = "names.comma") -> str:
    """Texts in a row, with the words of a key between them."""
    found: list[Part] = []
    for text in texts:
        found += [Part(sentence(between, {}), False)] if found else []
        found += _isolated(parts(text)) if right_to_left() else parts(text)
    return joined(found)


def parts(text: object) -> tuple[Part, ...]:
    """Any text, or what is written as one, as its parts."""
    return text.parts if isinstance(text, Told) else (Part(str(text), False),)


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


def _put_in(key: str, text: str, values: Mapping[str, object]) -> Iterator[Part]:
    for at, words in enumerate(_PLACE.split(text)):
        if at % 2 == 0:
            yield Part(words, False)
            continue
        if words not in values:
            raise _slip(_unknown(key, words, values))
        told = parts(values[words])
        yield from _isolated(told) if right_to_left() else told


def _isolated(told: Sequence[Part]) -> Iterator[Part]:
    """A value with what stands round it; isolates in it that lack their other half are written out."""
    text = "".join(part.text for part in told)
    whole = text.count(ISOLATE) == text.count(ISOLATED)
    yield Part(MARK + ISOLATE, False)
    yield from told if whole else (part._replace(text=shown(part.text)) for part in told)
    yield Part(ISOLATED + MARK, False)


@cache
def written() -> Words:
    """The file as it is. Raises WordsError if it is none."""
    file = files("gpost").joinpath(_FILE)
    return read(file.read_bytes(), str(file))


def read(data: bytes, file: str) -> Words:
    """The words in the bytes of a file. Raises WordsError with the file's name for what can't be words."""
    try:
        found = json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _slip(f"line {line} is not UTF-8; save the file as UTF-8", file) from error
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise _slip(
            f"it is no JSON from {place} on ({error.msg}); look there and just before", file
        ) from error
    wrong = next(_wrong(found), None)
    if wrong is not None:
        raise _slip(wrong, file)
    words: Words = found
    return words


def _wrong(found: object) -> Iterator[str]:
    """What can't be words, by itself and whatever the English file has."""
    if not isinstance(found, dict) or not isinstance(found.get("lang"), str):
        yield 'it must hold `{"lang": "...", ...}`, as the English file does'
        return
    if found.get("dir", "ltr") not in ("ltr", "rtl"):
        yield "dir must be ltr or rtl"
    for name, words in found.items():
        if isinstance(words, str):
            continue
        if not isinstance(words, dict):
            yield f"{name} must be a group of sentences"
            continue
        for word, text in words.items():
            if not isinstance(text, str):
                yield f"{name}.{word} must be a sentence in quotation marks"
            elif not _SENTENCE.fullmatch(text):
                yield f"{name}.{word}: a brace stands alone, or not round a name: {text}"


def differences(english: Words, other: Words) -> Iterator[str]:
    """What a translation lacks or has too much, a line each; a sentence of one may do without its `count`."""
    ours, theirs = _sentences(english), _sentences(other)
    for key in ours.keys() - theirs.keys():
        yield f"{key} is missing"
    for key in theirs.keys() - ours.keys():
        yield f"{key} is no key of the English file"
    for key in ours.keys() & theirs.keys():
        if ours[key] and not theirs[key].strip():
            yield f"{key} is empty"
        known, used = places(ours[key]), places(theirs[key])
        yield from (_unknown(key, place, known) for place in sorted(used - known))
        spare = {"count"} if key.endswith("_one") else set()
        yield from (f"{key}: the place {{{place}}} is missing" for place in sorted(known - used - spare))


def _sentences(words: Words) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, inside in words.items():
        if name == _NOTES:
            continue
        found |= (
            {f"{name}.{word}": text for word, text in inside.items()}
            if isinstance(inside, dict)
            else {name: ""}
        )
    return found


def _unknown(key: str, place: str, known: Iterable[str]) -> str:
    there = ", ".join(f"{{{name}}}" for name in sorted(known)) or "none"
    return f"{key}: there is no place {{{place}}} in it; there may be: {there}"


def _slip(said: str, file: str | None = None) -> WordsError:
    return WordsError(f"{shown(file or files('gpost').joinpath(_FILE))}: {shown(said)}")


def main(args: Sequence[str]) -> int:
    """Compare a translation with the English file, in words on standard output; 0: they agree."""
    if len(args) != 1:
        print("usage: python -m gpost.words FILE")
        return 2
    try:
        with open(args[0], "rb") as file:
            found = sorted(differences(written(), read(file.read(), args[0])))
    except WordsError as error:
        print(error)
        return 1
    except OSError as error:
        print(f"{shown(args[0])}: {error.strerror}")
        return 1
    print("\n".join(found) or f"{shown(args[0])}: all keys and places are those of the English file")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
