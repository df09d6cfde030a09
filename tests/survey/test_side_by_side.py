"""Cups that climb side by side, a turn of each in turn: a layer is what all of them have on one level."""

from __future__ import annotations

import math
from itertools import chain
from typing import Any

import pytest

from gpost.survey import pieces
from gpost.survey.model import Survey
from gpost.survey.parts import boxes_apart_mm
from gpost.testing import survey_of

RISE_MM, TURNS = 2.0, 8
ROW = [(100.0, 140.0), (180.0, 140.0), (100.0, 220.0), (180.0, 220.0)]


def turn(at: tuple[float, float], radius_mm: float, low_mm: float, wave_mm: float = 0.0) -> list[str]:
    """The way to a cup's turn, from above, and the turn, which begins at its height and ends a rise higher."""
    x, y = at
    lines = [f"G0 Z{low_mm + 8:.3f}", f"G0 X{x + radius_mm:.3f} Y{y:.3f}", f"G0 Z{low_mm:.3f}"]
    for step in range(1, 49):
        angle = 2 * math.pi * step / 48
        z = low_mm + RISE_MM * step / 48 + wave_mm * math.sin(3 * angle)
        e = 2 * math.pi * radius_mm / 48 * 0.5
        lines.append(
            f"G1 X{x + radius_mm * math.cos(angle):.3f} Y{y + radius_mm * math.sin(angle):.3f} Z{z:.3f} E{e:.4f}"
        )
    return lines


def cups(radii: list[float], *, back: bool = False, wave_mm: float = 0.0, turns: int = TURNS) -> Survey:
    """Cups of these radii, a turn of each in turn; `back`: every other time the other way about."""
    lines = ["G21", "G90", "M83", "G28", "G0 Z8 F1500"]
    for number in range(turns):
        order = list(zip(ROW, radii, strict=False))
        for at, radius in reversed(order) if back and number % 2 else order:
            lines += turn(at, radius, RISE_MM * (number + 1), wave_mm)
    return survey_of(lines)


@pytest.mark.parametrize("radii", [[25.0, 25.0], [30.0, 18.0], [18.0, 30.0], [25.0, 20.0, 25.0], [25.0] * 4])
@pytest.mark.parametrize("wave_mm", [0.0, 0.5])
@pytest.mark.parametrize("back", [False, True])
def test_turns_of_cups_side_by_side_are_one_layer(radii: list[float], wave_mm: float, back: bool) -> None:
    """As many layers as each cup has turns: a base of two layers is two turns of each, and both are the foot."""
    survey = cups(radii, wave_mm=wave_mm, back=back)
    layers = survey.layers
    assert len(layers) == TURNS
    assert not layers["odd"].any()
    assert survey.pieces == 1
    path_mm = sum(2 * math.pi * radius for radius in radii)
    assert layers["path_mm"] == pytest.approx([path_mm] * TURNS, rel=0.01)
    row = ROW[: len(radii)]
    assert layers[0]["x_min_mm"] == pytest.approx(min(x - r for (x, _), r in zip(row, radii, strict=True)))
    assert layers[0]["x_max_mm"] == pytest.approx(max(x + r for (x, _), r in zip(row, radii, strict=True)))
    assert list(layers["height_mm"]) == pytest.approx([RISE_MM * (n + 2) for n in range(TURNS)], abs=wave_mm)


def test_small_cups_far_apart_are_whole_turns() -> None:
    """Their paths don't go round the box that holds both, but each goes round its own."""
    lines = ["G21", "G90", "M83", "G28", "G0 Z8 F1500"]
    for number in range(TURNS):
        for x in (50.0, 250.0):
            lines += turn((x, 100.0), 12.0, RISE_MM * (number + 1))
    layers = survey_of(lines, {"machine": {"bed": {"x_max_mm": 300}}}).layers
    assert len(layers) == TURNS
    assert not layers["odd"].any()


@pytest.mark.parametrize("turns", [2, 3, 8])
def test_cups_one_after_the_other_are_pieces(turns: int) -> None:
    """The nozzle goes down further than a turn, to where all begins: that is a piece of its own."""
    lines = ["G21", "G90", "M83", "G28", "G0 Z8 F1500"]
    lines += chain.from_iterable(
        turn(at, 25.0, RISE_MM * (number + 1)) for at in ROW[:2] for number in range(turns)
    )
    survey = survey_of(lines)
    assert (len(survey.layers), survey.pieces) == (2 * turns, 2)


