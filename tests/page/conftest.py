"""A job with everything on its page, and a browser to look at it; without one these tests are skipped."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from gpost.cli import cli
from gpost.demo.gcode import class_pieces
from tests.page.browser import IN_SPACE, open_anew, started_browser, there
from tests.sliced import write_piece

CONFIGS = Path(__file__).parents[2] / "configs"
HOSTILE = "</script><img src=x onerror=alert(1)>\"'&{{7*7}}"
"""Text that would do harm where it is put in as it is."""
OWN = """
clays:
  - {name: white stoneware, swatch: "#efe8dc"}
  - {name: cobalt blue, swatch: "#31558f"}
"""


@pytest.fixture(scope="session")
def make_page(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """Runs the twisted bottle in two colours, and gives its page."""
    folder = tmp_path_factory.mktemp("page")
    write_piece(folder / "bottle.gcode", *class_pieces()["twisted-bottle"])

    def make(name: str, config: str = OWN) -> Path:
        page = folder / name
        (folder / "own.yaml").write_text(config)
        configs = [CONFIGS / "studio.yaml", CONFIGS / "two-colours.yaml", folder / "own.yaml"]
        options = [part for path in configs for part in ("-c", str(path))]
        names = ["-o", str(folder / f"{name}.gcode"), "--page", str(page)]
        result = CliRunner().invoke(cli, ["run", str(folder / "bottle.gcode"), *options, *names])
        assert result.exit_code == 0, result.output
        return page

    return make


@pytest.fixture(scope="session")
def page(make_page: Callable[..., Path]) -> Path:
    """The page of the bottle."""
    return make_page("sheet.html")


@pytest.fixture(scope="session")
def start_browser() -> Iterator[Callable[..., Any]]:
    """Starts headless Chromium with more arguments; each ends with the tests."""
    pytest.importorskip("selenium.webdriver")
    if not there():
        pytest.skip("Debian's chromium and chromium-driver are not installed")
    started: list[Any] = []

    def start(*arguments: str) -> Any:
        started.append(started_browser(*arguments))
        return started[-1]

    yield start
    for one in started:
        one.quit()


@pytest.fixture(scope="session")
def drawing_browser(start_browser: Callable[..., Any]) -> Any:
    """One that draws in space by software."""
    return start_browser("--window-size=1280,1000", *IN_SPACE)


@pytest.fixture
def browser(drawing_browser: Any, page: Path) -> Any:
    """The page as it is opened for the first time."""
    open_anew(drawing_browser, page)
    for kind in ("browser", "performance"):
        drawing_browser.get_log(kind)
    drawing_browser.refresh()
    return drawing_browser
