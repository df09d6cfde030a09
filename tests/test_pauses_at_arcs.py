"""Where a pause is said to be, there it is: an arc is not split, so a pause due inside one comes before it."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.errors import PlanError
from gpost.pipeline import run_file
from gpost.report.model import Summary
from gpost.steps.recipe import make_recipe
from tests.config_files import load_files

ARC = "G3 X120 Y100 Z{z} I-20 J0 E1000"
START = "G21\nG90\nG28\nM83\nG1 Z5 F3000\nG0 X120 Y100\nG1 Z2 F1200\n"
POT = START + "".join(ARC.format(z=z) + "\n" for z in (2, 4, 6, 8, 10, 12, 14))
"""A level ring and a helix of six turns, each one arc of 1 ml, on lines 8 to 14."""
QUARTERS = START + "".join(
    f"G3 X{x} Y{y} Z{2 + turn * 2 + quarter / 2} I{i} J{j} E250\n"
    for turn in range(3)
    for quarter, (x, y, i, j) in enumerate(
        [(100, 120, -20, 0), (80, 100, 0, -20), (100, 80, 20, 0), (120, 100, 0, 20)], 1
    )
)
"""A helix of three turns, each four arcs of 0.25 ml."""
HEAD = """
machine: {bed: {x_max_mm: 280, y_max_mm: 280}, park: {x_mm: 12, y_mm: 12}, pause: {relieve_ml: 0}}
clay: {metering: {unit: mm3}}
"""


def run(folder: Path, recipe: str, pot: str = POT) -> tuple[Summary, list[str]]:
    """The summary and the written lines."""
    source, output = folder / "pot.gcode", folder / "out.gcode"
    source.write_text(pot)
    made = make_recipe(load_files({"pot.yaml": HEAD + recipe}))
    summary = run_file(source, output, made.config, made.steps)
    return summary, output.read_text().splitlines()


def next_move(lines: list[str], output_line: int) -> str:
    """The source's first arc after a pause."""
    return next(line for line in lines[output_line:] if line.startswith("G3"))


def test_an_exact_swap_inside_an_arc(tmp_path: Path) -> None:
    """2.5 ml come before it, in the middle of the third arc: the pause is before that, after 2 ml."""
    summary, lines = run(
        tmp_path,
        "cartridge: {line_ml: 0.5}\nsteps: [{swap: {at_layer: 4, colour: blue, prime_ml: 0, where: exact}}]\n",
    )
    [pause] = summary.pauses
    assert (pause.layer, pause.height_mm, pause.clay_ml) == (3, pytest.approx(4), pytest.approx(2))
    assert pause.shows_at_height_mm == pytest.approx(5)
    assert next_move(lines, pause.output_line) == ARC.format(z=6)
    [note] = [text for text in summary.notes if text.startswith("swap: blue")]
    assert "0.5 ml earlier than asked" in note


def test_no_refill_is_blamed_for_an_arc(tmp_path: Path) -> None:
    """None is needed, and none would bring the colour nearer."""
    recipe = "cartridge: {line_ml: 0.5}\nsteps: [{swap: {at_layer: 4, colour: blue, prime_ml: 0, where: exact}}, refill]\n"
    summary, _ = run(tmp_path, recipe)
    assert [text for text in (*summary.warnings, *summary.notes) if "can't be brought" in text] == []
    assert any("0.5 ml earlier than asked" in text for text in summary.notes)


@pytest.mark.parametrize(("line_ml", "layer", "height_mm"), [(1.98, 4, 6.0), (1.9, 3, 5.8)])
def test_a_colour_that_is_in_time_is_said_to_be_there(
    tmp_path: Path, line_ml: float, layer: int, height_mm: float
) -> None:
    """The pause comes before the second arc, at 1 ml: 0.02 ml before layer 4 is in time, 0.1 ml before is layer 3."""
    summary, _ = run(
        tmp_path,
        f"cartridge: {{line_ml: {line_ml}}}\nsteps: [{{swap: {{at_layer: 4, colour: blue, prime_ml: 0, where: exact}}}}]\n",
    )
    [pause] = summary.pauses
    assert pause.shows_at_height_mm == pytest.approx(height_mm)
    [note] = [text for text in summary.notes if text.startswith("swap: blue")]
    assert f"expected at layer {layer} ({height_mm:.1f} mm), {'as asked' if layer == 4 else '0.1 ml earlier'}" in note


def test_a_cartridge_that_runs_out_inside_an_arc(tmp_path: Path) -> None:
    """Of 2.5 ml two arcs are laid each time, and each cartridge is reckoned from where it is loaded."""
    summary, lines = run(
        tmp_path,
        "cartridge: {volume_ml: 2.5, reserve_ml: 0, line_ml: 0}\n"
        "steps: [{refill: {prime_ml: 0, within_layer: true, share: full}}]\n",
    )
    assert [pause.clay_ml for pause in summary.pauses] == pytest.approx([2, 4, 6])
    moves = [next_move(lines, pause.output_line) for pause in summary.pauses]
    assert moves == [ARC.format(z=z) for z in (6, 10, 14)]


def test_a_refill_within_a_layer(tmp_path: Path) -> None:
    """0.6 ml end in the third quarter of turn 1: refilled before it, and then at the turns' starts and halves."""
    summary, lines = run(
        tmp_path,
        "cartridge: {volume_ml: 0.6, reserve_ml: 0, line_ml: 0}\n"
        "steps: [{refill: {prime_ml: 0, within_layer: true}}]\n",
        QUARTERS,
    )
    assert [pause.clay_ml for pause in summary.pauses] == pytest.approx([0.5, 1, 1.5, 2, 2.5])
    assert [pause.layer for pause in summary.pauses] == [1, 2, 2, 3, 3]
    heights_mm = [float(next_move(lines, pause.output_line).split()[3][1:]) for pause in summary.pauses]
    assert heights_mm == [3.5, 4.5, 5.5, 6.5, 7.5]


def test_an_arc_longer_than_a_cartridge(tmp_path: Path) -> None:
    """It is refused, with the line and what to do; a pause inside the layer would not help."""
    with pytest.raises(PlanError, match=r"runs out on line 8, .* can't be split .* without arcs"):
        run(
            tmp_path,
            "cartridge: {volume_ml: 0.75, reserve_ml: 0, line_ml: 0}\n"
            "steps: [{refill: {prime_ml: 0, within_layer: true}}]\n",
        )
