"""What is needed at a wait stands on the page and on paper: what to weigh, what turning a knob does."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from tests.page.browser import plain, unreadable

WEIGHED = """
clays:
  - {name: white stoneware, swatch: "#efe8dc"}
  - {name: cobalt blue, swatch: "#31558f"}
cartridge: {empty_g: 410}
"""
LONG = "Grandmother'sCeladonWithVeryFineGrogFromTheRiverBehindTheOldMill"
NARROW = f"""
clay: {{colour: {LONG}}}
clays: [{{name: {LONG}}}, {{name: cobalt blue, swatch: "#31558f"}}]
"""


@pytest.fixture(scope="module")
def weighed_page(make_page: Callable[..., Path]) -> Path:
    """The bottle of a studio that weighs its cartridges."""
    return make_page("weighed.html", WEIGHED)


def shown_on(browser: Any, css: str, said: str) -> bool:
    """Whether a text is to be seen in an element."""
    script = (
        "return [...document.querySelectorAll(arguments[0])].some((one) => one.getClientRects().length"
        " && one.checkVisibility({contentVisibilityAuto: true})"
        " && one.textContent.replaceAll('\\u00a0', ' ').includes(arguments[1]))"
    )
    return bool(browser.execute_script(script, css, said))


def test_the_page_says_what_the_text_says(weighed_page: Path) -> None:
    """Each weight of the summary to the gram, and each flow that is not as planned."""
    html = plain(unescape(weighed_page.read_text("utf-8")))
    assert "Weigh cartridge 1 when it comes off: put on with" in html
    assert re.search(r"weighed \d+ g, now \d+ g", html)
    assert "go by what it has lost" in html
    assert "If you turn flow or speed by hand and leave it so" in html
    assert re.search(r"flow 110 %: ", html)


def test_paper_has_what_is_folded(weighed_page: Path, drawing_browser: Any) -> None:
    """Paper can't be unfolded: knobs, notes and all cautions are printed; lines of the file are not."""
    drawing_browser.get(weighed_page.as_uri())
    rows = ("details li", "flow 110 %"), ("#rest li", "Local codes"), ("#rest li", "tally:")
    assert not any(shown_on(drawing_browser, css, said) for css, said in rows)
    drawing_browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        for css, said in (*rows, ("p", "Weigh cartridge 1 when it comes off")):
            assert shown_on(drawing_browser, css, said), said
        assert not shown_on(drawing_browser, "#rest code", "")
    finally:
        drawing_browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_long_names_break_and_amounts_dont(make_page: Callable[..., Path], drawing_browser: Any) -> None:
    """On a phone no table is wider than the screen, and ml and g stand on a line each."""
    drawing_browser.get(make_page("narrow.html", NARROW).as_uri())
    assert unreadable(drawing_browser, "light", 390) == []
    size = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}
    drawing_browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    try:
        broken = drawing_browser.execute_script(
            "return [...document.querySelectorAll('.loads td span:not(.more)')]"
            ".filter((one) => one.getClientRects().length !== 1).map((one) => one.textContent)"
        )
    finally:
        drawing_browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert broken == []


@pytest.mark.parametrize(("width", "least_px"), [(390, 14), (1280, 24)])
def test_letters_in_pictures_are_large(page: Path, drawing_browser: Any, width: int, least_px: float) -> None:
    """14 px on a phone, and as much larger as the column is wider on a desk; numbers in thin slugs excepted."""
    size = {"width": width, "height": 844, "deviceScaleFactor": 1, "mobile": width < 500}
    drawing_browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    try:
        drawing_browser.get(page.as_uri())
        found = drawing_browser.execute_script(
            "document.getElementById('still').hidden = false;"
            "return [...document.images].map((one) => [one.getBoundingClientRect().width, one.src])"
        )
    finally:
        drawing_browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert len(found) >= 4
    for wide_px, address in found:
        drawing_browser.get(address)
        smallest, own = drawing_browser.execute_script(
            "const texts = [...document.querySelectorAll('text')].filter((t) => !/^\\d*$/.test(t.textContent));"
            "return [Math.min(...texts.map((t) => parseFloat(getComputedStyle(t).fontSize))),"
            " document.documentElement.viewBox.baseVal.width]"
        )
        assert smallest * wide_px / own >= least_px - 0.01


def test_weights_are_those_of_the_summary(weighed_page: Path) -> None:
    """The page's weight is 410 g of an empty cartridge and what is told to load."""
    html = plain(unescape(weighed_page.read_text("utf-8")))
    told, on_g = (int(one) for one in re.findall(r"put on with (\d+) ml it weighed (\d+) g", html)[0])
    (ml, g) = (int(one) for one in re.findall(r"<span>(\d+) ml</span> <span>(\d+) g</span>", html)[0])
    assert told == ml
    assert math.ceil(on_g) in (410 + g, 410 + g - 1)  # at least, and to the nearest
    assert json.loads(re.findall(r'id="data">(.*?)</script>', html, re.DOTALL)[0])
