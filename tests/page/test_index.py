"""The index: one page that leads to those of a folder or a day, in a real browser and as a file."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from gpost import words
from gpost.cli import cli
from gpost.demo.gcode import Piece, SliceStyle
from gpost.page import index as index_page
from gpost.page.index import Event, Index, index_html, is_index
from gpost.page.index import Piece as OnIndex
from gpost.report.model import Summary
from gpost.report.visits import visits
from tests.page.browser import later, plain, press, text, unreadable, wait_for
from tests.page.conftest import HOSTILE
from tests.sliced import write_piece

STUDIO = """
clay: {colour: white}
cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 6}
machine: {display_letters: 40}
steps: [purge: {volume_ml: 2}, refill: {prime_ml: 2}, tally]
"""
NAMES = {"bowl & 'cup'": 16, "tall": 70}
"""Heights by names; the tall one needs two cartridges."""


def run(*words: str | Path) -> str:
    """What a command says. Its status may tell of a file that can't be done."""
    result = CliRunner().invoke(cli, [*map(str, words)])
    assert result.exit_code in (0, 1), result.output
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result.output


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of two pieces and an empty file, done as a batch and as a day, with pages."""
    home = tmp_path_factory.mktemp("index")
    (home / "in").mkdir()
    for name, height_mm in NAMES.items():
        piece = Piece(height_mm=height_mm, radius_mm=20, segments=24, base_layers=1)
        write_piece(home / "in" / f"{name}.gcode", piece, SliceStyle())
    (home / "in" / "empty.gcode").write_bytes(b"")
    (home / "studio.yaml").write_text(STUDIO)
    for command, out in (("batch", "out"), ("day", "day")):
        run(command, home / "in", "-c", home / "studio.yaml", "-o", home / out, "--pages")
    return home


@pytest.fixture(params=["out", "day"])
def index(request: pytest.FixtureRequest, home: Path) -> Path:
    """The index of the batch, and of the day."""
    return home / request.param / "index.html"


@pytest.fixture
def browser(drawing_browser: Any, index: Path) -> Any:
    """The index as it is opened for the first time."""
    return opened(drawing_browser, index)


NEW = """
const boxes = [...document.querySelectorAll("[data-tick]")];
const [start, live] = ["start", "live"].map((id) => document.getElementById(id));
if (!boxes.some((box) => box.checked) && !start?.hidden && live?.checked !== false) return true;
localStorage.clear();
sessionStorage.clear();
location.reload();
"""
"""Whether nothing is pressed yet; what a page before has kept may be told to this one late."""


KEPT = """
const text = document.getElementById("next-piece").textContent;
if (!window.left && performance.timeOrigin > (+window.name || Infinity) && text === "{text}") return true;
const box = document.querySelector("[data-tick]");
if (!box.checked) box.click();
window.name ||= performance.timeOrigin;
window.left = true;
location.reload();
"""
"""Whether the first tick is there when the page is loaded anew. What was forgotten before may wipe it out late, and it
is set again then."""


def opened(browser: Any, page: Path) -> Any:
    browser.get(page.as_uri())
    browser.execute_script("localStorage.clear(); sessionStorage.clear()")
    browser.refresh()
    wait_for(browser, NEW)
    for kind in ("browser", "performance"):
        browser.get_log(kind)
    browser.refresh()
    return browser


def data_of(html: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(re.findall(r'id="data">(.*?)</script>', html, re.DOTALL)[0])
    return found


def test_it_opens_without_a_word_or_a_request(browser: Any, index: Path) -> None:
    """From file: nothing is said on the console, and nothing but the page itself is asked for."""
    wait_for(browser, "return !document.querySelector('.scripted').hidden")
    assert browser.get_log("browser") == []
    messages = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    asked = {m["params"]["request"]["url"] for m in messages if m["method"] == "Network.requestWillBeSent"}
    assert asked == {index.as_uri()}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_all_can_read_it(browser: Any, scheme: str, width: int) -> None:
    """axe finds nothing against WCAG 2.2 AA, all parts unfolded; nothing is wider than the screen, or small."""
    assert unreadable(browser, scheme, width) == []


def test_each_piece_leads_to_its_page_and_back(browser: Any, index: Path) -> None:
    """By keyboard: whatever the name is, its link opens its page, and that leads back to the index."""
    for at in range(len(NAMES)):
        link = browser.find_elements("css selector", ".pieces h3 a")[at]
        name = link.text
        link.send_keys("\ue007")
        assert text(browser, "h1") == name
        press(browser, ".back a")
        assert browser.current_url == index.as_uri()


def test_the_page_says_what_cannot_be_printed(browser: Any) -> None:
    """The file that is empty stands on top with its reason, and not among the pieces."""
    assert "empty.gcode is empty" in text(browser, "#verdict")
    assert text(browser, "#verdict").count("empty.gcode") == 1
    assert "empty" not in text(browser, "#pieces")


def test_next_is_the_first_piece_without_a_tick(drawing_browser: Any, home: Path) -> None:
    """A folder's index: what is ticked as printed is done, also after a reload; then comes the next, then none."""
    browser = opened(drawing_browser, home / "out" / "index.html")
    first, second = (f"{name}.gcode" for name in NAMES)
    assert text(browser, "#next-piece") == f"Next: {first}"
    assert text(browser, "#next-load") == text(browser, ".pieces li:first-child .first") != ""
    browser.find_elements("css selector", "[data-tick]")[0].send_keys(" ")
    assert text(browser, "#next-piece") == f"Next: {second}"
    wait_for(browser, KEPT.replace("{text}", f"Next: {second}"))
    browser.find_elements("css selector", "[data-tick]")[1].send_keys(" ")
    assert text(browser, "#next-piece") == "All are printed."


