"""What adds up and winds, with numpy and compiled: the very same, to the last bit, and what plain sums say."""

from __future__ import annotations

import math
from pathlib import Path as File
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.read.source import Source
from gpost.survey import bycolumns, path, rounds, table
from gpost.survey.build import survey_source
from gpost.survey.model import Survey
from gpost.survey.path import Laying, Path
from gpost.survey.rows import SUMS, Amount, Rows
from tests.reference.walls import Wall, walls
from tests.survey.wallcheck import config_of
from tests.twins import name_of, twins, using

Floats = NDArray[np.float64]

TWINS = twins(bycolumns, "gpost.survey.onepass")
USES = ((table, "added_up"), (path, "flags"), (rounds, "wound"))
SHARES = st.sampled_from([0.0, 0.02, 0.3, 0.9, 1.0])


@st.composite
def rows(draw: st.DrawFn) -> Rows:
    """Moves end to end or not, some of which lay clay; with boxes of their own or not, and in any layout."""
    count = draw(st.one_of(st.integers(1, 40), st.integers(100, 1200)))
    random = np.random.default_rng(draw(st.integers(0, 2**32)))
    places = random.normal(scale=50, size=(3, count + 1))
    start, end = places[:, :-1], places[:, 1:].copy()
    if draw(st.booleans()):
        start = start + (random.random((3, count)) < draw(SHARES))
    if draw(st.booleans()):
        start, end = np.asfortranarray(start), np.asfortranarray(end)
    laying = random.random(count) < draw(SHARES)
    amounts = random.exponential(size=(5, count)) * 10.0 ** random.integers(-9, 3, (5, count))
    amounts[Amount.CLAY_ML] *= random.choice([1, -1], count)
    corners = (places[:, :-1] - 1, places[:, 1:] + 1) if draw(st.booleans()) else ()
    made = Rows(np.arange(count), laying, start, end, amounts, *corners)
    return made.cut(draw(st.integers(0, count - 1)), None)


@st.composite
def parts(draw: st.DrawFn) -> tuple[Rows, NDArray[np.int64]]:
    """Moves, and where the parts among them begin."""
    made = draw(rows())
    more = draw(st.lists(st.integers(0, len(made) - 1), max_size=6))
    return made, np.unique([0, *more])


@given(parts())
def test_parts_are_added_up_alike(drawn: tuple[Rows, NDArray[np.int64]]) -> None:
    """Every sum and every side of a box is the same number either way, however the columns lie in memory."""
    known = bycolumns.added_up(*drawn)
    for one, other in zip(known, TWINS[-1].added_up(*drawn), strict=True):
        np.testing.assert_array_equal(one, other, strict=True)


@pytest.mark.parametrize("module", TWINS, ids=name_of)
@given(drawn=parts())
def test_parts_are_added_up_as_by_hand(module: ModuleType, drawn: tuple[Rows, NDArray[np.int64]]) -> None:
    """Sums are those that are rounded once (`math.fsum`), but for some last digits; boxes hold what is laid."""
    made, begins = drawn
    sums, low, high = module.added_up(made, begins)
    for part, (first, last) in enumerate(zip(begins, [*begins[1:], len(made)], strict=True)):
        few = made.cut(first, last)
        every = {amount: few.amounts[amount] for amount in Amount}
        laid = {amount: few.amounts[amount] * few.laying for amount in Amount}
        length = laid[Amount.LENGTH_MM]
        known = {
            "clay_ml": [every[Amount.CLAY_ML]],
            "laid_ml": [laid[Amount.CLAY_ML]],
            "path_mm": [length],
            "time_s": [every[Amount.TIME_S], every[Amount.WAIT_S]],
            "cruise_s": [laid[Amount.CRUISE_S]],
            "laying_s": [laid[Amount.TIME_S]],
            "travel_mm": [every[Amount.LENGTH_MM], -length],
            "height_mm2": [length * few.start[2] / 2, length * few.end[2] / 2],
        }
        for place, name in enumerate(SUMS):
            numbers = [number for column in known[name] for number in column.tolist()]
            rounding = 1e-13 * math.fsum(map(abs, numbers))
            assert abs(sums[part, place] - math.fsum(numbers)) <= rounding, name
        corners = np.concatenate([side[:, few.laying] for side in few.corners()], axis=1)
        assert low[part].tolist() == corners.min(axis=1, initial=np.inf).tolist()
        assert high[part].tolist() == corners.max(axis=1, initial=-np.inf).tolist()


STEPS_MM = st.sampled_from([0.0, 1e-7, 1e-6, 0.0009, 0.001, 0.0011, 0.2, 0.2001, 0.6, 0.61, 5.0])
"""Between one move's end and the next one's start, and in height: what tells moves apart, and just beside it."""


