"""Each chart's numbers are those of the summary and the plan."""

from __future__ import annotations

import numpy as np
import pytest
from gpost_plugins.fan import Fan
from gpost_plugins.taper import Taper

from gpost.page.charts import cartridge_ends, charts, clay_chart, clay_rows, clay_spec, layers_chart, panels
from gpost.testing import make_survey, run_step, with_layers
from tests.page.jobs import POT, elements, refilled, texts, told

FED = with_layers(POT, feed_mm_min=np.full(80, 1200.0))


def test_clay_left_falls_from_what_can_be_counted_on_to_what_is_to_spare() -> None:
    """300 ml for 30 layers, then 500 for 50, loaded with 50 of reserve on top: to 0, however much it holds."""
    summary, plan = refilled(31)
    rows = list(clay_rows(summary, plan))
    first, second = ([row for row in rows if row["cartridge"] == number] for number in (1, 2))
    assert (first[0]["height"], first[0]["left"]) == (0, 300)
    assert (first[-1]["height"], first[-1]["left"]) == pytest.approx((62, 0))
    assert (second[0]["height"], second[0]["left"]) == pytest.approx((62, 500), abs=1)
    assert (second[-1]["height"], second[-1]["left"]) == pytest.approx((160, 0), abs=1)
    for row in first:
        assert row["left"] == pytest.approx(300 - 5 * row["height"], abs=10.1)
    for cartridge in summary.cartridges:
        last = [row["left"] for row in rows if row["cartridge"] == cartridge.number][-1]
        assert last == pytest.approx(cartridge.to_load_ml - 50 - cartridge.clay_ml)


def test_the_cartridges_change_where_the_pauses_are() -> None:
    """The clay that has left by then is that of the pause."""
    ends = list(cartridge_ends(*(job := refilled(31, 56))))
    summary, _ = job
    assert [end.height_mm for end in ends] == [*(pause.height_mm for pause in summary.pauses), 160]
    used = np.cumsum([end.cartridge.clay_ml for end in ends])
    assert used[:2] == pytest.approx([pause.clay_ml for pause in summary.pauses])


def test_margins_and_chances_are_said_in_words() -> None:
    """What is to spare, and how likely it runs dry: the summary's, to the digits they deserve."""
    summary, plan = refilled(31, spread=5.0)
    chart = clay_chart(summary, plan)
    assert chart is not None
    said = " ".join(texts(chart.svg))
    first = summary.cartridges[0]
    spare_ml = first.to_load_ml - 50 - first.need_ml
    assert 20 < spare_ml < 30  # 1.645 x 5 % of 300
    ends = f"Cartridge 1 ({first.to_load_ml:.0f} ml) ends at 62 mm with {spare_ml:.0f} ml to spare"
    assert f"{ends}, dry before that in 5 prints of 100 at most" in said
    assert "clay left above the reserve, ml" in said
    assert "nozzle height, mm" in said


def test_what_even_a_full_one_may_not_do_is_said() -> None:
    """600 ml less 50 of reserve for 500 with 8 %: 50 ml are 1.25 standard deviations of 40, so 1 of 10."""
    summary, plan = refilled(31, spread=8.0)
    chart = clay_chart(summary, plan)
    assert chart is not None
    percent = summary.cartridges[1].dry_percent
    assert percent == pytest.approx(10.6, abs=0.3)  # 1 - Phi(1.25), tables of the normal distribution
    assert f"with 50 ml to spare, dry before that in {percent:.0f} prints of 100" in chart.alt


def test_no_cartridge_is_laid_upon_another() -> None:
    """Where one ends and the next begins, the shaded part is no higher than the line: nothing adds up."""
    summary, plan = refilled(31)
    rows = list(clay_rows(summary, plan))
    spec = clay_spec(rows, list(cartridge_ends(summary, plan)))
    assert spec["layer"][0]["mark"]["type"] == "area"
    assert spec["layer"][0]["encoding"]["y"]["stack"] is None
    chart = clay_chart(summary, plan)
    assert chart is not None
    ticks = [int(said) for said in texts(chart.svg) if said.isdigit()]
    assert max(tick for tick in ticks if tick % 100 == 0) == 500  # 300 and 500 ml, not 800


def test_time_feed_and_air_are_the_plans() -> None:
    """Slowed to a half from 80 mm on, with air from layer 21: before and after, layer by layer."""
    taper = Taper(Taper.Settings.model_validate({"from_height_mm": 80, "to_percent": 50}))
    settings = {"bands": [{"from_layer": 21, "level_percent": 40}]}
    plan = run_step(Fan, settings, FED, {}, before=[taper])
    found = {panel.name: panel for panel in panels(told(plan), plan)}
    time = found["time a layer"]
    assert time.before == pytest.approx(POT.layers["time_s"])
    assert time.after == pytest.approx(plan.layer_times_s)
    assert time.after[-1] > 1.5 * time.after[0]
    feed = found["feed"]
    assert feed.before is not None
    assert feed.after / feed.before == pytest.approx(plan.layer_factors)
    air = found["air"]
    assert air.before == pytest.approx(np.zeros(80))
    assert air.after == pytest.approx([0] * 20 + [40] * 60)


def test_what_goes_as_sliced_is_drawn_once() -> None:
    """No line of before under one that is the same."""
    plan = run_step(Fan, {"bands": [{"from_layer": 21, "level_percent": 40}]}, POT, {})
    found = {panel.name: panel for panel in panels(told(plan), plan)}
    assert found["time a layer"].before is None
    assert found["air"].before is not None


def test_the_charts_are_pictures_a_page_can_take() -> None:
    """As wide as a phone, with words for who can't see them; no script, address, or style attribute."""
    summary, plan = refilled(31)
    found = charts(summary, plan)
    assert len(found) == 2
    for chart in found:
        (root, *inner) = elements(chart.svg, "svg")
        assert root.get("width") == "358"
        assert inner
        assert all(element.get("width") == "358" for element in inner)
        drawn = chart.svg.replace("http://www.w3.org/2000/svg", "").replace(
            "http://www.w3.org/1999/xlink", ""
        )
        assert not {"http", "<script", " style="} & {
            word for word in ("http", "<script", " style=") if word in drawn
        }
        assert chart.alt
        assert len(chart.svg) < 60_000


def test_the_same_job_gives_the_same_bytes() -> None:
    """No date, no counter: a page that is made anew is the same."""
    assert [chart.svg for chart in charts(*refilled(31))] == [chart.svg for chart in charts(*refilled(31))]


def test_thousands_of_layers_are_thinned_as_in_the_summary() -> None:
    """No more points than the summary's table has rows."""
    survey = make_survey(layers=5000, layer_mm=0.1, ml_per_layer=0.1, lines_per_layer=4)
    plan = run_step(Fan, {}, survey, {})
    summary = told(plan)
    assert all(len(panel.layer) <= 1000 for panel in panels(summary, plan))
    chart = layers_chart(summary, plan)
    assert chart is not None
    assert len(chart.svg) < 250_000


def test_without_the_library_there_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """The extra `page` may be missing."""
    monkeypatch.setattr("gpost.page.charts.find_spec", lambda name: None)
    assert charts(*refilled(31)) == ()
