"""`import gpost`: the calls give what the commands give, and are as safe."""

from __future__ import annotations

import re
import subprocess
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import gpost
from gpost.cli import cli
from gpost.demo.folder import SLICED, make_demo
from gpost.demo.gcode import class_pieces
from gpost.report.jsonout import to_json
from tests.sliced import write_piece

ROOT = Path(__file__).parents[1]
STEPS = "steps:\n- cold\n- fan: {bands: [{from_layer: 3, level_percent: 40}]}\n"


@pytest.fixture
def pot(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a sliced bowl and its config, to work in."""
    monkeypatch.chdir(tmp_path)
    write_piece(tmp_path / "pot.gcode", *class_pieces()["small-bowl-1"])
    (tmp_path / "pot.yaml").write_text(STEPS)
    return tmp_path


def test_run_gives_what_the_command_gives(pot: Path) -> None:
    """The output is the command's, byte for byte, and the summary is its JSON but for what the files were."""
    summary = gpost.run("pot.gcode", "pot.yaml", "called.gcode")
    typed = CliRunner().invoke(
        cli, ["run", "pot.gcode", "-c", "pot.yaml", "-o", "typed.gcode", "--json", "s.json"]
    )
    assert typed.exit_code == 0, typed.output
    assert (pot / "called.gcode").read_bytes() == (pot / "typed.gcode").read_bytes()
    named = summary.model_copy(update={"output": "typed.gcode"})
    assert to_json(named) == (pot / "s.json").read_text()


@pytest.mark.parametrize("config", ["pot.yaml", {"steps": ["cold"]}, None])
def test_what_a_call_has_run_can_be_gone_on_with(pot: Path, config: Any) -> None:
    """Its summary, kept as JSON, is all that `gpost resume` needs, also where the config lies in no file."""
    summary = gpost.run("pot.gcode", config, "called.gcode")
    (pot / "called.json").write_text(to_json(summary))
    args = ["resume", "called.json", "--from-layer", "4", "-o", "rest.gcode"]
    result = CliRunner().invoke(cli, args)
    assert result.exit_code == 0, result.output
    lines, whole = (pot / "rest.gcode").read_text().splitlines(), (pot / "called.gcode").read_text().splitlines()
    rest = lines[lines.index("; gpost: resume ends") + 1 :]
    assert len(rest) > 10
    mark = "here it ends"  # a file that changes nothing has no such comment
    rest, whole = ([line for line in lines if mark not in line] for lines in (rest, whole))
    assert whole[-len(rest) :] == rest
    assert gpost.run("pot.gcode", config, "other.gcode", origin=False).origin is None


def test_what_a_call_has_replaced_can_be_gone_on_with(pot: Path) -> None:
    """In place, through a link too: what was sliced is looked for under the name that it is kept by."""
    (pot / "link.gcode").symlink_to(pot / "pot.gcode")
    summary = gpost.run("link.gcode", "pot.yaml", "link.gcode", in_place=True)
    (pot / "in-place.json").write_text(to_json(summary))
    assert summary.origin is not None
    assert summary.origin.source.path.endswith("pot.sliced.gcode")
    args = ["resume", "in-place.json", "--from-layer", "4", "-o", "rest.gcode"]
    result = CliRunner().invoke(cli, args)
    assert result.exit_code == 0, result.output


def test_resume_gives_what_the_command_gives(pot: Path) -> None:
    """The rest is the command's, byte for byte, and so is its summary; by what is said, whatever it was run from."""
    summary = gpost.run("pot.gcode", "pot.yaml", "called.gcode")
    (pot / "s.json").write_text(to_json(summary))
    said = {"layer": 4, "left_ml": 300.0, "lost": "z", "set_on": "bed", "turned": ["flow=110@2"], "waited_min": 3}
    options = ["--from-layer", "4", "--left-ml", "300", "--lost", "z", "--set-on", "bed"]
    options += ["--turned", "flow=110@2", "--waited", "3"]
    rest = gpost.resume("s.json", "called-rest.gcode", allow=["above-ceiling"], **said)  # type: ignore[arg-type]
    typed = CliRunner().invoke(
        cli,
        ["resume", "s.json", *options, "--allow", "above-ceiling", "-o", "typed.gcode", "--json", "r.json"],
    )
    assert typed.exit_code == 0, typed.output
    assert (pot / "called-rest.gcode").read_bytes() == (pot / "typed.gcode").read_bytes()
    assert to_json(rest.model_copy(update={"output": "typed.gcode"})) == (pot / "r.json").read_text()
    assert rest.resume is not None
    (pot / "rest.json").write_text(to_json(rest))
    again = gpost.resume("rest.json", "again.gcode", layer=6)
    assert again.resume is not None
    assert len(again.resume.stops) == 2


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({}, "in one way: height_mm, layer, line or clock_s"),
        ({"layer": 4, "line": 30}, "in one way: height_mm, layer, line or clock_s"),
        ({"layer": 4, "at_mm": (1.0, 2.0)}, "at_mm and along_mm say where in the turn of a height_mm"),
        ({"height_mm": 9.0, "top_mm": 9.0}, "leave top_mm out"),
        ({"layer": 4, "left_ml": 3.0, "left_g": 3.0}, "left_ml or left_g"),
        ({"layer": 4, "came_ml": 3.0, "turned": ["flow=110@2"]}, "came_ml, came_g or turned"),
        ({"layer": 4, "set_on": "rim"}, "set_on goes with lost z or lost all"),
        ({"layer": 4, "lost": "y"}, "lost is one of nothing, z, all"),
        ({"layer": 0}, "layer is 0; they are counted from 1"),
        ({"layer": 2.5}, "layer is 2.5; they are counted from 1"),
        ({"height_mm": -1.0}, "height_mm is -1 mm, and must be more than 0"),
        ({"layer": 4, "run_out_ml": float("nan")}, "run_out_ml is nan, and must be 0 or more"),
        ({"layer": 4, "turned": "flow=110@2"}, "turned takes a list"),
        ({"layer": 4, "turned": ["flow"]}, "'flow' can't be read"),
        ({"layer": 4, "waited_min": 1e5}, "more than a week"),
        ({"layer": "30"}, "layer is '30', and must be a number, such as 30"),
        ({"height_mm": "40"}, "height_mm is '40', and must be a number"),
        ({"layer": True}, "layer is True, and must be a number"),
        ({"layer": 4, "waited_min": [5]}, "waited_min is [5], and must be a number"),
        ({"height_mm": 9.0, "at_mm": 5}, "at_mm is 5, and must be X and Y in mm"),
        ({"height_mm": 9.0, "at_mm": "5,6"}, "at_mm is '5,6', and must be X and Y in mm"),
        ({"height_mm": 9.0, "at_mm": (1.0, 2.0, 3.0)}, "must be X and Y in mm"),
        ({"layer": 4, "hose_holds": 3}, "hose_holds is 3, and must be the name of a clay"),
        ({"layer": 4, "turned": 5}, "turned takes a list"),
        ({"layer": 4, "turned": [5]}, "turned holds texts such as 'flow=110@40', and not 5"),
    ],
)
def test_what_is_said_of_a_stopped_print_is_looked_at_first(said: Any, words: str, tmp_path: Path) -> None:
    """Before any file is read, by the keyword's name; a keyword that there isn't is none of these."""
    with pytest.raises(gpost.ConfigError, match=re.escape(words)):
        gpost.resume(tmp_path / "none.json", tmp_path / "rest.gcode", **said)
    with pytest.raises(TypeError, match="'layers'"):
        gpost.resume(tmp_path / "none.json", tmp_path / "rest.gcode", layers=4)  # type: ignore[call-arg]


