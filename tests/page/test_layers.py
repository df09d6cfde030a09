"""What the layers are coloured by: each number is that of the job as it is written."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from gpost.api import Config, Pause, Plan
from gpost.cli import cli
from gpost.demo.gcode import class_pieces
from gpost.page.layers import coloured
from gpost.pipeline import survey_file
from gpost.testing import layer_start
from tests.page.jobs import POT, told
from tests.sliced import write_piece

STUDIO = Path(__file__).parents[2] / "configs" / "studio.yaml"
RECIPE = """
clays: [{name: white stoneware, swatch: "#ff0000"}, {name: blue, swatch: "#0000ff"}]
steps:
  - cold: {move_cold: true}
  - fan: {bands: [{from_layer: 1, level_percent: 0}, {from_layer: 6, level_percent: 20}, {from_layer: 20, level_percent: 60}], ramp_layers: 1}
  - swap: {at_height_mm: 60, colour: blue, where: layer}
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], dict[str, Any]]:
    """(the data of a page, the summary) of a bottle with air and two colours."""
    folder = tmp_path_factory.mktemp("layers")
    write_piece(folder / "bottle.gcode", *class_pieces()["twisted-bottle"])
    (folder / "own.yaml").write_text(RECIPE)
    names = ["-c", str(STUDIO), "-c", str(folder / "own.yaml"), "-o", str(folder / "out.gcode")]
    names += ["--json", str(folder / "out.json"), "--page", str(folder / "out.html")]
    result = CliRunner().invoke(cli, ["run", str(folder / "bottle.gcode"), *names])
    assert result.exit_code == 0, result.output
    found = re.findall(r'id="data">(.*?)</script>', (folder / "out.html").read_text("utf-8"), re.DOTALL)
    return json.loads(found[0]), json.loads((folder / "out.json").read_text())


def colouring(data: dict[str, Any], name: str) -> dict[str, Any]:
    return next(one for one in data["solid"]["colourings"] if one["name"] == name)


def test_clay_is_that_of_the_shares(job: tuple[dict[str, Any], dict[str, Any]]) -> None:
    """Red mixed with blue by the share that the summary has for the layer, to the last of 255 steps."""
    data, summary = job
    colours = colouring(data, "clay")["colours"]
    for layer, colour in zip(data["solid"]["layer"], colours, strict=True):
        shares = [record["clays"] for record in summary["shares"] if record["layer"] <= layer][-1]
        assert int(colour[1:3], 16) == pytest.approx(255 * shares.get("white stoneware", 0), abs=0.51)
        assert int(colour[5:7], 16) == pytest.approx(255 * shares.get("blue", 0), abs=0.51)
    assert colours[0] == "#ff0000"
    assert colours[-1] == "#0000ff"


def test_the_cartridge_changes_where_its_clay_shows(job: tuple[dict[str, Any], dict[str, Any]]) -> None:
    """Not where it is put on: the hose is full of the old clay then."""
    data, summary = job
    [pause] = [one for one in summary["pauses"] if one["new_cartridge"]]
    colours = colouring(data, "cartridge")["colours"]
    changed = [k for k in range(1, len(colours)) if colours[k] != colours[k - 1]]
    assert [data["solid"]["layer"][k] for k in changed] == [pause["shows_at_layer"]]


def test_the_first_cartridge_has_its_own_number() -> None:
    """A later piece of a day begins with another than 1."""
    config = Config.model_validate({"cartridge": {"volume_ml": 600, "line_ml": 20}}).beginning(None, 5)
    pause = Pause(layer_start(POT, 31), "swap", "", "", new_cartridge=True, colour="blue")
    plan = Plan(POT, config).adding("swap", [pause])
    found = {one["name"]: one for one in coloured(told(plan), plan)}["cartridge"]
    assert [name for name, _ in found["legend"]] == ["cartridge 5", "cartridge 6"]


def test_the_files_own_air_is_shown(tmp_path: Path) -> None:
    """As the chart of the same page shows it, though no step sets any."""
    lines = ["G21", "G90", "M83", "G28", "M106 S51"]
    for ring in range(1, 6):
        lines += [*(["M106 S255"] if ring == 4 else []), f"G0 X100 Y100 Z{2 * ring} F3000"]
        lines += [f"G1 X{x} Y{y} E5 F1200" for x, y in ((180, 100), (180, 180), (100, 180), (100, 100))]
    (tmp_path / "pot.gcode").write_text("\n".join([*lines, ""]))
    plan = Plan(survey_file(tmp_path / "pot.gcode", Config()), Config())
    found = {one["name"]: one for one in coloured(told(plan), plan)}["air"]
    assert found["values"] == [20, 20, 20, 100, 100]


def test_air_rises_as_the_recipe_has_it(job: tuple[dict[str, Any], dict[str, Any]]) -> None:
    """None in the first five layers, then the first band's level, the second's from layer 20 to the end."""
    data, _ = job
    air = colouring(data, "air")["values"]
    assert air[:5] == [0.0] * 5
    assert air[7:18] == [20.0] * 11
    assert set(air[21:]) == {60.0}
    assert air == sorted(air)


def test_times_add_up_to_the_clock(job: tuple[dict[str, Any], dict[str, Any]]) -> None:
    """Each layer's time is what the summary's clock goes on by, but for what waits and ways take."""
    data, summary = job
    clock, times = summary["layer_table"]["clock_s"], colouring(data, "time of a layer")["values"]
    steps = [after - before for before, after in pairwise(clock)]
    off = [abs(step - time) for step, time in zip(steps, times[1:], strict=True)]
    assert sum(one > 0.2 for one in off) <= len(summary["pauses"])


@pytest.mark.parametrize(("safety", "under_one"), [(1.5, True), (1.0, False)])
def test_margins_under_the_safety_factor_stand_out(safety: float, under_one: bool, tmp_path: Path) -> None:
    """Each layer's colour is that of its margin in the summary; red or orange just where it is too small."""
    write_piece(tmp_path / "bottle.gcode", *class_pieces()["twisted-bottle"])
    stand = f"{{yield_stress_pa: 1500, stiffening_pa_s: 0.05, safety_factor: {safety}, floor_mm_min: 900}}"
    (tmp_path / "own.yaml").write_text(f"steps: [{{cold: {{move_cold: true}}}}, {{stand: {stand}}}]")
    names = ["-c", str(STUDIO), "-c", str(tmp_path / "own.yaml"), "-o", str(tmp_path / "out.gcode")]
    names += ["--json", str(tmp_path / "out.json"), "--page", str(tmp_path / "out.html")]
    result = CliRunner().invoke(cli, ["run", str(tmp_path / "bottle.gcode"), *names])
    assert result.exit_code == 0, result.output
    found = re.findall(r'id="data">(.*?)</script>', (tmp_path / "out.html").read_text("utf-8"), re.DOTALL)
    margin = json.loads((tmp_path / "out.json").read_text())["layer_table"]["margin"]
    shown = colouring(json.loads(found[0]), "margin")
    words = {colour: word for word, colour in shown["legend"]}
    assert len(words) == (5 if under_one else 4)
    assert min(margin) < safety < max(margin)
    for value, colour in zip(margin, shown["colours"], strict=True):
        if value < 1 and under_one:
            assert words[colour] == "under 1: it gives way"
        elif value < safety:
            assert words[colour] == f"under {safety:g}, the safety factor"
        else:
            low, high = [*re.findall(r"[\d.]+", words[colour]), "inf"][:2]
            assert float(low) <= value < float(high)
