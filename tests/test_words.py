"""The words of the pages: each is used, each has what belongs into its places, and records stay known."""

from __future__ import annotations

import ast
import json
import pickle
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest
from jinja2 import Environment, nodes

from gpost.page.frame import own_file
from gpost.page.index import SCRIPTS as INDEX_SCRIPTS
from gpost.page.sheet import SCRIPTS
from gpost.words import Part, Told, group, language, parts, record, say, sentence, written

ROOT = Path(__file__).parents[1] / "gpost"
TEMPLATES = sorted(path.name for path in (ROOT / "page").glob("*.html"))
SCRIPTED = ("script", "index_script")
"""Groups that scripts ask for by their keys alone."""
KEYS = [f"{name}.{key}" for name, words in written().items() if isinstance(words, dict) for key in words]
SAID = [key for key in KEYS if key.partition(".")[0] not in SCRIPTED]
COUNTED = re.compile(r"_(one|many)$")


def said_in_python() -> Iterator[tuple[str, set[str] | None]]:
    """(key, names of values) of each call in a module; None for values that only running it tells."""
    for path in ROOT.rglob("*.py"):
        text = path.read_text("utf-8")
        for node in ast.walk(ast.parse(text)) if "from gpost.words import" in text else ():
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "say":
                names = {word.arg for word in node.keywords}
                for key in _keys(node.args[0]):
                    yield key, None if None in names else {str(name) for name in names}


def _keys(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from (*_keys(node.body), *_keys(node.orelse))


def said_in_templates() -> Iterator[tuple[str, set[str] | None]]:
    """The same of each template."""
    for name in TEMPLATES:
        for call in Environment(autoescape=True).parse(own_file(name)).find_all(nodes.Call):
            if isinstance(call.node, nodes.Name) and call.node.name == "say":
                key = call.args[0]
                ways = [key.expr1, key.expr2] if isinstance(key, nodes.CondExpr) else [key]
                for way in ways:
                    assert isinstance(way, nodes.Const), f"{name}: a key that can't be read here"
                    yield way.value, {word.key for word in call.kwargs}


def places(text: str) -> set[str]:
    """Names of what is put into a sentence."""
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


def test_values_stand_in_their_places() -> None:
    """Whatever the order of the words, each value stands where its name is."""
    assert say("names.cartridge_of", clay="white", number=2) == "cartridge 2, white"


@pytest.mark.parametrize(("count", "said"), [(0, "0 pieces"), (1, "1 piece"), (2, "2 pieces")])
def test_what_counts_has_two_forms(count: int, said: str) -> None:
    """One, and any other number."""
    assert say("day.pieces", count=count) == said


def test_no_word_is_made_up() -> None:
    """Words that there aren't, and a place without its value, are errors and no empty label."""
    for key in ("page.no such words", "nobody.now", "lang", "now"):
        with pytest.raises(KeyError):
            say(key)
    with pytest.raises(KeyError):
        say("names.cartridge")


def test_a_record_is_known_in_a_sentence_of_sentences() -> None:
    """However deep a record stands, the text knows it, and reads as any other."""
    text = say("day.waits", piece="pot", what=say("waits.head", where="here", why=record("why")))
    assert text == "pot waits: here: why"
    assert parts(text) == (Part("pot waits: here: ", False), Part("why", True))
    assert parts(pickle.loads(pickle.dumps(text))) == parts(text)
    assert not isinstance(say("waits.head", where="here", why="why"), Told)
    assert parts("plain") == (Part("plain", False),)


def test_the_words_are_english() -> None:
    """As are the records, so that no page has to mark any."""
    assert language() == "en"


def test_all_words_are_used() -> None:
    """What nobody says needs no translation."""
    texts = [path.read_text("utf-8") for path in ROOT.rglob("*.py")] + [own_file(name) for name in TEMPLATES]
    quoted = set(re.findall(r"[\"']([a-z_]+\.[a-z_]+)[\"']", "\n".join(texts)))
    assert [key for key in SAID if key not in quoted and COUNTED.sub("", key) not in quoted] == []
    scripts = "".join(map(own_file, {*SCRIPTS, *INDEX_SCRIPTS}))
    for name in SCRIPTED:
        for key in group(name):
            word = COUNTED.sub("", key)
            assert f'"{word}"' in scripts or f"words.{word}" in scripts, key


def test_all_that_is_said_is_there_with_its_values() -> None:
    """Each call names words that there are, and gives what belongs into their places."""
    calls = [*said_in_python(), *said_in_templates()]
    assert len(calls) > 200
    for key, given in calls:
        found = [sentence(key, {"count": count}) for count in (1, 2)]
        for text in found if given is not None else ():
            assert places(text) <= given, key


def test_scripts_ask_for_words_that_there_are() -> None:
    """By their keys, which stand in the page's data."""
    known = {COUNTED.sub("", key) for name in SCRIPTED for key in group(name)}
    for name in {*SCRIPTS, *INDEX_SCRIPTS}:
        asked = re.findall(r'\bsay\((?:\w+ \? )?"(\w+)"(?: : "(\w+)")?', own_file(name))
        assert {key for pair in asked for key in pair if key} <= known, name


@pytest.mark.parametrize("key", KEYS)
def test_forms_come_in_twos(key: str) -> None:
    """A sentence that counts has both forms, with the same places."""
    name, _, word = key.partition(".")
    if COUNTED.search(word):
        forms = [group(name)[COUNTED.sub(end, word)] for end in ("_one", "_many")]
        assert places(forms[0]) == places(forms[1])
    assert group(name)[word].strip()


@pytest.mark.parametrize("name", TEMPLATES)
def test_the_frames_have_no_words_of_their_own(name: str) -> None:
    """But units."""
    bare = re.sub(r"<(style|script).*?</\1>|\{[{%].*?[}%]\}|<[^>]*>", " ", own_file(name), flags=re.DOTALL)
    assert set(re.findall(r"[A-Za-z]+", bare)) <= {"ml", "mm", "g", "l"}


def test_the_file_is_small() -> None:
    """Each run reads it, with a page or without."""
    assert len(json.dumps(written())) < 40_000
