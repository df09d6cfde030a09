"""The pictures as a real browser sets them: no text runs out of its picture, and none lies on another."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from gpost.page.charts import charts
from gpost.page.columns import loading_columns, loading_svg
from gpost.page.stills import side_view
from tests.page.jobs import banded, refilled

BROWSER = shutil.which("chromium")
LOOK = """<script>
const wrong = [], all = [];
for (const picture of document.querySelectorAll('div')) {
  const edge = picture.getBoundingClientRect();
  const texts = [...picture.querySelectorAll('text')].filter(text => text.textContent.trim());
  const boxes = texts.map(text => [text.getBoundingClientRect(), text.textContent]);
  all.push(...boxes);
  for (const [box, said] of boxes)
    if (box.left < edge.left || box.right > edge.left + 358) wrong.push(picture.id + ' runs out: ' + said);
  boxes.forEach(([one, said], k) => boxes.slice(k + 1).forEach(([other, again]) => {
    const wide = Math.min(one.right, other.right) - Math.max(one.left, other.left);
    const tall = Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top);
    if (wide > 1 && tall > 3) wrong.push(picture.id + ': ' + said + ' on ' + again);
  }));
}
const found = document.createElement('pre');
found.textContent = JSON.stringify({texts: all.length, wrong: wrong});
document.body.replaceChildren(found);
</script>"""


def set_by_browser(folder: Path, pictures: dict[str, str]) -> tuple[int, list[str]]:
    """How many texts there are, and which are not as they should be."""
    page = folder / "pictures.html"
    body = "".join(f"<div id='{name}'>{svg}</div>" for name, svg in pictures.items())
    page.write_text(f"<meta charset='utf-8'><body style='margin:0'>{body}{LOOK}", "utf-8")
    options = ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'profile'}")
    command = [str(BROWSER), *options, "--dump-dom", page.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    told = re.search(r"<pre>(.*)</pre>", done.stdout, re.DOTALL)
    assert told, done.stdout[-2000:]
    found = json.loads(told[1])
    return found["texts"], found["wrong"]


@pytest.mark.skipif(BROWSER is None, reason="there is no chromium here to set the pictures")
def test_no_text_runs_out_or_lies_on_another(tmp_path: Path) -> None:
    """Few bands and many, long names, wide letters, refills: measured in Chromium."""
    long = "Grandmother's celadon with very fine grog from the river"
    broad = {"blend": ["WWWWWWWWWWWW MMMMMMMM", "青花瓷土青花瓷土青花瓷土"], "steps": 12}
    jobs = {
        "few": banded(),
        "long": banded({"to_mm": 40, "clay": "white"}, {"blend": [long, "cobalt blue"], "steps": 6}),
        "broad": banded(broad, loaded_from="outlet"),
        "refills": refilled(21, 41, 61, spread=3.0),
    }
    pictures = {}
    for name, job in jobs.items():
        drawn = [side_view(*job).svg, *(each.svg for each in loading_columns(*job)), loading_svg(*job)]
        drawn += [chart.svg for chart in charts(*job)]
        pictures |= {f"{name}{place}": svg for place, svg in enumerate(drawn)}
    texts, wrong = set_by_browser(tmp_path, pictures)
    assert texts > 200
    assert wrong == []


@pytest.mark.skipif(BROWSER is None, reason="there is no chromium here to set the pictures")
def test_the_look_finds_what_is_wrong(tmp_path: Path) -> None:
    """A text beyond the edge and two on one spot are told: the test above can fail."""
    text = "<text x='380' y='20'>beyond the edge</text><text x='5' y='60'>one</text><text x='6' y='61'>two</text>"
    svg = f"<svg xmlns='http://www.w3.org/2000/svg' width='390' height='80'>{text}</svg>"
    _, wrong = set_by_browser(tmp_path, {"a": svg})
    assert len(wrong) == 2
