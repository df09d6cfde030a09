"""The layer table: sums, bounds and first lines of each layer, however the moves come."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.survey.path import LEVEL, TURN
from gpost.survey.rows import SUMS, Amount, Rows
from gpost.survey.table import LayerSums

LAY, FLY = True, False


def rows_of(laying: list[bool], *, first_line: int = 10) -> Rows:
    """One move a line, each 1 mm on along X, with other sums for each."""
    count = len(laying)
    number = np.arange(count, dtype=np.float64)
    start, end = np.zeros((3, count)), np.zeros((3, count))
    start[0], end[0] = number, number + 1
    start[2] = end[2] = number // 4
    return Rows(
        line=first_line + np.arange(count),
        laying=np.array(laying, np.bool_),
        start=start,
        end=end,
        amounts=np.array(
            [number + 1, np.where(laying, 0.5, -0.25), number / 10, number / 5, np.full(count, 0.125)]
        ),
    )


def finished(table: LayerSums) -> tuple[NDArray[np.void], NDArray[np.float64]]:
    """The layers, and the sums of all; with beads so wide that nothing can lie beside the piece."""
    return table.finish(np.inf, lambda _first, _end: np.zeros((2, 0)))


def table_of(
    rows: Rows, starts: list[bool], *, kind: int = LEVEL, cuts: tuple[int, ...] = ()
) -> tuple[NDArray[np.void], dict[str, float], dict[str, float]]:
    """(layers, sums of the lead-in, sums of all) from rows given in parts; cuts stand after laying moves."""
    table = LayerSums()
    done = 0
    for first, last in zip((0, *cuts), (*cuts, len(rows)), strict=True):
        part = rows.cut(first, last)
        count = int(part.laying.sum())
        flags = np.array(starts[done : done + count], np.bool_)
        table.add(part, flags, np.full(count, kind, np.uint8))
        done += count
    layers, total = finished(table)
    lead = dict(zip(SUMS, table.lead_in.tolist(), strict=True))
    return layers, lead, dict(zip(SUMS, total.tolist(), strict=True))


EXAMPLE = [FLY, FLY, LAY, LAY, FLY, LAY, LAY, LAY, FLY, FLY]
STARTS = [True, False, True, False, False]


def test_a_layer_begins_after_the_last_clay_of_the_one_before() -> None:
    """The travel to a layer's first clay is the layer's own; that to the first layer is lead-in."""
    layers, lead, _ = table_of(rows_of(EXAMPLE), STARTS)
    assert layers["first_line"].tolist() == [12, 14]
    assert layers["start_x_mm"].tolist() == [2, 5]
    assert lead["travel_mm"] == 1 + 2
    assert lead["clay_ml"] == -0.5


def test_sums_of_layers() -> None:
    """Clay, path and times: all moves count for the one, laying moves alone for the other."""
    layers, _, total = table_of(rows_of(EXAMPLE), STARTS)
    assert layers["clay_ml"].tolist() == [1.0, 1.5 - 0.75]
    assert layers["laid_ml"].tolist() == [1.0, 1.5]
    assert layers["path_mm"].tolist() == [3 + 4, 6 + 7 + 8]
    assert layers["time_s"] == pytest.approx([(2 + 3) / 5 + 2 / 8, (4 + 5 + 6 + 7 + 8 + 9) / 5 + 6 / 8])
    assert layers["laying_s"] == pytest.approx([(2 + 3) / 5, (5 + 6 + 7) / 5])
    assert layers["cruise_s"] == pytest.approx([(2 + 3) / 10, (5 + 6 + 7) / 10])
    assert layers["feed_mm_min"] == pytest.approx([7 / 0.5 * 60, 21 / 1.8 * 60])
    assert total["travel_mm"] == 1 + 2 + 5 + 9 + 10
    assert total["path_mm"] == 7 + 21


def test_bounds_are_those_of_laid_clay() -> None:
    """Start and end of every laying move count, travel doesn't."""
    layers, _, _ = table_of(rows_of(EXAMPLE), STARTS)
    assert layers["x_min_mm"].tolist() == [2, 5]
    assert layers["x_max_mm"].tolist() == [4, 8]
    assert layers["low_mm"].tolist() == [0, 1]
    assert layers["height_mm"].tolist() == [0, 1]


