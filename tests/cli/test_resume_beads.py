"""`gpost resume` where a step lays clay beside the piece: what of it has been is laid no more, what is due still comes."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import gpost
from gpost.report.model import Summary
from tests.cli.test_resume_checks import CONFIG, rings, tower
from tests.reference.interpreter import run

ML = math.pi * 1.75**2 / 4 / 1000
"""Clay in 1 mm of E."""
LAID_ML = 3.0
TOWER = f'''
from collections.abc import Iterable
from gpost.api import Intention, LayClay, Plan, Settings, Spot, Step, Stroke, Survey, hookimpl

class TowerSettings(Settings):
    """None."""

class Tower(Step[TowerSettings]):
    """Two beads beside the piece at the start of layers 5 and 8, which stand apart."""
    name = "tower"
    Settings = TowerSettings
    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """The beads."""
        for layer in (4, 7):
            for x in (40.0, 50.0):
                bead = Stroke(((x, 60.0), (x, 90.0)), width_mm=4.0, height_mm=2.0, z_mm=2.0, clay_ml={LAID_ML / 2})
                yield LayClay(survey.start_of(layer), (bead,), feed_mm_min=600.0, why="tower")

@hookimpl
def gpost_steps() -> Iterable[type[Step]]:
    """This one."""
    return [Tower]
'''
BEGINS = "; gpost: clay beside the piece: tower"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A folder with a tower of 10 layers, beads beside it, and the run of both."""
    (tmp_path / "steps").mkdir()
    (tmp_path / "steps" / "tower.py").write_text(TOWER)
    folder = tower(tmp_path, rings())
    (folder / "studio.yaml").write_text(CONFIG.replace("steps: [", "steps: [tower, "))
    made = gpost.run(folder / "tower.gcode", folder / "studio.yaml", folder / "print.gcode", steps_from=folder / "steps", overwrite=True)
    (folder / "print.json").write_text(made.model_dump_json())
    return folder


def resumed(job: Path, of: str = "print", name: str = "rest", **said: object) -> tuple[Summary, list[str]]:
    """The summary of a rest, and its lines."""
    found = gpost.resume(job / f"{of}.json", job / f"{name}.gcode", steps_from=job / "steps", overwrite=True, **said)  # type: ignore[arg-type]
    (job / f"{name}.json").write_text(found.model_dump_json())
    return found, lines_of(job, name)


def lines_of(job: Path, name: str) -> list[str]:
    """The lines of a file in the folder."""
    return (job / f"{name}.gcode").read_text().splitlines()


def beads(lines: list[str]) -> list[int]:
    """The lines, counted from 1, on which beads beside the piece begin."""
    return [at for at, line in enumerate(lines, 1) if line == BEGINS]


def given_ml(job: Path, name: str, line: int) -> float:
    """Net clay of a file before a line, by the reference interpreter."""
    return sum(each.e_metered_mm for each in run((job / f"{name}.gcode").read_bytes())[: line - 1]) * ML


@pytest.mark.parametrize(
    ("by", "comes"),
    [("before", 4), ("first line", 4), ("in the first", 3), ("second line", 3), ("in the second", 2), ("behind", 2), ("a move on", 2)],
)
def test_beads_that_are_begun_are_laid_no_more(job: Path, by: str, comes: int) -> None:
    """Bead on bead would be ploughed through. What it says of the cartridge goes by the file that was run."""
    lines = lines_of(job, "print")
    first, second, *_ = beads(lines)
    end = lines.index("; gpost: clay beside the piece ends", second) + 1
    line = {
        "before": first - 1, "first line": first, "in the first": first + 2, "second line": second,
        "in the second": second + 2, "behind": end + 1, "a move on": end + 2,
    }[by]  # fmt: skip
    found, rest = resumed(job, line=line)
    assert len(beads(rest)) == comes
    assert any("not laid again (tower, 1.5 ml)" in text for text in found.resume.checks) == (by not in ("before", "first line", "a move on"))
    behind = {"in the first": second, "in the second": end}.get(by, line)  # what is begun counts as laid
    left_ml = found.resume.stops[-1].left_ml
    own = gpost.resume(job / "print.json", job / "layer.gcode", steps_from=job / "steps", overwrite=True, layer=2).resume.stops[-1]
    held_ml = own.left_ml + given_ml(job, "print", lines.index("G0 Z4 F900") + 1)
    assert left_ml == pytest.approx(held_ml - given_ml(job, "print", behind), abs=0.35)
    assert found.clay_ml == pytest.approx(given_ml(job, "print", len(lines)) - given_ml(job, "print", behind), abs=0.35)


def test_by_the_clock_as_by_the_line(job: Path) -> None:
    """In a bead it is begun; the other one still comes."""
    [beside] = [change for change in gpost.run(
        job / "tower.gcode", job / "studio.yaml", job / "again.gcode", steps_from=job / "steps"
    ).changes if change.step == "tower"]  # fmt: skip
    start_s = beside.where[0].clock_s
    for after_s, comes in ((-0.3, 4), (1.0, 3)):
        assert len(beads(resumed(job, clock_s=start_s + after_s)[1])) == comes


def test_what_has_been_stays_so_at_a_second_stop(job: Path) -> None:
    """The clay that it took is in no cartridge of the second rest, and it is laid no more."""
    first, rest = resumed(job, line=beads(lines_of(job, "print"))[0] + 2)
    assert len(beads(rest)) == 3
    second, again = resumed(job, of="rest", name="second", layer=7)
    once, straight = resumed(job, name="straight", layer=7)
    assert len(beads(again)) == len(beads(straight)) == 2
    assert second.resume.stops[-1].left_ml == pytest.approx(once.resume.stops[-1].left_ml, abs=0.35)
    assert second.cartridges[0].need_ml == pytest.approx(once.cartridges[0].need_ml)
    assert second.clay_ml == pytest.approx(once.clay_ml)
    assert first.clay_ml > second.clay_ml


def test_by_a_layer_they_have_been_as_pauses_have(job: Path) -> None:
    """Due just there, and told."""
    found, rest = resumed(job, layer=5)
    assert len(beads(rest)) == 2
    assert sum("not laid again" in text for text in found.resume.checks) == 2
