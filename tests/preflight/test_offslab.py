"""What the file lays beyond the slab, in the air beside it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gpost.config.settings import Settings
from gpost.pipeline import check_file, run_file
from gpost.plan.intentions import Ground, Intention, Shift, Silence
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.steps.recipe import Recipe, make_recipe
from gpost.steps.step import Step
from gpost.survey.model import Survey
from tests.config_files import load_files

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
CONFIG = "machine: {nozzle_mm: 4}\nclay: {metering: {unit: mm3}, bead_width_mm: 6}\n"
HALF_MM = 3
"""Half a bead."""
PRIME = ["G0 X20 Y20 Z2", "G1 X60 E400"]


def ring(x_mm: float, radius_mm: float, z_mm: float, *, rise_mm: float = 0.0) -> list[str]:
    """A polygon of 72 sides round y 120, of which a corner lies on each side."""
    turns = [step / 72 for step in range(73)]
    places = [
        f"X{x_mm + radius_mm * math.cos(2 * math.pi * turn):.3f} "
        f"Y{120 + radius_mm * math.sin(2 * math.pi * turn):.3f} Z{z_mm + rise_mm * turn:.3f}"
        for turn in turns
    ]
    return [f"G0 {places[0]} F3000", *(f"G1 {place} E{radius_mm:g} F1500" for place in places[1:])]


WALL = [line for layer in range(1, 7) for line in ring(140, 40, 2 * layer)]
TWO = [line for turn in range(1, 7) for x in (90, 190) for line in ring(x, 30, 2 * turn, rise_mm=2)]


def found(tmp_path: Path, lines: Sequence[str], step: str) -> Finding | None:
    """What is said of lines printed on a slab."""
    source, recipe = written(tmp_path, lines, step)
    of_it = [f for f in check_file(source, recipe.config, recipe.steps) if f.name == "off-slab"]
    assert len(of_it) <= 1
    return of_it[0] if of_it else None


def written(tmp_path: Path, lines: Sequence[str], *steps: str) -> tuple[Path, Recipe]:
    """A file, and the recipe with these steps."""
    source = tmp_path / "pot.gcode"
    source.write_text("\n".join(["G28", "G90", "M83", *lines, ""]))
    listed = "".join(f"\n  - {step}" for step in steps)
    return source, make_recipe(load_files({"pot.yaml": f"{CONFIG}steps:{listed}\n"}))


@pytest.mark.parametrize(
    ("slab", "over_mm", "size"),
    [
        # the skirt's radius is 60 mm, and half a bead lies outside it
        ("diameter_mm: 120", "3.0", "126.0 mm across"),
        ("diameter_mm: 110", "8.0", "126.0 mm across"),
        ("diameter_mm: 126.1", None, None),
        ("x_size_mm: 110, y_size_mm: 140", "8.0", "126.0 x 140.0 mm"),
        ("x_size_mm: 127, y_size_mm: 127", None, None),
        ("diameter_mm: 116, x_mm: 145", "10.0", "136.0 mm across"),
    ],
)
def test_a_skirt(tmp_path: Path, slab: str, over_mm: str | None, size: str | None) -> None:
    """A bead must lie on the slab as a whole; what would hold it is told, its middle as it is."""
    lines = [*ring(140, 60, 2), *WALL]
    finding = found(tmp_path, lines, f"slab: {{thickness_mm: 3, gap_mm: 0.1, margin_mm: 5, {slab}}}")
    if over_mm is None:
        assert finding is None
        return
    assert finding is not None
    assert finding.severity == "warning"
    assert f"up to {over_mm} mm over its edge" in finding.text
    assert "the nozzle is 5.1 mm over the bed there" in finding.text  # 2 as sliced, 3 of slab, 0.1 of gap
    assert f"at least {size}, its middle where it is" in finding.text


@pytest.mark.parametrize("height_mm", [2, 8])
def test_a_prime_line(tmp_path: Path, height_mm: int) -> None:
    """Whatever height it is laid at: nothing is below it. Too large a slab for the bed is not advised."""
    lines = [f"G0 X20 Y20 Z{height_mm}", "G1 X60 E400", *WALL]
    finding = found(tmp_path, lines, "slab: {diameter_mm: 110}")
    assert finding is not None
    # the further end is hypot(120, 100) mm from the slab's middle
    assert f"up to {math.hypot(120, 100) + HALF_MM - 55:.1f} mm over" in finding.text
    assert f"{height_mm + 3.1:.1f} mm over the bed" in finding.text
    assert (finding.line, finding.count) == (4, 1)
    assert "at least" not in finding.text
    assert "slice the file without" in finding.text


@pytest.mark.parametrize("far", [True, False])
def test_a_bead_after_the_piece_that_stands_on_nothing(tmp_path: Path, far: bool) -> None:
    """However high: it is of no layer, so none bears it, nor would a larger slab; one over the slab is not told."""
    bead = ["G0 X240 Y120 Z14 F3000", "G1 Y160 E400"] if far else ["G0 X150 Y120 Z14 F3000", "G1 Y150 E400"]
    finding = found(tmp_path, [*WALL, *bead], "slab: {diameter_mm: 110}")
    if not far:
        assert finding is None
        return
    assert finding is not None
    # its further end is 100 and 40 mm from the slab's middle
    assert f"up to {math.hypot(100, 40) + HALF_MM - 55:.1f} mm over" in finding.text
    assert "17.1 mm over the bed" in finding.text
    assert "at least" not in finding.text
    assert (finding.line, finding.count) == (3 + len(WALL) + 1, 1)


def test_a_disc_of_arcs(tmp_path: Path) -> None:
    """An arc is looked at on its way: from the wall's side over x 200 and back it bulges 6 mm too far."""
    arc = ["G0 X200 Y110 Z2 F3000", "G3 X200 Y130 I0 J10 E100 F1500"]
    finding = found(tmp_path, [*arc, *WALL], "slab: {x_size_mm: 134, y_size_mm: 134}")
    assert finding is not None
    # the rim is at x 207, the arc's outermost place at 210, half a bead beside it
    assert "up to 6.0 mm over" in finding.text
    assert found(tmp_path, [*arc, *WALL], "slab: {x_size_mm: 147, y_size_mm: 147}") is None


