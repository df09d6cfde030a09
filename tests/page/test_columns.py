"""What is loaded, drawn: slugs to scale in their order, with amounts, totals, units, and the way they go in."""

from __future__ import annotations

import itertools
import math
import re

import pytest

from gpost.api import Plan
from gpost.page.columns import TUBE_WIDE, columns, loading_columns, loading_svg
from gpost.page.svg import SIZE, WIDTH, wide
from gpost.report.model import Summary
from gpost.report.toload import portions
from gpost.supply.loading import loading_sheet
from tests.page.jobs import banded, elements, placed, refilled, texts


def picture(summary: Summary, plan: Plan) -> str:
    """Hose and cartridges, where they go on one sheet."""
    (drawing,) = loading_columns(summary, plan)
    return drawing.svg


def blocks(svg: str) -> list[tuple[float, float]]:
    """(upper edge, height) of each slug, from the top down, px."""
    found = [
        (float(rect.get("y", 0)), float(rect.get("height", 0)))
        for rect in elements(svg, "rect")
        if rect.get("width") == f"{TUBE_WIDE:g}" and rect.get("stroke") == "currentColor"
    ]
    return sorted(found)


def test_the_slugs_lie_on_one_another_by_their_volume() -> None:
    """No gap, no overlap; what leaves first is lowest; heights are as the ml of the summary."""
    summary, plan = banded()
    found = blocks(picture(summary, plan))
    slugs = summary.cartridges[0].slugs
    assert len(found) == len(slugs) == 5
    for (y, tall), below in itertools.pairwise(found):
        assert y + tall == pytest.approx(below[0], abs=0.02)
    whole = sum(tall for _, tall in found)
    for (_, tall), slug in zip(reversed(found), slugs, strict=True):
        assert tall / whole == pytest.approx(slug.clay_ml / sum(s.clay_ml for s in slugs), abs=1e-3)


@pytest.mark.parametrize("end", ["plunger", "outlet"])
def test_the_order_is_that_of_the_sheet(end: str) -> None:
    """Number 1 goes in first: it lies at the outlet, or, filled from there, at the plunger."""
    summary, plan = banded(loaded_from=end)
    sheet = loading_sheet(plan)
    (column,) = columns(summary)
    by_order = sorted(column.lying, key=lambda item: item.order)
    assert [dict(item.slug.clays) for item in by_order] == [slug.mix for slug in sheet.of(1)]
    leaving = [slug.mix for slug in sheet.slugs if slug.cartridge == 1]
    assert [dict(item.slug.clays) for item in column.lying] == leaving
    said = " ".join(texts(picture(summary, plan)))
    assert f"Fill it from the {end}'s end" in said
    assert ("comes out LAST" in said) is (end == "outlet")
    assert f"{end}  (fill here)".replace("  ", " ") in " ".join(said.split())


def test_every_amount_is_the_summarys() -> None:
    """ml, grams and mm of each slug, what to wedge for a mixture, and the total."""
    summary, plan = banded()
    said = " ".join(texts(picture(summary, plan)))
    first = summary.cartridges[0]
    for slug, portion in zip(first.slugs, portions(first.slugs), strict=True):
        assert abs(portion.ml - slug.clay_ml) < 1
        assert f"{portion.ml} ml, {portion.g} g, {portion.mm} mm" in said
    mm = sum(slug.length_mm or 0.0 for slug in first.slugs)
    assert f"in all {first.to_load_ml:.0f} ml, {math.ceil(first.to_load_g)} g, {mm:.0f} mm" in said
    assert "wedge 237 g white, 79 g cobalt blue" in " ".join(texts(loading_svg(summary, plan)))
    assert "stays behind (reserve)" in said