def test_a_summary_in_the_place_of_its_file_is_asked_for_as_one(pot: Path) -> None:
    """What is there has been read anew from the disk, as it is for the command: it is said how to keep it."""
    done = gpost.run("pot.gcode", None, "out.gcode", overwrite=True)
    with pytest.raises(gpost.ConfigError, match=r"the JSON file .* and not a Summary; keep it first"):
        gpost.resume(done, "called-rest.gcode", layer=4)  # type: ignore[arg-type]
    assert not Path("called-rest.gcode").exists()


def test_a_rest_overwrites_nothing_that_is_read(pot: Path) -> None:
    """Neither the sliced file, the config nor the summary, not even when overwriting was asked for."""
    (pot / "s.json").write_text(to_json(gpost.run("pot.gcode", "pot.yaml", "out.gcode")))
    for name in ("pot.gcode", "pot.yaml", "s.json"):
        before = (pot / name).read_bytes()
        with pytest.raises(gpost.OutputError):
            gpost.resume("s.json", name, layer=4, overwrite=True)
        assert (pot / name).read_bytes() == before
    with pytest.raises(gpost.OutputError, match="already"):
        gpost.resume("s.json", "out.gcode", layer=4)


def test_check_and_survey_agree_with_run(pot: Path) -> None:
    """What `check` finds is what stands in the summary; the survey's clay is the summary's before the steps."""
    summary = gpost.run("pot.gcode", "pot.yaml", "out.gcode")
    found = gpost.check("pot.gcode", "pot.yaml")
    assert {f.sentence for f in found if f.severity == "warning"} == set(summary.warnings)
    assert len(gpost.survey("pot.gcode", "pot.yaml").layers) == summary.layers


