"""The panel of the page in a real browser, by a clock of the test's own: what it calls for, and what is pressed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.page.browser import later, open_anew, press, text, unreadable
from tests.page.conftest import OWN

LIMITS = "clay: {rim_min: 6, working_min: 60}\nsheet: {before: [clay soft, board clamped]}\n"
DUE_MIN = 13.8
"""The bottle waits after 13.8 minutes, by its summary."""
PHONE = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}
DESK = {"width": 1280, "height": 800, "deviceScaleFactor": 1, "mobile": False}
ENTER = "\ue007"


@pytest.fixture(scope="module")
def limited(make_page: Callable[..., Path]) -> Path:
    """The bottle's page with limits for a wait and two things to tick before the start."""
    return make_page("limited.html", OWN + LIMITS)


@pytest.fixture
def sheet(drawing_browser: Any, limited: Path) -> Any:
    """That page as it is opened for the first time, which tells of each time it shakes the phone."""
    browser = drawing_browser
    open_anew(browser, limited)
    browser.execute_script("window.shaken = []; navigator.vibrate = (how) => window.shaken.push(how)")
    yield browser
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def call(browser: Any) -> str:
    """How it calls: "" not at all, `due`, `late`."""
    return str(browser.execute_script("return document.body.dataset.call"))


def box(browser: Any, css: str) -> dict[str, float]:
    """Where an element is in the window, px."""
    script = "return document.querySelector(arguments[0]).getBoundingClientRect().toJSON()"
    return dict(browser.execute_script(script, css))


def waits(browser: Any, minutes: float) -> None:
    """Started, and so many minutes after the wait begins."""
    press(browser, "#start")
    later(browser, DUE_MIN + minutes)


def test_when_it_waits_all_of_it_calls(sheet: Any) -> None:
    """At the due time the panel changes its colour, the title its words, and the phone shakes; not before."""
    press(sheet, "#start")
    colour = "return getComputedStyle(document.getElementById('now')).backgroundColor"
    quiet = sheet.execute_script(colour)
    assert (call(sheet), sheet.title.split(" · ")[1], sheet.execute_script("return window.shaken")) == (
        "",
        "Job sheet: limited.html",
        [],
    )
    later(sheet, DUE_MIN + 1)
    assert call(sheet) == "due"
    assert sheet.execute_script(colour) != quiet
    assert sheet.title.startswith("It waits: ")
    assert len(sheet.execute_script("return window.shaken")) == 1
    later(sheet, DUE_MIN + 2.5)
    assert len(sheet.execute_script("return window.shaken")) == 2, "it calls again while nobody comes"
    press(sheet, "#done")
    assert call(sheet) == ""


def test_it_counts_down_to_each_limit(sheet: Any) -> None:
    """While it waits it shows what is left for the rim; then what to do with the joint, and how long it is over."""
    data = json.loads(sheet.execute_script("return document.getElementById('data').textContent"))
    rim, hose = data["visits"][0]["limits"]
    assert (rim["what"], hose["what"]) == ("the rim", "the clay in the hose")
    press(sheet, "#start")
    later(sheet, data["visits"][0]["clock_s"] / 60 + rim["minutes"] - 2)
    assert text(sheet, "#countdown") in ("2:00 left", "1:59 left", "1:58 left")
    assert "For the rim." in text(sheet, "#limit")
    later(sheet, DUE_MIN + 10)
    assert call(sheet) == "late"
    assert text(sheet, "#label") == "It has waited too long"
    assert text(sheet, "#countdown").endswith(" too long")
    assert "score it and mist it" in text(sheet, "#limit")
    assert "left for the clay in the hose" in text(sheet, "#limit")
    later(sheet, DUE_MIN + 100)
    assert "run it out beside the piece" in text(sheet, "#limit")
    assert "score it and mist it" in text(sheet, "#limit")


@pytest.mark.parametrize("minutes", [1, 10])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_call_can_be_read_by_all(sheet: Any, scheme: str, minutes: int) -> None:
    """In both of its colours axe finds nothing against WCAG 2.2 AA."""
    waits(sheet, minutes)
    assert unreadable(sheet, scheme, 390, lambda: later(sheet, DUE_MIN + minutes)) == []


def test_done_before_its_time_is_asked_again(sheet: Any) -> None:
    """Enter pressed over and over passes no wait; early, Done asks first, and what was pressed can be taken back."""
    press(sheet, "#start")
    before = text(sheet, "#next")
    for _ in range(3):
        sheet.switch_to.active_element.send_keys(ENTER)
    assert text(sheet, "#next") == before
    press(sheet, "#done")
    assert text(sheet, "#next") == before
    assert text(sheet, "#done").startswith("Not due for 13:")
    later(sheet, 1)
    assert text(sheet, "#done") == "Done, it goes on", "it has not been meant"
    press(sheet, "#done")
    press(sheet, "#done")
    assert text(sheet, "#next") == "Take it off"
    press(sheet, "#undo")
    assert text(sheet, "#next") == before
    later(sheet, DUE_MIN - 0.5)
    press(sheet, "#done")
    assert text(sheet, "#next") == "Take it off", "it may be half a minute early"


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_once_started_what_to_do_is_on_the_first_screen(sheet: Any, size: dict[str, Any]) -> None:
    """Countdown and button are seen without scrolling; the verdict is one line, and unfolds."""
    sheet.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    press(sheet, "#start")
    for css in ("#next", "#countdown", "#done"):
        where = box(sheet, css)
        assert 0 <= where["top"] < where["bottom"] <= size["height"], css
    assert box(sheet, "#verdict")["height"] < 100
    if size is DESK:
        sheet.execute_script("document.getElementById('card').scrollIntoView()")
        assert 0 <= box(sheet, "#countdown")["top"] < size["height"], "it stays in sight"
    assert not sheet.find_element("css selector", "#verdict .care").is_displayed()
    press(sheet, "#verdict .fold")
    assert sheet.find_element("css selector", "#verdict .care").is_displayed()