def test_the_ruler_has_its_unit_at_every_tick() -> None:
    """mm of cartridge where the bore is known, ml where it isn't; to the scale of the slugs."""
    for cartridge, unit in (({}, "mm"), ({"bore_mm": None}, "ml")):
        summary, plan = banded(cartridge=cartridge)
        svg = picture(summary, plan)
        ruler = {
            float(found[1]): float(line.get("y", 0))
            for line in elements(svg, "text")
            if line.get("text-anchor") == "end" and (found := re.fullmatch(rf"(\d+) {unit}", line.text or ""))
        }
        assert len(ruler) >= 3
        key = "length_mm" if unit == "mm" else "clay_ml"
        whole = sum(getattr(slug, key) for slug in summary.cartridges[0].slugs)
        found = blocks(svg)
        px_unit = sum(tall for _, tall in found) / whole
        for (low, y_low), (high, y_high) in itertools.pairwise(sorted(ruler.items())):
            assert (y_low - y_high) / (high - low) == pytest.approx(px_unit, rel=0.02)


@pytest.mark.parametrize("steps", [3, 8, 20, 40])
def test_labels_do_not_lie_on_one_another(steps: int) -> None:
    """Thin slugs, few or many: each line of text has its own place, inside the picture."""
    summary, plan = banded(
        {"blend": ["white", "cobalt blue"], "steps": steps}, cartridge={"least_slug_mm": 0.1}
    )
    assert len(summary.cartridges[0].slugs) > steps / 2
    for svg in (*(drawing.svg for drawing in loading_columns(summary, plan)), loading_svg(summary, plan)):
        lines = [line for line in placed(svg) if line[2].get("text-anchor") is None]
        for side in ([y for x, y, _ in lines if x > 145], [y for x, y, _ in lines if x < 145]):
            assert all(after - before >= 16 for before, after in itertools.pairwise(sorted(side)))
        assert all(x + wide(line.text or "") <= WIDTH + 1 for x, _, line in lines)


@pytest.mark.parametrize("steps", [3, 8, 20])
def test_each_picture_goes_on_one_sheet_of_paper(steps: int) -> None:
    """On A4 of 273 mm between its edges 235 mm are for a picture: letters of 14 px stay 3 mm high or more."""
    summary, plan = banded({"blend": ["white", "cobalt blue"], "steps": steps}, cartridge={"least_slug_mm": 0.1})
    drawings = loading_columns(summary, plan)
    titles = [said for each in drawings for said in texts(each.svg) if "Cartridge" in said or "hose," in said]
    assert titles == [column.title for column in columns(summary)]
    for each in drawings:
        (root,) = [element for element in elements(each.svg, "svg") if element.get("viewBox")]
        tall = float(root.get("viewBox", "").split()[3])
        assert 235 * SIZE / tall >= 3


def test_tints_never_cross() -> None:
    """From slug to words the order is one; of many slugs there are none, and numbers tell."""
    summary, plan = banded({"blend": ["white", "cobalt blue"], "steps": 8}, cartridge={"least_slug_mm": 1})
    paths = [path for each in loading_columns(summary, plan) for path in elements(each.svg, "path")]
    found = [re.findall(r"[\d.]+", path.get("d", "")) for path in paths if path.get("fill-opacity") == "0.07"]
    edges = sorted((float(d[1]), float(d[3])) for d in found)
    assert len(edges) == len(summary.cartridges[0].slugs)
    assert [right for _, right in edges] == sorted(right for _, right in edges)
    summary, plan = banded({"blend": ["white", "cobalt blue"], "steps": 20}, cartridge={"least_slug_mm": 0.1})
    assert len(summary.cartridges[0].slugs) == 20
    (last,) = [each.svg for each in loading_columns(summary, plan) if "Cartridge 1" in texts(each.svg)]
    tints = [path for path in elements(last, "path") if path.get("fill-opacity") == "0.07"]
    assert len(tints) in (0, len(summary.line.slugs))  # the hose's, if it goes on the same sheet
    numbers = [line.text for line in elements(last, "text") if line.get("text-anchor") == "middle"]
    missing = {str(place) for place in range(1, 21)} - set(numbers)
    assert missing <= {"1"}  # 10 of 850 ml: too thin for a number


