"""Makes the pictures of the job sheet that README shows anew: python -m tests.page.readme."""

from __future__ import annotations

import base64
import tempfile
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from gpost.cli import cli
from gpost.demo.gcode import class_pieces
from tests.page.browser import IN_SPACE, later, press, started_browser, wait_for
from tests.page.conftest import CONFIGS, OWN
from tests.sliced import write_piece

GUIDE = Path(__file__).parents[2] / "gpost" / "guide"
MOST_BYTES = 60_000
"""Of each picture."""


def bottle(folder: Path) -> Path:
    """The page of the twisted bottle in two colours."""
    write_piece(folder / "bottle.gcode", *class_pieces()["twisted-bottle"])
    (folder / "own.yaml").write_text(OWN)
    configs = [CONFIGS / "studio.yaml", CONFIGS / "two-colours.yaml", folder / "own.yaml"]
    words = ["run", folder / "bottle.gcode", *(part for path in configs for part in ("-c", path))]
    words += ["-o", folder / "bottle-run.gcode", "--page", folder / "bottle.html"]
    result = CliRunner().invoke(cli, [*map(str, words)])
    assert result.exit_code == 0, result.output
    return folder / "bottle.html"


def sized(browser: Any, width: int, height: int) -> None:
    """Let the screen be so large, in pixels."""
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def picture(browser: Any, css: str, path: Path, height: int, scale: float = 1, margin: int = 0) -> None:
    """Write what an element shows, so much of it from its top on, as PNG."""
    box = "const b = document.querySelector(arguments[0]).getBoundingClientRect();"
    x, y, wide = browser.execute_script(f"{box} return [b.x, b.y + scrollY, b.width]", css)
    clip = {"x": x - margin, "y": y, "width": wide + 2 * margin, "height": height, "scale": scale}
    shown = browser.execute_cdp_cmd("Page.captureScreenshot", {"captureBeyondViewport": True, "clip": clip})
    path.write_bytes(base64.b64decode(shown["data"]))


def make() -> None:
    """Write both pictures into the guide, with which they ship."""
    with tempfile.TemporaryDirectory() as folder:
        browser = started_browser("--window-size=1280,1000", *IN_SPACE)
        try:
            sized(browser, 420, 900)
            browser.get(bottle(Path(folder)).as_uri())
            wait_for(browser, "return document.getElementById('canvas').dataset.ready")
            browser.execute_script("document.querySelectorAll('#before input').forEach(box => box.click())")
            press(browser, "#start")
            later(browser, 5)
            browser.execute_script("document.activeElement.blur()")
            picture(browser, "#now", GUIDE / "now.png", 392, margin=12)
            sized(browser, 740, 900)
            wait_for(browser, "return document.getElementById('canvas').clientWidth > 500")
            browser.execute_script("window.scrollTo(0, document.getElementById('stage').offsetTop)")
            wait_for(browser, "return document.getElementById('canvas').width > 500")
            picture(browser, "#stage", GUIDE / "piece.png", 485, scale=0.55)
        finally:
            browser.quit()


if __name__ == "__main__":
    make()