def test_a_config_may_be_a_mapping(pot: Path) -> None:
    """Keys and values from Python are checked, and do, what those of a file do."""
    config = {"steps": ["cold", {"fan": {"bands": [{"from_layer": 3, "level_percent": 40}]}}]}
    gpost.run("pot.gcode", config, "mapped.gcode")
    gpost.run("pot.gcode", "pot.yaml", "filed.gcode")
    assert (pot / "mapped.gcode").read_bytes() == (pot / "filed.gcode").read_bytes()
    with pytest.raises(gpost.ConfigError) as caught:
        gpost.check("pot.gcode", {"machine": {"celing_mm": 300}, "steps": [{"fan": {"bands": 7}}]})
    assert str(caught.value).startswith("config: machine.celing_mm: unknown key; did you mean ceiling_mm?")
    with pytest.raises(gpost.ConfigError, match="plain values alone"):
        gpost.check("pot.gcode", {"machine": {"ceiling_mm": object()}})


def test_what_is_read_once_serves_many_files(pot: Path) -> None:
    """A config that `read_config` has read gives the same as its file."""
    recipe = gpost.read_config(["pot.yaml"])
    assert gpost.check("pot.gcode", recipe) == gpost.check("pot.gcode", "pot.yaml")
    with pytest.raises(gpost.ConfigError, match="read already"):
        gpost.check("pot.gcode", recipe, studio="pot.yaml")


def test_no_config_is_said_and_never_guessed(pot: Path) -> None:
    """The config must be named, or None given for gpost's own numbers."""
    with pytest.raises(TypeError):
        gpost.run("pot.gcode", output="out.gcode")  # type: ignore[call-arg]
    assert gpost.run("pot.gcode", None, "out.gcode").changes == ()


def test_errors_stop_it_unless_they_are_allowed(pot: Path) -> None:
    """The preflight is on: with an error nothing is written, and only findings of that name are let pass."""
    config = {"machine": {"ceiling_mm": 5.0}}
    names = {f.name for f in gpost.check("pot.gcode", config) if f.severity == "error"}
    assert names == {"above-ceiling"}
    with pytest.raises(gpost.PlanError):
        gpost.run("pot.gcode", config, "out.gcode")
    with pytest.raises(gpost.PlanError):
        gpost.run("pot.gcode", config, "out.gcode", allow=["outside-bed"])
    assert not (pot / "out.gcode").exists()
    gpost.run("pot.gcode", config, "out.gcode", allow=["above-ceiling"])
    assert (pot / "out.gcode").exists()


@pytest.mark.parametrize("allow", ["above-ceiling", ["above-celing"], ["plan"]])
def test_only_known_findings_are_allowed(pot: Path, allow: str | list[str]) -> None:
    """A finding that doesn't exist, one that may not be allowed, or a text for a list is refused."""
    with pytest.raises(gpost.ConfigError, match="allow"):
        gpost.run("pot.gcode", None, "out.gcode", allow=allow)