def test_later_cartridges_say_when_they_are_due() -> None:
    """Height and clock of the pause; the first is put on before."""
    summary, plan = refilled(31, 56)
    said = texts(picture(summary, plan))
    assert "Cartridge 1" in said
    assert "Cartridge 2, due at 62 mm, 0:30 h" in said
    assert [column.number for column in columns(summary)] == [1, 2, 3]


def test_a_cartridge_of_one_clay_says_the_least_it_must_hold() -> None:
    """What is asked of it and the reserve; where spreads are known, what is sure."""
    summary, plan = refilled(31)
    said = texts(picture(summary, plan))
    first = summary.cartridges[0]
    assert f"at least {math.ceil(first.load_ml)} ml, {math.ceil(first.load_g)} g" in said
    summary, plan = refilled(31, spread=3.0)
    sure = summary.cartridges[0]
    assert sure.sure_load_ml is not None
    assert sure.sure_load_ml > sure.load_ml
    said = texts(picture(summary, plan))
    assert sure.to_load_ml == math.ceil(sure.sure_load_ml)
    assert f"at least {sure.to_load_ml:.0f} ml, {math.ceil(sure.to_load_g)} g" in said


def test_a_hose_of_several_clays_is_a_column_too() -> None:
    """Bands below what the hose holds: it comes first, and says which end is the nozzle's."""
    summary, plan = banded({"to_mm": 6, "clay": "white"}, {"clay": "cobalt blue"})
    first = columns(summary)[0]
    assert (first.number, [dict(item.slug.clays) for item in first.lying]) == (
        0,
        [{"white": 1}, {"cobalt blue": 1}],
    )
    said = texts(picture(summary, plan))
    assert "The hose, filled before the start" in said
    assert "to the nozzle" in said


def test_what_the_hose_must_hold_is_said() -> None:
    """One clay in it takes no column: how much of what."""
    summary, plan = banded()
    assert "The hose must be full of white before the start: 60 ml." in " ".join(texts(loading_svg(summary, plan)))


@pytest.mark.parametrize("spread_ml", [None, 8.0])
def test_one_clay_is_loaded_as_the_words_say(spread_ml: float | None) -> None:
    """The picture's least is what the loading sheet's slugs come to, with spreads and without."""
    spread = {} if spread_ml is None else {"reserve_spread_ml": spread_ml}
    summary, plan = banded({"clay": "white"}, cartridge={"volume_ml": 1000, **spread})
    ml = sum(slug.clay_ml for slug in loading_sheet(plan).of(1))
    assert f"at least {ml:.0f} ml" in " ".join(texts(picture(summary, plan)))


def test_the_sheet_to_hang_up_has_piece_and_cartridges() -> None:
    """Its name, the piece with its heights, the slugs, and where the cautions stand."""
    summary, plan = banded()
    svg = loading_svg(summary, plan)
    said = texts(svg)
    assert "Loading sheet: pot.gcode" in said
    assert "from 60 mm:" in " ".join(said)
    assert "Take care" in " ".join(said)
    assert len(blocks(svg)) == 5
    (root,) = [element for element in elements(svg, "svg") if element.get("viewBox")]
    assert float(root.get("viewBox", "").split()[2]) == WIDTH


def test_no_text_is_too_small_and_no_line_a_hair() -> None:
    """On a phone of 390 px all text is of 14 px, but for numbers in thin slugs; all lines of 1 px or more."""
    assert WIDTH <= 390 - 2 * 16  # the page's margins
    svg = loading_svg(*banded())
    sizes = [
        float(line.get("font-size", SIZE)) for line in elements(svg, "text") if not (line.text or "").isdigit()
    ]
    assert min(sizes) >= 14
    drawn = [element for name in ("path", "rect", "circle") for element in elements(svg, name)]
    widths = [float(element.get("stroke-width", 1)) for element in drawn if element.get("stroke")]
    assert min(widths) >= 1
