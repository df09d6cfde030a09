"""The piece from the front: its outline and heights by closed forms, its colours by the summary."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from gpost_plugins.remind import Remind

from gpost.api import Config, Plan, Shift
from gpost.page.charts import charts, clay_chart
from gpost.page.columns import columns
from gpost.page.looks import Looks
from gpost.page.stills import LABELS, mixes_at, outline, side_view
from gpost.page.svg import WIDTH, wide
from gpost.plan.rehearsal import rehearsed
from gpost.testing import make_survey, run_step, with_layers
from tests.page.jobs import POT, banded, elements, placed, refilled, texts, told


def spots(path: ET.Element) -> np.ndarray:
    """The points of a path of straight lines, shape (n, 2)."""
    return np.array(re.findall(r"-?\d+(?:\.\d+)?", path.get("d", "")), float).reshape(-1, 2)


def heights(svg: str) -> dict[float, float]:
    """Base lines of the ticks' words, px, by their height in mm."""
    found = {}
    for line in elements(svg, "text"):
        tick = re.fullmatch(r"(\d+) mm", line.text or "")
        if tick and line.get("text-anchor") == "end":
            found[float(tick[1])] = float(line.get("y", 0))
    return found


def test_the_outline_is_the_path_and_half_a_bead_on_each_side() -> None:
    """A pot of 40 mm radius round x 140: from 100 to 180 mm, and the bead's half; where it is printed."""
    config = Config.model_validate({"clay": {"bead_width_mm": 6}})
    rows = outline(Plan(POT, config).adding("place", [Shift(0, POT.lines, (7.0, 0, 0))]))
    assert rows.left_mm == pytest.approx(np.full(80, 140 - 40 - 3 + 7))
    assert rows.right_mm == pytest.approx(np.full(80, 140 + 40 + 3 + 7))
    assert rows.bottom_mm == pytest.approx(np.arange(80) * 2)
    assert rows.top_mm == pytest.approx(np.arange(1, 81) * 2)


def test_every_layer_is_inside_the_rows_that_are_drawn() -> None:
    """A cone of 4000 thin layers: far fewer rows, none narrower than a layer in it, none left out."""
    cone = make_survey(layers=4000, layer_mm=0.05, lines_per_layer=4)
    radius_mm = np.linspace(60, 20, 4000)
    cone = with_layers(cone, x_min_mm=140 - radius_mm, x_max_mm=140 + radius_mm)
    rows = outline(Plan(cone, Config()), least_mm=1.0)
    assert len(rows.top_mm) == 200
    assert rows.top_mm[-1] == pytest.approx(200)
    assert rows.bottom_mm[1:] == pytest.approx(rows.top_mm[:-1])
    row = np.searchsorted(rows.layer, np.arange(1, 4001), side="right") - 1
    assert np.all(rows.right_mm[row] >= 140 + radius_mm)
    assert np.all(rows.left_mm[row] <= 140 - radius_mm)


def test_heights_are_to_scale() -> None:
    """Ticks lie evenly, mm by mm as the wall; width and height have one scale."""
    summary, plan = banded()
    svg = side_view(summary, plan).svg
    ticks = heights(svg)
    assert len(ticks) >= 3
    px_mm = (ticks[0] - ticks[100]) / 100
    for height_mm, y in ticks.items():
        assert y == pytest.approx(ticks[0] - height_mm * px_mm, abs=0.15)
    walls = [path for path in elements(svg, "path") if path.get("fill", "").startswith("#e")]
    points = np.concatenate([spots(path) for path in walls])
    wide_px, tall_px = np.ptp(points, axis=0)
    bead_mm = plan.bead_width_mm
    assert wide_px / px_mm == pytest.approx(80 + bead_mm, abs=0.3)
    assert tall_px / px_mm == pytest.approx(60, abs=2.1)


def test_the_piece_shows_what_the_summary_says() -> None:
    """The lowest stretch has the first clay's swatch, the highest the last mixture's; layer 30 is at 60 mm."""
    summary, plan = banded()
    looks = Looks(["white", "cobalt blue"], plan.config, key="side")
    fills = [path.get("fill") for path in elements(side_view(summary, plan).svg, "path")]
    assert "#eeeae0" in fills
    assert looks.colour({"white": 0.25, "cobalt blue": 0.75}) in fills
    assert mixes_at(summary, np.array([1, 29, 30, 80])) == [
        {"white": 1},
        {"white": 1},
        {"white": 0.75, "cobalt blue": 0.25},
        {"white": 0.25, "cobalt blue": 0.75},
    ]


def test_changes_and_pauses_stand_at_their_heights() -> None:
    """Each edge of the bands, each pause with height and clock, and what goes in."""
    summary, plan = banded()
    said = " ".join(texts(side_view(summary, plan).svg))
    assert "from 60 mm: 25 % cobalt blue" in said
    assert "from 128 mm: 75 % cobalt blue" in said
    summary, plan = refilled(31, 56)
    said = " ".join(texts(side_view(summary, plan).svg))
    assert "Pause 1: 62 mm, 0:30 h refill, cartridge 2" in said
    assert "Pause 2: 112 mm, 0:5" in said