def test_the_clock_goes_through_the_day(drawing_browser: Any, home: Path) -> None:
    """The day begins when the button is pressed; who is late by 30 minutes puts off all that follows by them."""
    browser = opened(drawing_browser, home / "day" / "index.html")
    planned = [one.text for one in browser.find_elements("css selector", "#visits .when")]
    assert planned[0] == "9:00"
    events = json.loads((home / "day" / "day.json").read_text())["events"]
    assert planned == [
        f"{s // 3600}:{s // 60 % 60:02d}" for s in (round(e["clock_s"] / 60) * 60 for e in events)
    ]
    press(browser, "#start")
    assert text(browser, "#label") == "Now"
    assert re.fullmatch(r"Put in cartridge 1, white, \d+ ml.*", text(browser, "#next"))
    press(browser, "#done")
    end = minutes_of(text(browser, "#visits li:last-child .when"))
    later(browser, 30)
    assert text(browser, "#label") == "Now"
    assert text(browser, "#next").startswith("Start 01-")
    put_off = (minutes_of(text(browser, "#visits li:last-child .when")) - end) % 1440
    assert put_off in (29, 30)
    browser.refresh()
    assert "Start 01-" in text(browser, "#next")


def minutes_of(said: str) -> int:
    hours, minutes = said.split()[-1].split(":")
    return int(hours) * 60 + int(minutes)


def test_a_planned_wait_is_part_of_the_plan(drawing_browser: Any, tmp_path: Path) -> None:
    """While a wait of ten minutes lasts nothing is late; pressed at its end, the rest comes as planned."""
    events = [
        Event(0.0, "0:00", 0.0, "start"),
        Event(60.0, "0:01", 600.0, "waits"),
        Event(1800.0, "0:30", 0.0, "is done"),
    ]
    (tmp_path / "index.html").write_text(index_html(Index("t", "h", [OnIndex("a", key="a")], events=events)))
    browser = opened(drawing_browser, tmp_path / "index.html")
    press(browser, "#start")
    press(browser, "#done")
    end = minutes_of(text(browser, "#visits li:last-child .when"))
    later(browser, 10)
    assert (text(browser, "#label"), text(browser, "#next")) == ("Now", "waits")
    assert (minutes_of(text(browser, "#visits li:last-child .when")) - end) % 1440 in (0, 1)
    later(browser, 11)
    press(browser, "#done")
    assert (minutes_of(text(browser, "#visits li:last-child .when")) - end) % 1440 in (0, 1)


