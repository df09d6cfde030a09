"""The page in a real browser: what a potter does with it, and what it may not do."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gpost.common.unbroken import UNITS
from gpost.demo.gcode import class_pieces
from gpost.page.frame import own_file
from tests.page.browser import TURNING, later, press, text, unreadable, wait_for
from tests.page.conftest import HOSTILE, OWN

SWAP = "Put in cartridge 2, cobalt blue, 177 ml"
"""What is to be done at the only wait: the cartridge's number, clay and amount to load."""


def drawn(browser: Any) -> None:
    """Wait for the first picture in space."""
    wait_for(browser, "return document.getElementById('canvas').dataset.ready")


def minutes_of(said: str) -> int:
    """Minutes after midnight of the time of day in some words."""
    hours, minutes = said.split()[-1].split(":")
    return int(hours) * 60 + int(minutes)


def pixels(browser: Any) -> list[int]:
    """Mean red, green and blue of what is drawn, and how many pixels in a million are: grids may be coarser.

    Read in the frame in which it is drawn: later the browser has taken the picture away.
    """
    return list(
        browser.execute_async_script(
            """const done = arguments[0], canvas = document.getElementById("canvas"), gl = canvas.getContext("webgl2");
            const draw = gl.drawArrays.bind(gl);
            let drawn = false;
            gl.drawArrays = (...which) => { drawn = true; draw(...which); };
            const look = () => {
              if (!drawn) return requestAnimationFrame(look);
              gl.drawArrays = draw;
              const [w, h] = [gl.drawingBufferWidth, gl.drawingBufferHeight];
              const all = new Uint8Array(4 * w * h), sum = [0, 0, 0, 0];
              gl.readPixels(0, 0, w, h, gl.RGBA, gl.UNSIGNED_BYTE, all);
              for (let i = 0; i < all.length; i += 4) if (all[i + 3] === 255) {
                sum[3] += 1;
                for (let k = 0; k < 3; k++) sum[k] += all[i + k];
              }
              done([...sum.slice(0, 3).map((value) => Math.round(value / sum[3])), Math.round(1e6 * sum[3] / (w * h))]);
            };
            document.getElementById("slider").dispatchEvent(new Event("input"));
            requestAnimationFrame(look);"""
        )
    )


def slide(browser: Any, value: int) -> None:
    browser.execute_script(
        "const s = document.getElementById('slider'); s.value = arguments[0]; s.dispatchEvent(new Event('input'))",
        value,
    )


def test_it_opens_without_a_word_or_a_request(browser: Any, page: Path) -> None:
    """From file: nothing is said on the console, and nothing but the page itself is asked for."""
    drawn(browser)
    assert browser.get_log("browser") == []
    messages = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    asked = {m["params"]["request"]["url"] for m in messages if m["method"] == "Network.requestWillBeSent"}
    assert {url for url in asked if not url.startswith("data:")} == {page.as_uri()}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_all_can_read_it(browser: Any, scheme: str, width: int) -> None:
    """axe finds nothing against WCAG 2.2 AA, all parts unfolded; nothing is wider than the screen."""

    def ready() -> None:
        drawn(browser)
        press(browser, "#start")

    assert unreadable(browser, scheme, width, ready) == []


def test_the_clock_shifts_the_timeline(browser: Any) -> None:
    """From the start on each wait has its time of day; one that lasts ten minutes longer puts off what follows."""
    assert text(browser, "#visits li:first-child .when") == "0:14"
    press(browser, "#start")
    start = browser.execute_script("const d = new Date(); return d.getHours() * 60 + d.getMinutes()")
    first, end = (minutes_of(text(browser, f"#visits li:{at}-child .when")) for at in ("first", "last"))
    assert (first - start) % 1440 in (13, 14)
    length = (end - first) % 1440
    assert "in 13:" in text(browser, "#countdown")
    later(browser, 24)
    assert text(browser, "#label") == "It waits for you now"
    assert text(browser, "#next") == SWAP
    assert "It has waited for 10:" in text(browser, "#limit")
    put_off = minutes_of(text(browser, "#visits li:last-child .when"))
    assert (put_off - end) % 1440 in (10, 11)
    press(browser, "#done")
    assert (text(browser, "#label"), text(browser, "#next")) == ("Next", "Take it off")
    after = minutes_of(text(browser, "#visits li:last-child .when"))
    assert (after - end) % 1440 in (10, 11)
    assert abs((after - put_off) % 1440) <= 1
    assert length in (7, 8, 9)
    press(browser, "#undo")
    assert text(browser, "#label") == "It waits for you now"


