"""The words of the pages: each is used, each has what belongs into its places, and records stay known."""

from __future__ import annotations

import ast
import json
import pickle
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from jinja2 import Environment, nodes

from gpost.errors import WordsError
from gpost.page.frame import own_file
from gpost.page.index import SCRIPTS as INDEX_SCRIPTS
from gpost.page.scripted import ASKED, for_scripts
from gpost.page.sheet import SCRIPTS
from gpost.words import (
    Part,
    Told,
    differences,
    group,
    language,
    listed,
    parts,
    places,
    read,
    recorded,
    say,
    sentence,
    written,
)

ROOT = Path(__file__).parents[1] / "gpost"
TEMPLATES = sorted(path.name for path in (ROOT / "page").glob("*.html"))
SCRIPTED = ("script", "index_script")
"""Groups that scripts ask for by their keys alone."""
GROUPS = {name: words for name, words in written().items() if isinstance(words, dict) and name != "_notes"}
KEYS = [f"{name}.{key}" for name, words in GROUPS.items() for key in words]
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
        with pytest.raises(WordsError):
            say(key)
    with pytest.raises(WordsError, match=r"words\.json: names\.cartridge: there is no place \{number\} in it"):
        say("names.cartridge")


def test_a_record_is_known_in_a_sentence_of_sentences() -> None:
    """However deep a record stands, the text knows it, and reads as any other."""
    text = say("day.waits", piece="pot", what=say("waits.head", where="here", why=recorded("why")))
    assert text == "pot waits: here: why"
    assert parts(text) == (Part("pot waits: here: ", False), Part("why", True))
    assert parts(pickle.loads(pickle.dumps(text))) == parts(text)
    assert not isinstance(say("waits.head", where="here", why="why"), Told)
    assert parts("plain") == (Part("plain", False),)


def test_a_list_has_its_signs_from_the_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """What stands between the texts of a row is a word as any other, and records in it stay known."""
    assert listed(["a", "b", "c"]) == "a, b, c"
    assert listed(["a", recorded("b")], "names.semicolon") == "a; b"
    assert parts(listed([recorded("a"), "b"])) == (Part("a", True), Part(", b", False))
    assert listed([]) == ""
    found = {**written(), "names": {**group("names"), "comma": "、"}}
    monkeypatch.setattr("gpost.words.written", lambda: found)
    assert listed(["a", "b"]) == "a、b"


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
    known = {key for name in SCRIPTED for key in ASKED[name]}
    for name in {*SCRIPTS, *INDEX_SCRIPTS}:
        asked = re.findall(r'\bsay\((?:\w+ \? )?"(\w+)"(?: : "(\w+)")?', own_file(name))
        assert {key for pair in asked for key in pair if key} <= known, name


@pytest.mark.parametrize("name", SCRIPTED)
def test_what_scripts_ask_for_is_all_there_is(name: str) -> None:
    """Each sentence of theirs stands in the table that pages check them by, with all its places."""
    found: dict[str, set[str]] = {}
    for key, text in group(name).items():
        found.setdefault(COUNTED.sub("", key), set()).update(places(text))
    assert {key: set(said.split()) for key, said in ASKED[name].items()} == found


ENGLISH = (ROOT / "words.json").read_text("utf-8")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b'{"lang": "de", "page": {"now": "J\xe4tzt"}}', "wo.json: line 1 is not UTF-8; save the file as UTF-8"),
        (b'{"lang": "de",\n "page": {"now": "Jetzt",}}', "wo.json: it is no JSON from line 2, column"),
        (b'[]', "wo.json: it must hold"),
        (b'{"page": {}}', "wo.json: it must hold"),
        (b'{"lang": "de", "page": []}', "wo.json: page must be a group of sentences"),
        (b'{"lang": "de", "page": {"now": 3}}', "wo.json: page.now must be a sentence in quotation marks"),
        (b'{"lang": "de", "page": {"now": "a { b"}}', "wo.json: page.now: a brace stands alone"),
        (b'{"lang": "de", "script": {"in": "in time}"}}', "wo.json: script.in: a brace stands alone"),
        (b'{"lang": "de", "script": {"in": "in {the time}"}}', "wo.json: script.in: a brace stands alone"),
    ],
)
def test_a_slip_in_the_file_is_told_with_its_place(data: bytes, said: str) -> None:
    """As soon as it is read, whoever would use the sentence."""
    with pytest.raises(WordsError) as error:
        read(data, "wo.json")
    assert str(error.value).startswith(said)