@pytest.mark.parametrize("label", ["Mehr", "Ausklappen und alles lesen", "Vollständigkeitsbedingungsanzeige"])
def test_a_long_button_leaves_the_verdict_its_room(sheet: Any, label: str) -> None:
    """It goes under the verdict; a short one stays beside it, and none runs out of its frame."""
    sheet.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", PHONE)
    press(sheet, "#start")
    sheet.execute_script("document.querySelector('#verdict .fold').textContent = arguments[0]", label)
    frame, heading, button = (box(sheet, css) for css in ("#verdict", "#verdict-h", "#verdict .fold"))
    assert heading["width"] >= 144
    assert frame["left"] < button["left"] < button["right"] < frame["right"]
    assert (button["top"] >= heading["bottom"]) is (label != "Mehr")


def test_cells_of_a_table_keep_apart(sheet: Any) -> None:
    """Between the words of two of them lie 12 px or more, and an amount is one line."""
    sheet.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", PHONE)
    words = "document.querySelectorAll('#clays thead th').forEach((one, at) => one.textContent = arguments[0][at])"
    sheet.execute_script(words, ["Masseversatz", "Gewichtsangabe", "Literangabe"])
    gaps, lines = sheet.execute_script(
        "const of = (cell) => { const range = document.createRange(); range.selectNodeContents(cell);"
        " return range.getBoundingClientRect(); };"
        "const gaps = [...document.querySelectorAll('#clays tr')].flatMap((row) =>"
        " [...row.cells].slice(1).map((cell, at) => of(cell).left - of(row.cells[at]).right));"
        "const amounts = [...document.querySelectorAll('#clays td span')].map((one) => one.getClientRects().length);"
        "return [gaps, amounts]"
    )
    assert len(gaps) > 3
    assert min(gaps) >= 12
    assert set(lines) == {1}


def test_before_the_start_the_button_is_on_the_first_screen(sheet: Any) -> None:
    """At a desk it is seen without scrolling, with the cartridge that has to be in."""
    sheet.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", DESK)
    sheet.refresh()
    assert box(sheet, "#start")["bottom"] <= DESK["height"]
    assert text(sheet, "#label").startswith("First: put in cartridge 1, white stoneware, ")


def test_what_is_not_ticked_is_said(sheet: Any) -> None:
    """Before the start and after it, until all is ticked; then the list lies folded behind the visits."""
    assert text(sheet, "#unticked") == "Before the start, 2 of 2 are not ticked yet."
    sheet.find_elements("css selector", "#before input")[0].send_keys(" ")
    press(sheet, "#start")
    assert text(sheet, "#unticked") == "It was started with 1 of 2 not ticked."
    assert box(sheet, "#before")["top"] > box(sheet, "#times")["top"]
    assert not sheet.find_element("id", "before-more").is_displayed()
    assert text(sheet, "#before-count") == "1 of 2 ticked"
    press(sheet, "#before .fold")
    sheet.find_elements("css selector", "#before input")[1].send_keys(" ")
    assert not sheet.find_element("id", "unticked").is_displayed()
    press(sheet, "#undo")
    assert box(sheet, "#before")["top"] < box(sheet, "#times")["top"]


def test_the_end_has_its_button(sheet: Any) -> None:
    """When it should be done it calls; pressed, it says when it came off and how long it really was."""
    waits(sheet, 1)
    press(sheet, "#done")
    later(sheet, DUE_MIN + 20)
    assert call(sheet) == "due"
    assert (text(sheet, "#label"), text(sheet, "#next")) == ("It should be done", "Take it off")
    assert text(sheet, "#since") == "0:33 h since the start."
    press(sheet, "#done")
    assert text(sheet, "#next").startswith("Taken off at ")
    assert text(sheet, "#took") == "0:33 h from start to off, waits counted in."
    assert not sheet.find_element("id", "done").is_displayed()
    assert all("done at" in one.text for one in sheet.find_elements("css selector", "#visits .when"))
    assert call(sheet) == ""
    press(sheet, "#undo")
    assert text(sheet, "#next") == "Take it off"


def test_the_card_is_written_into_and_kept(sheet: Any) -> None:
    """What is typed into the card is there after a reload, and forgotten with all else."""
    sheet.find_element("id", "fill-grams").send_keys("512")
    sheet.refresh()
    value = "return document.getElementById('fill-grams').value"
    assert sheet.execute_script(value) == "512"
    press(sheet, "#start")
    press(sheet, "#again")
    press(sheet, "#again")
    assert sheet.execute_script(value) == ""


def test_paper_has_no_empty_heading_and_a_card_to_cut_off(sheet: Any) -> None:
    """In print nothing of the clock stands there, and the folded parts do; the card comes last, below its line."""
    press(sheet, "#start")
    sheet.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    sheet.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    try:
        for css in ("#now", ".fold", "#before-count"):
            assert not sheet.find_element("css selector", css).is_displayed(), css
        for css in ("#verdict .care", "#before-more", "#cut", "#fill-grams"):
            assert sheet.find_element("css selector", css).is_displayed(), css
        assert "press" not in text(sheet, "#times").lower()
        assert box(sheet, "#rest")["bottom"] <= box(sheet, "#cut")["top"] < box(sheet, "#card")["top"]
    finally:
        sheet.execute_script("window.dispatchEvent(new Event('afterprint'))")
        sheet.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert box(sheet, "#card")["top"] < box(sheet, "#rest")["top"]