def test_ticks_and_times_survive_a_reload(browser: Any) -> None:
    """What was ticked and pressed is there again; what is begun anew is not."""
    browser.execute_script("document.querySelectorAll('#before [data-tick]')[2].click()")
    press(browser, "#start")
    browser.refresh()
    ticked = "return [...document.querySelectorAll('#before [data-tick]')].map((one) => one.checked)"
    assert browser.execute_script(ticked)[:4] == [False, False, True, False]
    assert text(browser, "#next") == SWAP
    press(browser, "#again")
    assert text(browser, "#next") == SWAP, "one press alone forgets nothing"
    press(browser, "#again")
    assert not any(browser.execute_script(ticked))
    browser.refresh()
    assert text(browser, "#next").startswith("Start the machine")


def test_the_slider_builds_the_piece_up(browser: Any) -> None:
    """Fewer points are drawn lower down, none at 0, and the words follow; by the clock it is the time's half."""
    drawn(browser)
    shown = "return Number(document.getElementById('canvas').dataset.shown)"
    whole, all_pixels = browser.execute_script(shown), pixels(browser)[3]
    slide(browser, 500)
    half, half_pixels = browser.execute_script(shown), pixels(browser)[3]
    assert 0.4 < half / whole < 0.65
    assert half_pixels < 0.8 * all_pixels
    assert "layer 47 of 93" in text(browser, "#built")
    browser.execute_script("document.getElementById('by-clock').click()")
    assert "0:11 h" in text(browser, "#built")
    slide(browser, 0)
    assert browser.execute_script(shown) == 0
    assert text(browser, "#built") == "before the first layer"


def test_it_comes_near_and_the_whole_is_one_press_away(browser: Any) -> None:
    """However often "Nearer" is pressed the eye stays out of the wall; one press shows all of it again."""
    drawn(browser)

    def far_mm() -> float:
        """How far the eye is from the middle, when it has been drawn anew."""
        pixels(browser)
        return float(browser.execute_script("return document.getElementById('canvas').dataset.far"))

    before_mm = far_mm()
    for _ in range(12):
        press(browser, "[data-zoom='0.8']")
    close_mm = far_mm()
    press(browser, "[data-zoom='0.8']")
    assert far_mm() == close_mm < before_mm
    bottle = class_pieces()["twisted-bottle"][0]
    assert close_mm > bottle.radius_mm * (1 + bottle.lobe_depth), "the eye is out of the wall"
    slide(browser, 300)
    press(browser, "#whole")
    assert far_mm() == before_mm
    assert text(browser, "#built").startswith("layer 93 of 93")
    labels = [one.get_attribute("textContent") for one in browser.find_elements("css selector", "#labels span")]
    assert "front: low y" in labels
    assert any(one.startswith("pause at ") for one in labels)


def test_colours_change(browser: Any) -> None:
    """Each button recolours the piece and says by a legend what the colours mean: the studio's own swatches."""
    drawn(browser)
    chips = "return [...document.querySelectorAll('#legend li')].map((li) => [li.textContent, li.firstChild.style.background])"
    assert browser.execute_script(chips) == [
        ["white stoneware", "rgb(239, 232, 220)"],
        ["cobalt blue", "rgb(49, 85, 143)"],
    ]
    seen = [pixels(browser)[:3]]
    for button in browser.find_elements("css selector", "#colourings button")[1:]:
        button.send_keys("\ue007")
        assert button.get_attribute("aria-pressed") == "true"
        seen.append(pixels(browser)[:3])
    assert len({tuple(colour) for colour in seen}) == len(seen) >= 4
    assert "s" in text(browser, "#legend").split()


def test_all_goes_by_the_keyboard(browser: Any) -> None:
    """The picture turns by arrow keys and comes nearer by +."""
    drawn(browser)
    canvas = browser.find_element("id", "canvas")
    before = pixels(browser)
    canvas.send_keys("\ue014\ue014\ue014")
    turned = pixels(browser)
    canvas.send_keys("+++")
    assert before != turned
    assert pixels(browser)[3] > turned[3]


TORN = """
const units = new RegExp(`\\\\d[\\\\u00a0 ](?:${arguments[0]})(?![\\\\p{L}\\\\p{N}_])`, "gu"), torn = [], whole = [];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
for (let node; (node = walker.nextNode()); )
  for (const one of node.parentElement.closest("script, code") ? [] : node.data.matchAll(units)) {
    const range = document.createRange();
    range.setStart(node, one.index);
    range.setEnd(node, one.index + one[0].length);
    (new Set([...range.getClientRects()].map((box) => box.top)).size > 1 ? torn : whole).push(one[0]);
  }
return [torn, whole.length];
"""
"""Numbers that stand on another line than their unit, and how many others there are."""


