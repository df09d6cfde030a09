"""A stranger's step that waits, found in a folder: everything that asks for the time has its waits counted."""

from __future__ import annotations

import ast
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from gpost.cli import cli
from gpost.demo.gcode import class_pieces
from tests.reference.interpreter import run
from tests.reference.state import Dialect
from tests.sliced import write_piece

STEP = Path(__file__).with_name("dwell") / "gpost_dwell.py"
WAIT_S, EVERY = 60, 10
UNITS = ("milliseconds", "seconds")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a twisted bottle, and the step in one beside it."""
    folder = tmp_path_factory.mktemp("dwell")
    (folder / "pieces").mkdir()
    (folder / "steps").mkdir()
    write_piece(folder / "pieces" / "bottle.gcode", *class_pieces()["twisted-bottle"])
    shutil.copy(STEP, folder / "steps")
    return folder


def job(shop: Path, *steps: str, unit: str = "milliseconds", command: str = "run") -> dict[str, Any]:
    """The JSON of a command under a recipe of these steps."""
    config = shop / "recipe.yaml"
    config.write_text(f"machine: {{dwell_p: {unit}}}\nsteps: [{', '.join(steps)}]\n")
    words = ["-c", str(config), "--steps-from", str(shop / "steps")]
    if command == "day":
        words += ["--json", str(shop / "pieces")]
    else:
        out = ["-o", str(shop / "out.gcode"), "--overwrite", "--json", str(shop / "out.json")]
        words += [str(shop / "pieces" / "bottle.gcode"), *out]
    result = CliRunner().invoke(cli, [command, *words])
    assert result.exit_code == 0, result.output
    return dict(json.loads(result.stdout if command == "day" else (shop / "out.json").read_text()))


DWELL = f"{{dwell: {{every_layers: {EVERY}, wait_s: {WAIT_S}}}}}"
STAND = "{stand: {yield_stress_pa: 1500}}"
REMIND = "{remind: {every_min: 5}}"


def test_it_uses_the_contract_alone() -> None:
    """Of gpost nothing but `gpost.api`."""
    nodes = [node for node in ast.walk(ast.parse(STEP.read_text())) if isinstance(node, ast.ImportFrom)]
    assert [node.module for node in nodes if (node.module or "").startswith("gpost")] == ["gpost.api"]


@pytest.mark.parametrize("unit", UNITS)
def test_the_summary_has_its_waits(shop: Path, unit: Any) -> None:
    """In the clock of the job and of each layer, in the clay's age, as a change, and as the interpreter dwells."""
    plain, waiting = job(shop, unit=unit), job(shop, DWELL, unit=unit)
    count = (plain["layers"] - 1) // EVERY
    assert waiting["time_s"] == pytest.approx(plain["time_s"] + count * WAIT_S, abs=0.1)
    (change,) = waiting["changes"]
    assert (change["kind"], change["count"], change["seconds"]) == ("wait", count, count * WAIT_S)
    assert [place["layer"] for place in change["where"]] == [n * EVERY + 1 for n in range(1, count + 1)]
    before, after = plain["layer_table"], waiting["layer_table"]
    waited_s = [(number - 1) // EVERY * WAIT_S for number in before["layer"]]
    for clock_s, own_s, by_s in zip(after["clock_s"], before["clock_s"], waited_s, strict=True):
        assert clock_s == pytest.approx(own_s + by_s, abs=0.11)
    rows = zip(after["age_min"], before["age_min"], waited_s, before["clock_s"], strict=True)
    for age_min, own_min, by_s, clock_s in rows:
        if own_min == pytest.approx(clock_s / 60, abs=0.011):  # clay that is in the hose from the start waits each time
            assert age_min == pytest.approx(own_min + by_s / 60, abs=0.011)
        else:
            assert own_min - 0.011 <= age_min <= own_min + by_s / 60 + 0.011
    assert max(after["age_min"]) > max(before["age_min"]) + WAIT_S / 60 - 0.011
    (command,) = waiting["commands"]
    assert (command["kind"], command["command"], command["count"]) == ("wait", f"G4 P<{unit}>", count)
    dwelt = [
        event.dwell_s
        for event in run((shop / "out.gcode").read_bytes(), Dialect(dwell_p=unit))
        if event.dwell_s
    ]
    assert dwelt == [WAIT_S] * count


def test_the_text_says_so(shop: Path) -> None:
    """How long all of them together, how many, and where."""
    job(shop, DWELL)
    words = [
        "run",
        "--long",
        str(shop / "pieces" / "bottle.gcode"),
        "-c",
        str(shop / "recipe.yaml"),
        "-o",
        str(shop / "o.gcode"),
    ]
    text = CliRunner().invoke(cli, [*words, "--steps-from", str(shop / "steps")]).output
    assert "dwell: stands still, 540 s together: to set; 9 times, layers 11 to 91" in text


def test_the_clay_has_stiffened_meanwhile(shop: Path) -> None:
    """`stand` slows less where the wall had its waits."""
    alone, waiting = job(shop, STAND), job(shop, DWELL, STAND)
    waited_s = next(change["seconds"] for change in waiting["changes"] if change["kind"] == "wait")
    assert waiting["time_s"] - waited_s < alone["time_s"] - 60
    assert min(waiting["layer_table"]["margin"]) >= min(alone["layer_table"]["margin"])


def test_who_is_called_is_called_in_time(shop: Path) -> None:
    """`remind` counts the waits: each call is due at its minute, but for the layer in which it finds its place."""
    summary = job(shop, DWELL, REMIND)
    (calls,) = [change for change in summary["changes"] if change["step"] == "remind"]
    clock_s = [place["clock_s"] for place in calls["where"]]
    assert len(clock_s) == summary["time_s"] // 300
    for number, at_s in enumerate(clock_s, 1):
        assert at_s == pytest.approx(number * 300, abs=WAIT_S + 60)


def test_the_day_has_its_waits(shop: Path) -> None:
    """A piece takes as much longer on the sheet."""
    (plain,), (waiting,) = job(shop, command="day")["pieces"], job(shop, DWELL, command="day")["pieces"]
    longer_s = (waiting["end_s"] - waiting["start_s"]) - (plain["end_s"] - plain["start_s"])
    assert longer_s == pytest.approx(9 * WAIT_S, abs=0.21)