def test_a_scrap_of_a_turn_is_joined_to_the_turn_before() -> None:
    """The last part of a turn, if less than half as long, is no layer; none of its sums is lost."""
    rows = rows_of([LAY] * 12)
    rows.start[2, 11:] += 1
    rows.end[2, 11:] += 1
    starts = [i in (0, 8, 11) for i in range(12)]
    whole = table_of(rows, starts)[0]
    assert len(whole) == 3
    turns, _, total = table_of(rows, starts, kind=TURN)
    assert turns["first_line"].tolist() == [10, 18]
    assert turns["path_mm"].tolist() == [36, 9 + 10 + 11 + 12]
    assert turns["clay_ml"].sum() == pytest.approx(total["clay_ml"])
    assert turns["x_max_mm"][-1] == 12


@pytest.mark.parametrize(("sides", "layers"), [(36, 2), (20, 1)])
def test_a_turn_on_a_level_layer(sides: int, layers: int) -> None:
    """A single turn on a base of much more path is a layer; a part of one is not."""
    angle = 2 * np.pi * np.arange(sides + 1) / 36
    rows = rows_of([LAY] * (60 + sides))
    rows.start[0, 60:], rows.end[0, 60:] = 40 * np.cos(angle[:-1]), 40 * np.cos(angle[1:])
    rows.start[1, 60:], rows.end[1, 60:] = 40 * np.sin(angle[:-1]), 40 * np.sin(angle[1:])
    rows.amounts[Amount.LENGTH_MM, 60:] = 7.0
    rows.amounts[Amount.LENGTH_MM, :60] = 100.0
    table = LayerSums()
    starts = np.zeros(len(rows), np.bool_)
    starts[[0, 60]] = True
    table.add(rows, starts, np.repeat(np.array([LEVEL, TURN], np.uint8), [60, sides]))
    assert len(finished(table)[0]) == layers


def test_nothing_laid() -> None:
    """Without clay there are no layers, and all is lead-in."""
    layers, lead, total = table_of(rows_of([FLY, FLY]), [])
    assert len(layers) == 0
    assert lead == total


@given(st.data())
def test_parts_make_no_difference(data: st.DataObject) -> None:
    """Cut after any laying moves, the rows give the same table."""
    laying = data.draw(st.lists(st.booleans(), min_size=1, max_size=40))
    rows = rows_of(laying)
    places = [i + 1 for i, lays in enumerate(laying) if lays]
    starts = [True, *data.draw(st.lists(st.booleans(), min_size=len(places), max_size=len(places)))][
        : len(places)
    ]
    cuts = data.draw(st.lists(st.sampled_from(places), max_size=5)) if places else []
    kind = data.draw(st.sampled_from([LEVEL, TURN]))
    whole, whole_lead, whole_total = table_of(rows, starts, kind=kind)
    parts, lead, total = table_of(rows, starts, kind=kind, cuts=tuple(sorted(cuts)))
    for name in whole.dtype.names or ():
        assert parts[name] == pytest.approx(whole[name], rel=1e-12, abs=1e-12), name
    assert lead == pytest.approx(whole_lead, abs=1e-12)
    assert total == pytest.approx(whole_total, abs=1e-12)


def test_rows_cut_and_joined() -> None:
    """Cutting shares the arrays, joining gives them back."""
    rows = rows_of(EXAMPLE)
    joined = Rows.join([rows.cut(None, 3), rows.cut(3, None)])
    for column in fields(Rows):
        assert np.array_equal(getattr(joined, column.name), getattr(rows, column.name))
    assert len(joined) == len(rows) == 10
