"""Times the job sheet of a large piece: its data, its size, its first picture, and frames while it is turned."""

from __future__ import annotations

import statistics
import tempfile
import time
from pathlib import Path
from typing import Any, NamedTuple

import click

from gpost.config.model import Config
from gpost.pipeline import run_file
from gpost.plan.plan import Plan

LAYERS = 250
TURNS = 30
"""Frames that are measured, after as many for the budget to settle."""
READY = "const one = document.getElementById('canvas'); return one && one.dataset.ready && performance.now()"


class Sheet(NamedTuple):
    """What it takes to make a page."""

    html: str
    data_s: float
    """Processor time for the packed points and all that the scripts go by."""
    whole_s: float
    """The same for the whole page, pictures and charts too."""


def large_piece(path: Path, segments: int) -> None:
    """Write a pot of about so many segments."""
    from dataclasses import replace

    from gpost.demo.gcode import class_pieces
    from tests.sliced import write_piece

    piece, style = class_pieces()["twisted-bottle"]
    layer_mm = piece.height_mm / LAYERS
    write_piece(path, replace(piece, segments=segments // LAYERS, layer_mm=layer_mm), style)


def made(path: Path) -> Sheet:
    """The page of a file, and what it took."""
    from gpost.page import sheet

    plans: list[Plan] = []
    config = Config.model_validate({"machine": {"ceiling_mm": 1000}})
    output = path.with_suffix(".out")
    summary = run_file(path, output, config, [], on_plan=plans.append, overwrite=True)
    begin = time.process_time()
    sheet.drawn_in_space(summary, plans[0])
    data_s = time.process_time() - begin
    begin = time.process_time()
    html = sheet.page_html(summary, plans[0])
    whole_s = time.process_time() - begin
    return Sheet(html, data_s, whole_s)


def looked_at(browser: Any, page: Path) -> tuple[float, list[float], str]:
    """Time to the first picture, s; the time of each frame while it is turned, s; what was drawn in the last."""
    from tests.page.browser import TURNING, wait_for

    browser.get(page.as_uri())
    ready_ms = wait_for(browser, READY)
    browser.set_script_timeout(120)
    browser.execute_async_script(TURNING, TURNS)
    took_ms, drawn = browser.execute_async_script(TURNING, TURNS)
    return ready_ms / 1000, [ms / 1000 for ms in took_ms], drawn


@click.command()
@click.option("--segments", default=500_000, show_default=True)
@click.option("--rounds", default=3, show_default=True)
def page(segments: int, rounds: int) -> None:
    """Medians of the rounds; the browser draws by software."""
    from tests.page.browser import IN_SPACE, started_browser, there

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.gcode"
        large_piece(path, segments)
        sheets = [made(path) for _ in range(rounds)]
        data_s, whole_s = (
            statistics.median(getattr(one, what) for one in sheets) for what in ("data_s", "whole_s")
        )
        click.echo(f"{segments} segments: data {data_s:.2f} s, page {whole_s:.2f} s of processor time")
        click.echo(f"page {len(sheets[0].html.encode()) / 1e6:.2f} MB")
        if not there():
            click.echo("no browser is installed")
            return
        (Path(folder) / "page.html").write_text(sheets[0].html, "utf-8")
        browser = started_browser("--window-size=1280,1000", *IN_SPACE)
        try:
            for _ in range(rounds):
                first_s, frames_s, drawn = looked_at(browser, Path(folder) / "page.html")
                ordered = sorted(frames_s)
                click.echo(
                    f"first picture {first_s:.2f} s; a frame {statistics.median(ordered):.3f} s, "
                    f"nine of ten within {ordered[len(ordered) * 9 // 10]:.3f} s, {drawn}"
                )
        finally:
            browser.quit()


if __name__ == "__main__":
    page()