def test_cups_that_climb_side_by_side(tmp_path: Path) -> None:
    """The foot is that of both: a slab for one of them is refused, with the size that would do."""
    source, recipe = written(tmp_path, TWO, "slab: {diameter_mm: 100}")
    (refused,) = [f for f in check_file(source, recipe.config, recipe.steps) if f.name == "plan"]
    # 50 mm from the middle to that of each, 30 of radius, half a bead, 10 of margin; twice
    assert "186" in refused.text
    assert found(tmp_path, TWO, "slab: {diameter_mm: 186.1}") is None


def test_a_wall_that_leans_out_over_the_slab(tmp_path: Path) -> None:
    """What is laid on the wall falls nowhere, level or climbing; nor does the foot at the slab's very edge."""
    bowl = [line for layer in range(12) for line in ring(140, 40 + 3 * layer, 2 + 2 * layer)]
    climbing = [line for turn in range(12) for line in ring(140, 40 + 3 * turn, 2 + 2 * turn, rise_mm=2)]
    for lines in (bowl, [*ring(140, 40, 2), *climbing]):
        assert found(tmp_path, lines, "slab: {diameter_mm: 86, margin_mm: 0}") is None


def test_without_a_slab(check: Check, pot: Pot) -> None:
    """On the bed a prime line lies well; so it does beside something that the piece doesn't stand on."""
    assert "off-slab" not in check(pot(start=["G28", "G90", "M83", *PRIME]))
    aside = Ground((200, 260), (200, 260), 3.0, "a cup of slip")
    assert "off-slab" not in check(pot(start=["G28", "G90", "M83", *PRIME]), steps=[wanting(aside)])


def test_what_a_step_moves_or_silences(check: Check, pot: Pot) -> None:
    """A piece that is moved takes its prime line along; what is silenced isn't laid; two slabs may hold both."""
    text = pot(start=["G28", "G90", "M83", *PRIME])
    under = Ground((90, 150), (90, 150), 3.0, "a board")
    told = check(text, steps=[wanting(under)])["off-slab"]
    assert told.text.startswith("clay is laid beyond a board, up to 73.0 mm")  # 70, and half a bead
    assert "off-slab" not in check(text, steps=[wanting(under, Silence(np.array([4])))])
    along = Shift(3, 5, (80.0, 80.0, 0.0))
    assert "off-slab" not in check(text, steps=[wanting(under, along)])
    assert "off-slab" not in check(text, steps=[wanting(under, Ground((10, 70), (10, 30), 3.0, "a tile"))])


def test_the_run_says_it_too_and_a_rehearsal_does_not(tmp_path: Path) -> None:
    """It warns and stops nothing; where no clay is laid there is nothing to say."""
    source, recipe = written(tmp_path, [*PRIME, *WALL], "slab: {diameter_mm: 110}")
    summary = run_file(source, tmp_path / "out.gcode", recipe.config, recipe.steps)
    assert [text for text in summary.warnings if text.startswith("off-slab, line 5: ")]
    said = check_file(source, recipe.config, recipe.steps, rehearse_mm=10)
    assert not [f for f in said if f.name == "off-slab"]


def wanting(*wishes: Intention) -> Step[Any]:
    """A step with just these wishes."""

    class Want(Step[Settings]):
        name = "want"
        Settings = Settings

        def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
            return wishes

    return Want(Settings())