@pytest.mark.parametrize("output", ["pot.gcode", "pot.yaml", "mine/wait.py"])
def test_nothing_that_is_read_is_overwritten(pot: Path, output: str) -> None:
    """Not the sliced file, a config or a step's code, with `overwrite` either."""
    (pot / "mine").mkdir()
    (pot / "mine/wait.py").write_text("from gpost.api import hookimpl\n\n\n@hookimpl\ndef gpost_steps():\n    return []\n")
    before = (pot / output).read_bytes()
    with pytest.raises(gpost.OutputError):
        gpost.run("pot.gcode", "pot.yaml", output, steps_from="mine", overwrite=True)
    assert (pot / output).read_bytes() == before
    (pot / "there.gcode").write_text("mine")
    with pytest.raises(gpost.OutputError):
        gpost.run("pot.gcode", "pot.yaml", "there.gcode")
    assert (pot / "there.gcode").read_text() == "mine"


def test_in_place_is_asked_for_by_name(pot: Path) -> None:
    """The sliced file is replaced with `in_place` alone."""
    gpost.run("pot.gcode", "pot.yaml", "out.gcode")
    gpost.run("pot.gcode", "pot.yaml", "pot.gcode", in_place=True)
    body = [(pot / name).read_bytes().split(b"\n", 1)[1] for name in ("pot.gcode", "out.gcode")]
    assert body[0] == body[1]


def test_load_tells_the_wished_colours(pot: Path) -> None:
    """The sheet's clay is the plan's, by bands of a mapping as by those of a file."""
    bands = {"bands": [{"to_mm": 6, "clay": "white"}, {"clay": "blue"}]}
    (pot / "bands.yaml").write_text("bands:\n- {to_mm: 6, clay: white}\n- {clay: blue}\n")
    sheet, plan, summary = gpost.load("pot.gcode", None, bands=bands)
    assert sheet.slugs == gpost.load("pot.gcode", None, bands="bands.yaml").sheet.slugs
    assert sheet.total_ml == pytest.approx(plan.survey.clay_ml)
    assert summary.clay_ml == pytest.approx(sheet.total_ml)
    with pytest.raises(gpost.ConfigError, match="one place"):
        gpost.load("pot.gcode", {"colours": bands}, bands=bands)


def test_the_page_is_true(pot: Path) -> None:
    """Every block of the guide's page on Python runs as printed, in order, in the folder of a demo."""
    page = files("gpost.guide").joinpath("python.md").read_text("utf-8")
    blocks = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    make_demo(pot / "demo")
    (pot / "demo" / SLICED).rename(pot / "vase.gcode")
    (pot / "studio.yaml").write_text((ROOT / "configs/studio.yaml").read_text())
    (pot / "vase.yaml").write_text(STEPS)
    names: dict[str, object] = {}
    for block in blocks:
        exec(compile(block, "python.md", "exec"), names)
    assert (pot / "vase-print.gcode").exists()
    for name in gpost.__all__:
        assert f"`{name}" in page or f"gpost.{name}" in page, name


CALLED_AFTER = """
import gpost.survey.model, gpost
from gpost.survey import build
from importlib import import_module
import_module("gpost.survey")
print(gpost.survey.__module__, "gpost.survey.build" == build.__name__, gpost.run.__name__)
"""


def test_the_call_named_survey_is_the_call() -> None:
    """Also when the folder of that name has been imported before."""
    found = subprocess.run([sys.executable, "-c", CALLED_AFTER], capture_output=True, text=True, check=True)
    assert found.stdout.split() == ["gpost.calls", "True", "run"]


def test_what_is_offered_is_there() -> None:
    """Each name of `gpost.__all__` is one of `gpost.calls`, and no other name is made up."""
    from gpost import calls

    assert set(gpost.__all__) == {*calls.__all__, "__version__"}
    assert set(gpost.__all__) <= set(dir(gpost))
    for name in calls.__all__:
        assert getattr(gpost, name) is getattr(calls, name)
    with pytest.raises(AttributeError, match="no attribute 'plan_all'"):
        gpost.plan_all  # type: ignore[attr-defined]  # noqa: B018