def test_some_editors_begin_a_file_with_a_mark() -> None:
    """A byte order mark is no slip."""
    assert read(b"\xef\xbb\xbf" + ENGLISH.encode(), "wo.json") == written()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("page", "facts_many", "{hoehe} mm"), "page.facts_many: there is no place {hoehe} in it"),
        (("page", "facts_many", None), "page.facts_many is missing"),
        (("script", "in", "in {zeit}"), "script.in: there is no place {zeit} in it; there may be: {time}"),
        (("script", "in", None), "script.in is missing"),
        (("script", "unticked_one", "{alle}"), "there is no place {alle} in it"),
    ],
)
def test_what_is_amiss_is_told_where_it_is_used(
    change: tuple[str, str, str | None], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A key that is missing, or a place that there isn't, by its key; those of scripts when a page is made."""
    name, key, text = change
    words = {other: said for other, said in group(name).items() if other != key}
    found = {**written(), name: words if text is None else {**words, key: text}}
    monkeypatch.setattr("gpost.words.written", lambda: found)
    facts = {"count": 2, "height": "1", "time": "0:10", "ml": "3"}
    ask = (lambda: for_scripts("script")) if name == "script" else (lambda: say("page.facts", **facts))
    with pytest.raises(WordsError, match=re.escape(said)):
        ask()


def test_a_translation_is_compared_with_the_english_file(tmp_path: Path) -> None:
    """Keys that are missing or too many, and places that differ; the sentence of one may say its count in a word."""
    other = json.loads(ENGLISH)
    assert list(differences(written(), other)) == []
    assert list(differences({"lang": "en", "page": {"now": "Now"}}, {"lang": "de", "page": {"now": " "}})) == ["page.now is empty"]
    del other["page"]["now"]
    other["page"]["jetzt"] = "jetzt"
    other["pictures"]["mm"] = "{value} {wert} mm"
    other["waits"]["slugs_many"] = "Stränge"
    other["waits"]["slugs_one"] = "ein Strang"
    path = tmp_path / "de.json"
    path.write_text(json.dumps(other), "utf-8")
    done = subprocess.run([sys.executable, "-m", "gpost.words", path], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr, done.stdout.splitlines()) == (
        1,
        "",
        [
            "page.jetzt is no key of the English file",
            "page.now is missing",
            "pictures.mm: there is no place {wert} in it; there may be: {value}",
            "waits.slugs_many: the place {count} is missing",
        ],
    )
    path.write_text(ENGLISH.replace('"lang": "en"', '"lang": "de'), "utf-8")
    done = subprocess.run([sys.executable, "-m", "gpost.words", path], capture_output=True, text=True, check=False)
    assert (done.returncode, "it is no JSON from line 2" in done.stdout) == (1, True)


def test_a_slip_is_no_fault_of_gpost() -> None:
    """Any command that needs the words ends with one sentence that names file and key."""
    said = dict(written())
    del said["ticks"]
    program = "import gpost.words as w\nw.written = lambda: SAID\nfrom gpost.cli import cli\ncli(['run', 'words.py'])"
    command = [sys.executable, "-c", program.replace("SAID", repr(said))]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("Error: ")
    assert done.stderr.endswith("words.json: the group ticks is missing; put it in as the English file has it\n")


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
    assert not re.search(r"[:;.]", bare)


@pytest.mark.parametrize("key", [key for key in group("_notes") if key != "_"])
def test_a_note_for_who_translates_is_of_a_sentence(key: str) -> None:
    """Its keys and places are there; it may stand in a translation or not."""
    about = [key, *(named for named in re.findall(r"\b[a-z_]+\.[a-z_]+\b", group("_notes")[key]))]
    assert [one for one in about if one not in {COUNTED.sub("", known) for known in KEYS}] == []
    assert places(group("_notes")[key]) <= places(sentence(key, {"count": 2}))
    assert list(differences(written(), {**GROUPS, "lang": "en", "dir": "ltr"})) == []


def test_the_file_is_small() -> None:
    """Each run reads it, with a page or without."""
    assert len(json.dumps(written())) < 40_000
