"""Headless Chromium as Debian has it, driven by selenium, for tests, measurements and pictures."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from gpost.common.unbroken import NO_BREAK

IN_SPACE = ("--use-angle=swiftshader", "--enable-unsafe-swiftshader")
"""Draw in space by software."""


def plain(text: str) -> str:
    """A text of a page with blanks where lines may not end, too, as JSON has it or HTML."""
    return text.replace(NO_BREAK, " ").replace("\\u00a0", " ")


def there() -> bool:
    """Whether the browser and its driver are installed."""
    return shutil.which("chromium") is not None and shutil.which("chromedriver") is not None


def started_browser(*arguments: str) -> Any:
    """A browser with more arguments, whose console and requests are kept; quit it at the end."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium") or ""
    for argument in ("--headless=new", "--no-sandbox", "--disable-background-networking", *arguments):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    return webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))


def wait_for(browser: Any, script: str) -> Any:
    """What a script gives, as soon as it gives something. Raises TimeoutException."""
    from selenium.webdriver.support.ui import WebDriverWait

    return WebDriverWait(browser, 60, poll_frequency=0.05).until(lambda b: b.execute_script(script))


def open_anew(browser: Any, page: Path) -> None:
    """Open a job's page as for the first time; what a page before has kept may be told to this one late."""
    browser.get(page.as_uri())
    browser.execute_script("localStorage.clear()")
    browser.refresh()
    new = "return !document.getElementById('start').hidden || (localStorage.clear(), location.reload(), false)"
    wait_for(browser, new)


AXE = Path(__file__).with_name("axe.min.js").read_text("utf-8")
"""axe-core 4.14.1, an open checker of the rules of WCAG; its license lies beside it."""
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


def unreadable(browser: Any, scheme: str, width: int, ready: Callable[[], None] = lambda: None) -> list[str]:
    """What of the page can't be read in some colours at some width, all parts unfolded.

    What breaks a rule of WCAG 2.2 AA, by axe; what is wider than the screen; letters under 20 px and what is
    to be touched under 60 px.
    """
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    size = {"width": width, "height": 844, "deviceScaleFactor": 1, "mobile": width < 500}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    try:
        ready()
        browser.execute_script("document.querySelectorAll('details').forEach((one) => (one.open = true))")
        wide = browser.execute_script("return document.documentElement.scrollWidth")
        low = browser.execute_script(
            "return [...document.querySelectorAll('button, summary, .ticks label, h3 a, .back a')]"
            ".filter((one) => one.offsetParent && one.offsetHeight < 60).map((one) => one.textContent)"
        )
        small = browser.execute_script(
            "return [...document.body.querySelectorAll("
            "'p, li, td, th, dt, dd, button, label, summary, span, code, pre, a')].filter((one) => "
            "one.offsetParent && parseFloat(getComputedStyle(one).fontSize) < 20).map((one) => one.outerHTML)"
        )
        browser.execute_script(AXE)
        found = browser.execute_async_script(
            "const done = arguments[arguments.length - 1];"
            "axe.run(document, arguments[0]).then((all) => done(all.violations));",
            RULES,
        )
    finally:
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    broken = [f"{one['id']}: {node['html']}" for one in found for node in one["nodes"]]
    return [*([f"{wide} px wide"] if wide > width else []), *low, *small, *broken]


CLOCK = (
    "window.real ??= Date.now.bind(Date); window.ahead = {ms}; Date.now = () => window.real() + window.ahead;"
)


def text(browser: Any, css: str) -> str:
    return str(browser.find_element("css selector", css).text)


def press(browser: Any, css: str) -> None:
    """Press a button as the keyboard does."""
    browser.find_element("css selector", css).send_keys("\ue007")


def later(browser: Any, minutes: float) -> None:
    """Let the browser's clock be so much ahead, and show that."""
    browser.execute_script(CLOCK.replace("{ms}", str(minutes * 60_000)))
    browser.execute_script("document.dispatchEvent(new Event('visibilitychange'))")


TURNING = """
const done = arguments[arguments.length - 1], frames = arguments[0], took = [];
const canvas = document.getElementById("canvas");
const key = () => canvas.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowRight" }));
let before = performance.now();
const watch = new MutationObserver(() => {
  const now = performance.now();
  took.push(now - before);
  before = now;
  if (took.length < frames) return key();
  watch.disconnect();
  done([took, `${canvas.dataset.drawn} points in ${canvas.width} x ${canvas.height}`]);
});
watch.observe(canvas, { attributeFilter: ["data-took"] });
key();
"""
"""Turns the piece so many times, each when the picture before is done: ms of each, and what was drawn."""