@pytest.mark.parametrize("started", [False, True])
def test_no_number_is_torn_from_its_unit(browser: Any, started: bool) -> None:
    """At any width of a phone, all parts unfolded, by whomever it is written."""
    if started:
        press(browser, "#start")
    browser.execute_script("document.querySelectorAll('details').forEach((one) => (one.open = true))")
    for width in range(320, 460, 20):
        size = {"width": width, "height": 844, "deviceScaleFactor": 1, "mobile": False}
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        torn, whole = browser.execute_script(TORN, UNITS)
        assert (torn, whole > 40) == ([], True), width
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_scripts_know_the_same_units() -> None:
    """Their list is that of Python."""
    assert f'const UNITS = "{UNITS}";' in own_file("kept.js")


def test_a_slow_machine_turns_it_in_coarser_pictures(browser: Any) -> None:
    """By a clock of the test's own: pictures that take half a second get coarser, quick ones finer; at rest it is fine."""
    drawn(browser)
    whole = int(browser.execute_script("return document.getElementById('canvas').dataset.drawn"))
    # from the first on: a picture may be done at any time
    browser.execute_script("let t = 0; window.each = 5; performance.now = () => (t += window.each);")

    def turned(each_ms: float) -> tuple[int, int]:
        """Points and pixels across, after a dozen pictures that took so long."""
        browser.execute_script("window.each = arguments[0]", each_ms)
        _, said = browser.execute_async_script(TURNING, 12)
        return int(said.split()[0]), int(said.split()[3])

    slow, quick = turned(500), turned(5)
    assert slow[0] < 4000 < quick[0]
    assert (
        slow[1] < quick[1] == browser.execute_script("return document.getElementById('canvas').clientWidth")
    )
    assert wait_for(browser, f"return Number(document.getElementById('canvas').dataset.drawn) >= {whole}")


def test_paper_has_all_but_buttons(browser: Any) -> None:
    """In print there are boxes to tick and lines to fill, and no button, slider or drawing in space."""
    drawn(browser)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        seen = (
            "return [...document.querySelectorAll(arguments[0])].some((one) => one.getClientRects().length)"
        )
        for css in ("button", "#slider", "canvas", "#next"):
            assert not browser.execute_script(seen, css), css
        for css in ("[data-tick]", ".fill dd", "#visits", "#still", "#load", "#clays", "#verdict"):
            assert browser.execute_script(seen, css), css
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_without_drawing_in_space_the_still_stays(start_browser: Callable[..., Any], page: Path) -> None:
    """Where there is no WebGL it says so, and all else works."""
    browser = start_browser("--disable-gpu", "--disable-3d-apis", "--window-size=390,844")
    browser.get(page.as_uri())
    assert "can't draw" in wait_for(browser, "return document.getElementById('no-solid').innerText")
    assert browser.find_element("id", "still").is_displayed()
    assert not browser.find_element("id", "solid").is_displayed()
    press(browser, "#start")
    assert text(browser, "#next") == SWAP


def test_hostile_words_are_only_words(drawing_browser: Any, make_page: Callable[..., Path]) -> None:
    """Markup in the studio's lists and in names of clays is shown as it is written, and nothing of it runs."""
    own = OWN + f"sheet: {{before: [{json.dumps(HOSTILE)}]}}\nclay: {{colour: {json.dumps(HOSTILE)}}}\n"
    page = make_page("hostile.html", own)
    drawing_browser.get_log("browser")
    drawing_browser.get(page.as_uri())
    drawn(drawing_browser)
    assert drawing_browser.find_element("css selector", "[data-tick] + span").text == HOSTILE
    assert HOSTILE in text(drawing_browser, "#load")
    assert HOSTILE in text(drawing_browser, "#legend")
    assert drawing_browser.find_elements("css selector", "[onerror]") == []
    assert drawing_browser.get_log("browser") == []


def test_the_policy_lets_nothing_else_run(browser: Any) -> None:
    """A script, a handler or eval that is none of the page's is refused by its own policy."""
    browser.execute_script(
        "const s = document.createElement('script'); s.textContent = 'window.ran = 1'; document.body.append(s);"
        "const d = document.createElement('div'); d.setAttribute('onclick', 'window.ran = 2');"
        "document.body.append(d); d.click();"
    )
    assert browser.execute_script("return window.ran") is None
    refused = [entry["message"] for entry in browser.get_log("browser")]
    assert len(refused) == 2
    assert all("Content Security Policy" in one for one in refused)