def level_ring(at: tuple[float, float], radius_mm: float, z_mm: float) -> list[str]:
    """The way to a ring, from above all, and the ring."""
    x, y = at
    lines = ["G0 Z60", f"G0 X{x + radius_mm:.3f} Y{y:.3f}", f"G0 Z{z_mm:.3f}"]
    for step in range(1, 49):
        angle = 2 * math.pi * step / 48
        place = f"X{x + radius_mm * math.cos(angle):.3f} Y{y + radius_mm * math.sin(angle):.3f}"
        lines.append(f"G1 {place} E{2 * math.pi * radius_mm / 48 * 0.5:.4f}")
    return lines


def floors(cups: int, count: int) -> list[str]:
    """So many levels of floors, each of all cups."""
    discs = (
        (at, radius, 2.0 * level)
        for level in range(1, count + 1)
        for at in ROW[:cups]
        for radius in (25, 19, 13)
    )
    return list(chain.from_iterable(level_ring(*disc) for disc in discs))


@pytest.mark.parametrize("climbs", [False, True], ids=["rings", "turns"])
@pytest.mark.parametrize("levels", [1, 2, 3])
@pytest.mark.parametrize("height", [2, 13])
@pytest.mark.parametrize("cups", [2, 3])
def test_cups_whose_walls_are_laid_whole_are_pieces_though_their_floors_are_laid_by_levels(
    cups: int, height: int, levels: int, climbs: bool
) -> None:
    """Each wall begins where the one before it began: no height of it is one place of the file."""
    lines = ["G21", "G90", "M83", "G28", *floors(cups, levels)]
    for at in ROW[:cups]:
        lines += level_ring(at, 25.0, 2.0 * levels + 2)
        for number in range(1, height):
            low_mm = 2.0 * (levels + number)
            lines += turn(at, 25.0, low_mm) if climbs else level_ring(at, 25.0, low_mm + 2)
    assert survey_of(lines).pieces == cups


@pytest.mark.parametrize("levels", [1, 2])
def test_cups_laid_level_by_level_are_one_piece(levels: int) -> None:
    """Their walls by turns, as their floors."""
    lines = ["G21", "G90", "M83", "G28", *floors(3, levels)]
    for number in range(levels + 1, 10):
        for at in ROW[:3]:
            lines += level_ring(at, 25.0, 2.0 * number)
    survey = survey_of(lines)
    assert (survey.pieces, len(survey.layers)) == (1, 9)


@pytest.mark.parametrize("group", [2, 3])
def test_cups_laid_by_turns_in_groups_of_layers_are_two_pieces(group: int) -> None:
    """However many groups there are: so many walls stand there."""
    lines = ["G21", "G90", "M83", "G28"]
    for first in range(0, 4 * group, group):
        for at in ROW[:2]:
            for number in range(first, first + group):
                lines += level_ring(at, 25.0, 2.0 * number + 2)
    assert survey_of(lines).pieces == 2


@pytest.mark.parametrize("inner_mm", [1.0, -1.0], ids=["inner-higher", "inner-lower"])
@pytest.mark.parametrize("cups", [1, 2])
def test_of_a_wall_of_two_beads_that_break_joint_the_clay_is_as_the_layers_say(
    cups: int, inner_mm: float
) -> None:
    """Each bead is 5 mm wide and 2 mm high, and E gives that: layers of half of it would be told as odd metering."""
    lines = ["G21", "G90", "M83", "G28", "G1 F1500"]
    for number in range(1, 12):
        for at in ROW[:cups]:
            lines += level_ring(at, 35.0, 2.0 * number)
            lines += level_ring(at, 30.0, 2.0 * number + inner_mm)
    config = {"clay": {"bead_width_mm": 5, "metering": {"unit": "ml", "ml_per_unit": 0.02}}}
    survey = survey_of(lines, config)
    assert (len(survey.layers), survey.pieces, survey.warnings) == (11, 1, ())


def test_many_cups_are_not_each_held_against_all_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice as many cups laid whole ask at most twice as often what lies beside what, or files of tiles take long."""
    asked = 0

    def counted(*boxes: Any) -> Any:
        nonlocal asked
        asked += 1
        return boxes_apart_mm(*boxes)

    monkeypatch.setattr(pieces, "boxes_apart_mm", counted)
    often = []
    for cups in (20, 40):
        lines, asked = ["G21", "G90", "M83", "G28", "G0 Z8 F1500"], 0
        for number in range(cups):
            for layer in range(2):
                lines += turn((100.0 + 60 * (number % 8), 100.0 + 60 * (number // 8)), 20.0, 2.0 * layer + 2)
        assert survey_of(lines).pieces == cups
        often.append(asked)
    assert often[1] <= 2 * often[0]
