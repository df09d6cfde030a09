"""A page in another language has no word left in this one, but for records, which are marked as English."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from gpost import words
from gpost.page import svg
from gpost.page.index import Index, Piece, index_html
from gpost.words import written
from tests.page.browser import AXE, later, open_anew, plain, press, wait_for
from tests.page.conftest import HOSTILE
from tests.page.foreign import in_english, texts, untranslated

PAGES = (
    "little.html",
    "too-little.html",
    "many.html",
    "outlet.html",
    "outlet.svg",
    "run.html",
    "rehearsal.html",
    "rest.html",
    "slugs.html",
    "slugs.svg",
    "pot7-day/index.html",
    "pot7-day/01-pot7-cup.html",
    "pot7-day/02-pot7-tall.html",
    "pot7-slugs-day/index.html",
    "pot7-slugs-day/01-pot7-cup.html",
    "pot7-batch/index.html",
    "watched.html",
    "nothing.html",
    "pot7-batch/pot7-tall.gcode.html",
)
LISTS = ("index.html", "watched.html", "nothing.html")
"""Those that lead to the pages of pieces."""
ROOT = Path(__file__).parents[2]
IF_SHOWN = "const done = document.getElementById('done'); done.hidden || done.click();"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with pages of all kinds in the made-up translation."""
    folder = tmp_path_factory.mktemp("translated")
    command = [sys.executable, "-m", "tests.page.translated", str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.mark.parametrize("name", PAGES)
def test_no_word_is_left(made: Path, name: str) -> None:
    """All texts, and what is read out in place of pictures, come from the one file, are records or names."""
    document = (made / name).read_text("utf-8")
    assert untranslated(document) == []
    assert sum("⟦" in text for _, text in texts(document)) > 5


def test_all_is_there_that_could_be_left(made: Path) -> None:
    """The pages have refills and swaps, twenty slugs, weighings, knobs, the file's own wait, and a failed piece."""
    summary = json.loads((made / "run.json").read_text())
    assert {"refill", "swap", "own"} <= {pause["kind"] for pause in summary["pauses"]}
    assert summary["weighings"]
    assert summary["knobs"]
    assert (made / "slugs.html").read_text("utf-8").count('<tr class="slug">') > 20
    assert (made / "rehearsal.html").read_text("utf-8").count("<li data-clock") == 1
    assert "is empty; slice the piece again" in "".join(
        in_english((made / "pot7-batch" / "index.html").read_text())
    )


def test_records_are_marked_as_english(made: Path) -> None:
    """Notes, what was changed, and reasons of pauses are read out as English, as WCAG 2.2 SC 3.1.2 asks."""
    summary = json.loads((made / "run.json").read_text())
    found = in_english(plain((made / "run.html").read_text()))
    for change in summary["changes"]:
        assert f"{change['step']}: {change['what']}" in found
    for note in summary["notes"]:
        assert note in found
    for pause in summary["pauses"]:
        if pause["step"]:
            assert f"{pause['kind']}, {pause['reason']}" in found


def test_text_and_calendar_say_the_same(made: Path) -> None:
    """What the page says of a wait they say in the same words, in whatever language."""
    html = (made / "run.html").read_text("utf-8")
    visits = json.loads(re.findall(r'id="data">(.*?)</script>', html, re.DOTALL)[0])["visits"]
    calendar = re.sub(r"\\([\\;,])", r"\1", (made / "run.ics").read_text("utf-8").replace("\n ", ""))
    summary = (made / "run.txt").read_text("utf-8")
    told = [
        text if isinstance(text, str) else "".join(part for part, _ in text)
        for visit in visits
        for text in visit["more"]
    ]
    assert len(told) > 5
    for text in told:
        for other in (summary, calendar):
            assert "".join(text.split()) in "".join(other.split())


def test_english_pages_need_no_marks(page: Path) -> None:
    """Where words and records have one language, it is said once."""
    assert page.read_text("utf-8").count('lang="') == 1


def test_what_is_left_is_found() -> None:
    """The reader of these tests sees a word in a text, in an attribute and in a picture, and lets marks be."""
    assert untranslated("<p>⟦ａ⟧ word, 3 mm</p>") == ["⟦ａ⟧ word, 3 mm"]
    assert untranslated('<p lang="en">a word</p><p>ivory, 3 mm, 2 g</p><code>a word</code>') == []
    assert untranslated('<img alt="a word">') == ["a word"]
    picture = "PHN2Zz48dGV4dD53b3JkPC90ZXh0Pjwvc3ZnPg=="  # <svg><text>word</text></svg>
    assert untranslated(f'<img alt="⟦⟧" src="data:image/svg+xml;base64,{picture}">') == ["word"]


def test_hostile_records_are_only_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a record is marked, it is escaped all the same, on the page and in a picture."""
    english = written()
    monkeypatch.setattr(words, "written", lambda: {**english, "lang": "eo"})
    html = index_html(Index("t", "h", [Piece("a", wrong=HOSTILE)], [HOSTILE], [HOSTILE]))
    assert "<img src=x" not in html
    assert [text for text in in_english(html) if HOSTILE in text]
    drawn = svg.text(0, 0, words.say("waits.head", where="here", why=words.recorded(HOSTILE)))
    assert [element.text for element in ET.fromstring(f"<svg>{drawn}</svg>").iter("tspan")] == [HOSTILE]


def test_what_is_read_out_in_place_of_a_picture_keeps_its_records(made: Path) -> None:
    """No part of an attribute can be marked as English; that a pause is a swap is told all the same."""
    alts = re.findall(r'alt="([^"]*)"', (made / "run.html").read_text("utf-8"))
    pauses = [pause for pause in json.loads((made / "run.json").read_text())["pauses"] if pause["step"]]
    assert {"swap", "refill"} <= {pause["kind"] for pause in pauses}
    for pause in pauses:
        assert any(pause["kind"] in alt for alt in alts)
    assert not any(re.search("[:,] *[.;]", alt) for alt in alts)


def left(browser: Any) -> list[str]:
    """What is left in the page as it stands."""
    document = str(browser.execute_script("return document.documentElement.outerHTML"))
    assert "undefined" not in document.partition("<body")[2].partition("<script")[0]
    return untranslated(document)


@pytest.mark.parametrize("name", ["run.html", "slugs.html", "rest.html"])
def test_scripts_have_no_words_of_their_own(made: Path, drawing_browser: Any, name: str) -> None:
    """Before the start, while it prints, at a wait, too late, and at the end: all that is shown is translated."""
    browser = drawing_browser
    open_anew(browser, made / name)
    wait_for(browser, "return document.getElementById('canvas').dataset.ready")
    assert left(browser) == []
    for button in browser.find_elements("css selector", "#colourings button"):
        browser.execute_script("arguments[0].click()", button)
        assert left(browser) == []
    browser.execute_script("const s = document.getElementById('slider'); s.value = 0;"
                           "s.dispatchEvent(new Event('input'))")  # fmt: skip
    assert left(browser) == []
    browser.execute_script("document.querySelector('[data-tick]').click()")
    press(browser, "#start")
    assert left(browser) == []
    for count in range(1, 99):
        for minutes in (60 * count, 60 * count + 8, 60 * count + 59):
            later(browser, minutes)
            assert left(browser) == []
        if not browser.find_element("css selector", "#done").is_displayed():
            break
        for _ in "when it is due", "too early, where it asks":
            browser.execute_script(IF_SHOWN)
            assert left(browser) == []
    assert browser.execute_script("return document.getElementById('took').textContent")
    press(browser, "#again")
    assert left(browser) == []
    assert [entry for entry in browser.get_log("browser") if name in entry["message"]] == []


def test_its_languages_are_known_ones(made: Path, drawing_browser: Any) -> None:
    """The page says its language, and each part that has another says that, by axe."""
    drawing_browser.get((made / "run.html").as_uri())
    drawing_browser.execute_script(AXE)
    found = drawing_browser.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run(document, { runOnly: ['html-has-lang', 'html-lang-valid', 'valid-lang'] })"
        ".then((all) => done([all.passes.map((one) => one.id), all.violations]));"
    )
    assert (sorted(found[0]), found[1]) == (["html-has-lang", "html-lang-valid", "valid-lang"], [])


def test_a_wait_is_marked_by_the_script_too(made: Path, drawing_browser: Any) -> None:
    """The reason of the next wait, a record, is English within a list in the page's language."""
    open_anew(drawing_browser, made / "run.html")
    press(drawing_browser, "#start")
    marked = drawing_browser.execute_script(
        "return [...document.querySelectorAll('#next-more li [lang]')].map((one) => [one.lang, one.textContent])"
    )
    summary = json.loads((made / "run.json").read_text())
    first = summary["pauses"][0]
    marked = [[lang, plain(said)] for lang, said in marked]
    assert marked == [["en", f"{first['kind']}, {first['reason']}"]]


@pytest.mark.parametrize("name", [name for name in PAGES if name.rpartition("/")[2] in LISTS])
def test_the_index_has_no_words_of_its_own(made: Path, drawing_browser: Any, name: str) -> None:
    """All that it shows from the first press to the last is translated."""
    browser = drawing_browser
    browser.get((made / name).as_uri())
    browser.execute_script("localStorage.clear(); sessionStorage.clear()")
    browser.refresh()
    assert left(browser) == []
    for box in browser.find_elements("css selector", "[data-tick]"):
        browser.execute_script("arguments[0].click()", box)
        assert left(browser) == []
    if not browser.find_elements("css selector", "#start"):
        return
    press(browser, "#start")
    for count in range(1, 9):
        later(browser, 60 * count)
        assert left(browser) == []
        if browser.find_element("css selector", "#done").is_displayed():
            press(browser, "#done")