@pytest.mark.parametrize("count", [1, 5, 9, 12, 40])
def test_no_label_lies_on_another_or_runs_out(count: int) -> None:
    """Few pauses or many: lines of text keep apart, and end inside the picture."""
    plan = run_step(Remind, {"every_min": 70 / count, "how": "pause", "clear_mm": 0}, POT, {})
    summary = told(plan)
    assert len(summary.pauses) >= count
    drawing = side_view(summary, plan)
    lines = [(x, y, line.text or "") for x, y, line in placed(drawing.svg) if x >= LABELS]
    assert all(after - before >= 16.9 for before, after in itertools.pairwise(sorted(y for _, y, _ in lines)))
    assert all(x + wide(said) <= WIDTH + 1 for x, _, said in lines)
    assert len(lines) <= 40


def test_many_bands_are_named_by_height_alone() -> None:
    """Of 45 changes as many as can be read, and how many more there are."""
    stripes = [{"to_mm": 3 * k + 5, "clay": "white" if k % 2 else "cobalt blue"} for k in range(45)]
    summary, plan = banded(*stripes, {"clay": "white"})
    said = texts(side_view(summary, plan).svg)
    assert sum(line.startswith("from ") for line in said) == 32
    assert re.search(r"and \d+ more above", " ".join(said))


def test_twenty_steps_of_a_blend_are_all_named() -> None:
    """Each edge by its height, none of them only counted."""
    summary, plan = banded({"blend": ["white", "cobalt blue"], "steps": 20}, cartridge={"least_slug_mm": 0.1})
    said = texts(side_view(summary, plan).svg)
    assert [line for line in said if line.startswith("from ")] == [
        f"from {edge.half_mm:.0f} mm" for edge in reversed(summary.edges)
    ]
    assert len(summary.edges) == 19
    assert "more above" not in " ".join(said)


def test_leaders_dont_cross() -> None:
    """Seven of them: each ends as far up as it begins, compared with the others."""
    bands = [{"to_mm": 8 * k + 8, "clay": "white" if k % 2 else "cobalt blue"} for k in range(7)]
    summary, plan = banded(*bands, {"clay": "white"})
    lines = [
        (float(found[2]), float(found[5]))
        for path in elements(side_view(summary, plan).svg, "path")
        if (found := re.match(r"M([\d.]+) ([\d.]+) H([\d.]+) L([\d.]+) ([\d.]+)$", path.get("d", "")))
    ]
    assert len(lines) == 7
    assert [end for _, end in sorted(lines)] == sorted(end for _, end in lines)


def test_the_alternative_says_what_the_picture_shows() -> None:
    """Size, colours from the bottom up, pauses."""
    summary, plan = banded()
    alt = side_view(summary, plan).alt
    assert "160 mm high" in alt
    assert "white at the bottom; 75 % white, 25 % cobalt blue from 60 mm on" in alt
    (desc,) = elements(side_view(summary, plan).svg, "desc")
    assert desc.text == alt


def test_names_cannot_break_the_picture() -> None:
    """What looks like a tag stays words, in text and in the alternative."""
    summary, plan = banded({"clay": "</svg><script>"}, clays=())
    svg = side_view(summary, plan).svg
    assert not elements(svg, "script")
    assert any("</svg><script>" in line for line in texts(svg))


def test_nothing_asks_for_anything_or_has_a_style_of_its_own() -> None:
    """No address, no script, no style attribute: a page's policy can forbid all of them."""
    svg = side_view(*banded()).svg.replace("http://www.w3.org/2000/svg", "")
    assert "http" not in svg
    assert not [
        element for element in ET.fromstring(svg).iter() if set(element.attrib) & {"style", "href", "src"}
    ]


def test_a_rehearsal_and_an_empty_file_have_pictures_too() -> None:
    """No clay is counted, none is coloured, nothing is to be loaded; and without layers there is no piece."""
    plan = rehearsed(Plan(POT, Config()), 40.0)
    summary = told(plan)
    assert "160 mm high" in side_view(summary, plan).alt
    assert columns(summary) == []
    assert clay_chart(summary, plan) is None
    nothing = Plan(make_survey(layers=0), Config())
    assert side_view(told(nothing), nothing).alt == ""
    assert charts(told(nothing), nothing) == ()


def test_a_large_piece_stays_small() -> None:
    """5000 layers whose colour changes all the way: fewer than 100 kB."""
    tall = make_survey(layers=5000, layer_mm=0.05, ml_per_layer=0.2, lines_per_layer=4)
    bands = [{"blend": ["white", "blue"], "steps": 50}]
    config = {"cartridge": {"line_ml": 60, "mixing_stages": 2}, "colours": {"bands": bands}}
    plan = Plan(tall, Config.model_validate(config))
    assert len(side_view(told(plan), plan).svg) < 100_000