@given(st.lists(st.tuples(*[STEPS_MM] * 6), max_size=60), st.booleans())
def test_moves_are_told_apart_alike(steps: list[tuple[float, ...]], begins: bool) -> None:
    """Whether a move goes on, comes after a small step, slopes or lies apart: the same either way."""
    gone = np.cumsum(np.array(steps, np.float64).reshape(-1, 6).T, axis=1)
    start, end = gone[:3], gone[:3] + gone[3:]
    start[:, 1:] += gone[3:, :-1]
    before = np.zeros(3) if begins else np.full(3, np.nan)
    for one, other in zip(
        bycolumns.flags(start, end, before), TWINS[-1].flags(start, end, before), strict=True
    ):
        np.testing.assert_array_equal(one, other, strict=True)


@st.composite
def ways(draw: st.DrawFn) -> Path:
    """A path round and about, with travels in it."""
    count = draw(st.integers(1, 300))
    random = np.random.default_rng(draw(st.integers(0, 2**32)))
    angle = np.cumsum(random.normal(draw(st.sampled_from([-0.3, 0.0, 0.1, 2.0])), 0.4, count + 1))
    reach = 20 + random.normal(scale=draw(st.sampled_from([0.0, 3.0, 15.0])), size=count + 1)
    places = np.stack([reach * np.cos(angle), reach * np.sin(angle), np.arange(count + 1) * 0.01])
    places = np.round(places, draw(st.sampled_from([0, 3])))
    start = places[:, :-1] + (random.random((3, count)) < draw(SHARES))
    size = np.hypot(*(places[:, 1:] - start)[:2])
    return Path.of(Laying(start, places[:, 1:], size), np.full(3, np.nan)).cut(
        draw(st.integers(0, count - 1))
    )


LEANS = st.sampled_from([0.0, 0.25, -1.7])


@given(ways(), st.tuples(LEANS, LEANS), st.floats(-50, 50))
def test_turns_are_wound_alike(way: Path, lean: tuple[float, float], before: float) -> None:
    """Angle, the most so far, and the turn of each move: the same either way, with travels and a lean too."""
    given_ = way, np.array([0.5, -0.25]), np.array(lean), 110.0, before, abs(before)
    for one, other in zip(bycolumns.wound(*given_), TWINS[-1].wound(*given_), strict=True):
        np.testing.assert_array_equal(one, other, strict=True)


@pytest.mark.parametrize("module", TWINS, ids=name_of)
@pytest.mark.parametrize("sides", [3, 7, 40])
def test_a_ring_that_leans_is_wound_once_a_turn(module: ModuleType, sides: int) -> None:
    """By elementary geometry: n sides, each an n-th of a turn, round a centre that goes along."""
    corner = np.arange(5 * sides + 1)
    angle = 2 * np.pi * corner / sides
    points = np.stack([9 * np.cos(angle) + corner / sides, 9 * np.sin(angle), 0.0 * angle])
    size = np.full(5 * sides, 1 / sides)  # a turn is 1 long, whatever it measures: the lean goes by that
    way = Path.of(Laying(points[:, :-1], points[:, 1:], size), points[:, 0])
    wound, most, turn = module.wound(way, np.zeros(2), np.array([1.0, 0.0]), 1.0, 0.0, 0.0)
    assert wound == pytest.approx(angle[1:])
    assert most == pytest.approx(angle)
    assert turn.tolist() == [corner // sides for corner in range(5 * sides)]


def surveyed(wall: Wall, file: File, chunk_bytes: int) -> Survey:
    """The survey of a wall's file, in blocks of that size."""
    return survey_source(Source(file, chunk_bytes=chunk_bytes), config_of(wall))


@given(wall=walls(), chunk_bytes=st.sampled_from([3_000, 20_000, 900_000]))
def test_walls_are_surveyed_alike(
    tmp_path_factory: pytest.TempPathFactory, wall: Wall, chunk_bytes: int
) -> None:
    """Layers, sums and all else of a survey are the same either way, wherever its file is cut into blocks."""
    file = tmp_path_factory.getbasetemp() / "wall.gcode"
    file.write_bytes(wall.program)
    found = []
    for module in TWINS:
        for _ in using(module, *USES):
            found.append(surveyed(wall, file, chunk_bytes))
    one, other = found[0], found[-1]
    assert one.layers.tobytes() == other.layers.tobytes()
    for name in (
        "clay_ml",
        "time_s",
        "lead_in_s",
        "lead_in_ml",
        "laid_path_mm",
        "travel_path_mm",
        "pieces",
        "warnings",
    ):
        assert getattr(one, name) == getattr(other, name), name
