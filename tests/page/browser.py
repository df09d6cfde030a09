"""Headless Chromium as Debian has it, driven by selenium, for tests, measurements and pictures."""

from __future__ import annotations

import shutil
from typing import Any

IN_SPACE = ("--use-angle=swiftshader", "--enable-unsafe-swiftshader")
"""Draw in space by software."""


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