def test_paper_has_all_but_buttons(browser: Any) -> None:
    """In print there are the times, pieces and boxes to tick, and no button."""
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    seen = "return [...document.querySelectorAll(arguments[0])].some((one) => one.getClientRects().length)"
    try:
        for css in ("button", "#next", "#next-piece", "#kept"):
            assert not browser.execute_script(seen, css), css
        for css in ("#verdict", "#pieces", "[data-tick]"):
            assert browser.execute_script(seen, css), css
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_it_shows_itself_anew(drawing_browser: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A watched folder's index loads what stands there now, and keeps tick and focus; it can be told not to."""
    monkeypatch.setattr(index_page, "EACH_S", 0.6)  # a busy machine takes some tenths to show it
    page = tmp_path / "index.html"

    def write(name: str) -> None:
        pieces = [OnIndex(one, key=one) for one in ("first", name)]
        (tmp_path / "new").write_text(index_html(Index("t", "h", pieces, live=True)))
        (tmp_path / "new").replace(page)

    write("second")
    browser = opened(drawing_browser, page)
    # a box that is ticked while its page still loads is not yet listened to
    tick = (
        "const box = document.readyState === 'complete' && document.querySelector('[data-tick]');"
        "if (box) { box.focus(); box.click(); } return box.checked"
    )
    assert wait_for(browser, tick)
    write("third")
    # what was forgotten before may wipe the tick out late: it is set again then, and must be kept by the next load
    kept = (
        "const box = document.readyState === 'complete' && document.querySelector('[data-tick]');"
        "if (box && !box.checked) { window.late = true; box.focus(); box.click(); }"
        "return !window.late && document.getElementById('next-piece')?.innerText === 'Next: third'"
    )
    assert wait_for(browser, kept)
    assert browser.execute_script("return document.activeElement.dataset.tick") == "first"
    browser.execute_script("document.getElementById('live').click(); window.same = true")
    write("fourth")
    count = "const done = arguments[0]; setTimeout(() => done(window.same), 1500)"
    assert browser.execute_async_script(count) is True
    browser.refresh()
    assert browser.execute_script("return document.getElementById('live').checked") is False
    assert browser.get_log("browser") == []


def test_hostile_words_are_only_words(drawing_browser: Any, tmp_path: Path) -> None:
    """Markup in any text, and a name that looks like another address, stay what they are."""
    page = "javascript:alert(1)"
    piece = OnIndex(HOSTILE, page, HOSTILE, HOSTILE, HOSTILE, (HOSTILE,), (HOSTILE,), key=HOSTILE)
    piece = piece._replace(warned=(HOSTILE,), more=HOSTILE)
    events = [Event(0.0, "0:00", 0.0, HOSTILE, "//x.example/y"), Event(9.0, "0:01", 0.0, HOSTILE)]
    load = index_page.Load(HOSTILE, HOSTILE, (HOSTILE,))
    whole = Index(HOSTILE, HOSTILE, [piece], [HOSTILE], [HOSTILE], events, [load])
    html = index_html(whole)
    assert "<img src=x" not in html
    assert html.count("<script") == html.count("</script>") == len(index_page.SCRIPTS) + 1
    (tmp_path / "index.html").write_text(html)
    browser = opened(drawing_browser, tmp_path / "index.html")
    press(browser, "#start")
    assert HOSTILE in text(browser, "#next")
    links = [link.get_attribute("href") for link in browser.find_elements("css selector", "a")]
    folder = tmp_path.as_uri()
    assert links == [f"{folder}/%2F%2Fx.example%2Fy", f"{folder}/javascript%3Aalert%281%29"]
    assert browser.get_log("browser") == []


def test_what_pieces_are_warned_of_comes_first(tmp_path: Path) -> None:
    """Nothing stands in the way of a batch or a day whose pieces are not warned of; else the first five, and how many more."""
    pieces = [OnIndex("a", warned=("one & two", "three"), more="and 4 more on its page"), OnIndex("b")]
    html = index_html(Index("t", "h", pieces))
    verdict = html.partition('id="verdict"')[2].partition("</section>")[0]
    assert words.say("page.verdict_look") in verdict
    assert re.findall(r"<li><strong>(.*?)</strong>(.*?)</li>", verdict) == [
        ("a", ": one &amp; two"),
        ("a", ": three"),
        ("a", ": and 4 more on its page"),
    ]
    assert words.say("page.verdict_good") in index_html(Index("t", "h", [OnIndex("a"), OnIndex("b")]))


@pytest.mark.parametrize(("often", "told", "more"), [(1, 1, ""), (2, 2, ""), (5, 5, ""), (6, 5, "and 1 more wait, after"), (9, 5, "and 4 more waits, the last after")])
@pytest.mark.parametrize("command", ["batch", "day"])
def test_no_wait_of_a_piece_is_left_out(tmp_path: Path, command: str, often: int, told: int, more: str) -> None:
    """Each stands there with its time, of many the first five, how many more there are and when the last is."""
    (tmp_path / "in").mkdir()
    lines = "".join(f"G1 X60 Y60 Z{z} F1500\nG1 X90 E9\nG1 Y90 E9\nG1 X60 E9\nG1 Y60 E9\n{'M0' if z < often + 2 else ''}\n" for z in range(2, 14))
    (tmp_path / "in" / "cup.gcode").write_text(f"G28\nG90\nM83\n{lines}")
    (tmp_path / "c.yaml").write_text("clay: {metering: {unit: mm3}}\nmachine: {nozzle_mm: 3}\n")
    run(command, tmp_path / "in", "-c", tmp_path / "c.yaml", "-o", tmp_path / "out", "--pages")
    html = (tmp_path / "out" / "index.html").read_text()
    assert html.count("Be there after") == told
    assert more in plain(html)
    assert (" more wait" in plain(html)) == bool(more)


def test_a_day_of_the_index_says_what_its_sheet_says(home: Path) -> None:
    """Pieces in the order of printing, with the sheet's times; its loads, and the clay to wedge."""
    sheet = json.loads((home / "day" / "day.json").read_text())
    html = plain((home / "day" / "index.html").read_text("utf-8"))
    found = re.findall(r'<li data-piece="([^"]*)">', html)
    assert [one.replace("&amp;", "&").replace("&#39;", "'") for one in found] == [
        row["file"] for row in sheet["pieces"]
    ]
    for row in sheet["pieces"]:
        start, end = (f"{s // 60}:{s % 60:02d}" for s in (round(row[k] / 60) for k in ("start_s", "end_s")))
        assert f"<strong>{start} to {end}</strong>" in html
    for row in sheet["cartridges"]:
        assert f"cartridge {row['number']}, {row['colour']}" in html
        assert f"load at least {-(-row['load_ml'] // 1):.0f} ml" in html
    said = [event["text"] for event in sheet["events"][:-1]]
    found = data_of(html)["visits"]
    assert [text.lower() for text in said] == [visit["what"].lower() for visit in found]


def test_a_wait_of_a_day_is_what_its_piece_says(home: Path, tmp_path: Path) -> None:
    """What to do, how long it may last and the rest stand in the index as in the piece's own summary."""
    swap = STUDIO.replace("refill:", "swap: {at_height_mm: 40, colour: black}, refill:")
    (tmp_path / "swap.yaml").write_text(swap.replace("colour: white", "colour: white, rim_min: 6"))
    run("day", home / "in", "-c", tmp_path / "swap.yaml", "-o", tmp_path / "day", "--pages")
    (path,) = (tmp_path / "day").glob("*tall.json")
    own = visits(Summary.model_validate_json(path.read_text()))
    found = data_of(plain((tmp_path / "day" / "index.html").read_text("utf-8")))["visits"]
    waits = [one for one in found if " waits: " in one["what"]]
    assert len(waits) == len(own) - 1, "the first is the question whether its clay is in"
    for wait, visit in zip(waits, own[-len(waits) :], strict=True):
        assert wait["what"] == f"tall.gcode waits: {visit.doing}"
        assert wait["limits"] == [limit._asdict() for limit in visit.limits] != []
        assert wait["more"][0].lower() == f"{visit.where}: {visit.why}".lower()
    assert any(", black, " in visit.doing for visit in own)


def test_a_folder_keeps_its_pages_up_to_date(home: Path, tmp_path: Path) -> None:
    """Done again with another recipe and without --pages, page and index tell of what stands there now."""
    out, configs = tmp_path / "out", ["-c", home / "studio.yaml"]
    run("batch", home / "in", *configs, "-o", out, "--pages")
    before = (out / "tall.gcode.html").read_text("utf-8")
    (tmp_path / "more.yaml").write_text("clay: {colour: black}\n")
    run("batch", home / "in", *configs, "-c", tmp_path / "more.yaml", "-o", out)
    after = (out / "tall.gcode.html").read_text("utf-8")
    assert "black" not in before
    assert "black" in after
    assert "black" in (out / "index.html").read_text("utf-8")


@pytest.mark.parametrize("name", ["index.html", "tall.gcode.html"])
def test_a_page_of_somebody_else_is_kept(home: Path, tmp_path: Path, name: str) -> None:
    """What has the name of a page and isn't gpost's is not written over, unless --overwrite says so."""
    out = tmp_path / "out"
    out.mkdir()
    (out / name).write_text("mine")
    words = ["batch", home / "in", "-c", home / "studio.yaml", "-o", out, "--pages"]
    assert "exists already" in run(*words)
    assert (out / name).read_text() == "mine"
    assert not (out / "tall.gcode").exists()
    run(*words, "--overwrite")
    assert (out / name).read_text("utf-8").startswith("<!DOCTYPE html>")
    assert is_index(out / "index.html")


def test_an_index_that_was_written_into_is_kept(home: Path, tmp_path: Path) -> None:
    """As any other page, unless --overwrite says so; one of an earlier gpost, which has no mark, is made anew."""
    index = tmp_path / "out" / "index.html"
    words = ["batch", home / "in", "-c", home / "studio.yaml", "-o", tmp_path / "out", "--pages"]
    run(*words)
    written = index.read_bytes()
    run(*words)
    assert index.read_bytes() == written
    for changed in (
        written.replace(b"</h1>", b" (glaze: tin)</h1>"),
        written.replace(b"</h1>", " (Glasur: weiß)</h1>".encode("latin-1")),
    ):
        index.write_bytes(changed)
        assert "index.html exists already and is not as gpost wrote it; move it away" in run(*words)
        assert index.read_bytes() == changed
        run(*words, "--overwrite")
        assert index.read_bytes() == written
    index.write_bytes(written[: written.rindex(b"<!--")].replace(b"</h1>", b" (old)</h1>"))
    run(*words)
    assert index.read_bytes() == written


def test_a_page_that_is_missing_is_made(home: Path, tmp_path: Path) -> None:
    """A batch that was done without pages gets them, and what is done with them isn't done again."""
    words = ["batch", home / "in", "-c", home / "studio.yaml", "-o", tmp_path / "out"]
    run(*words)
    assert "2 done" in run(*words, "--pages")
    assert "2 unchanged" in run(*words, "--pages")
    (tmp_path / "out" / "tall.gcode.html").unlink()
    assert "1 done, 1 unchanged" in run(*words)


def test_a_page_in_other_words_is_made_anew(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """So that pages and index speak one language; a file without a page has nothing to do with words."""
    typed = ["batch", home / "in", "-c", home / "studio.yaml", "--jobs", "1", "-o"]
    paged, bare = [*typed, tmp_path / "out", "--pages"], [*typed, tmp_path / "bare"]
    run(*paged)
    run(*bare)
    english = words.written()
    page = {**english["page"], "now": "Jetzt"}  # type: ignore[dict-item]
    monkeypatch.setattr(words, "written", lambda: {**english, "lang": "de", "page": page})
    assert "2 done" in run(*paged)
    assert "Jetzt" in (tmp_path / "out" / "tall.gcode.html").read_text("utf-8")
    assert "2 unchanged" in run(*paged)
    assert "2 unchanged" in run(*bare)


def test_the_rest_of_a_day_has_its_index(home: Path, tmp_path: Path) -> None:
    """Planned anew from a piece, the index has what is left, and says what is printed already."""
    words = ["day", home / "in", "-c", home / "studio.yaml", "-o", tmp_path / "day"]
    run(*words, "--pages")
    files = [row["file"] for row in json.loads((tmp_path / "day" / "day.json").read_text())["pieces"]]
    run(*words, "--overwrite", "--from", files[1])
    html = (tmp_path / "day" / "index.html").read_text("utf-8")
    assert len(re.findall("<li data-piece=", html)) == 1
    assert "Printed already: 01-" in html
    assert (tmp_path / "day" / f"{files[0].removesuffix('.gcode')}.html").exists()


def test_pages_of_a_day_need_a_folder(home: Path) -> None:
    """Without -o nothing is written, so there can be no pages."""
    result = CliRunner().invoke(cli, ["day", str(home / "in"), "-c", str(home / "studio.yaml"), "--pages"])
    assert result.exit_code == 2
    assert "--pages goes with -o FOLDER" in result.output
