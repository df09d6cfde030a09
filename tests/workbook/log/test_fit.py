"""What prints teach: means, spreads, and when they teach nothing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gpost.errors import PlanError
from gpost.workbook.log.fit import fit_prints, spread
from gpost.workbook.log.model import Found, Predicted, PrintRow


def printed(number: int, found: Found, ml_per_unit: float | None = 0.0024) -> PrintRow:
    """A print of 500 g and 40 minutes, of clay of 2 g/ml."""
    return PrintRow(number, "", Predicted("vase", 300, 500, 40, 2.0, ml_per_unit), found)


@given(st.lists(st.floats(0.5, 2), min_size=2, max_size=12))
def test_the_interval_is_students(values: list[float]) -> None:
    """Mean, deviation and the 95 % interval of the mean as SciPy gives them."""
    found = spread(values)
    assert found is not None
    deviation = float(np.std(values, ddof=1))
    assert found.prints == len(values)
    assert found.mean == pytest.approx(sum(values) / len(values))
    assert found.deviation == pytest.approx(deviation, abs=1e-12)
    reach = float(stats.t.ppf(0.975, len(values) - 1)) * deviation / math.sqrt(len(values))
    assert (found.low, found.high) == pytest.approx((found.mean - reach, found.mean + reach), abs=1e-9)


def test_by_hand() -> None:
    """0.9, 1.0, 1.1: mean 1, deviation 0.1; t for 2 degrees is 4.303 two-sided, 2.920 one-sided (tables)."""
    found = spread([0.9, 1.0, None, 1.1])
    assert found is not None
    assert found.prints == 3
    assert (found.mean, found.deviation) == pytest.approx((1, 0.1))
    assert found.high == pytest.approx(1 + 4.303 * 0.1 / math.sqrt(3), abs=1e-4)
    assert found.limit == pytest.approx(1 + 2.920 * 0.1 * math.sqrt(4 / 3), abs=1e-4)


def test_flow_is_learnt_over_changes_of_the_config() -> None:
    """Prints under an old and a new config speak for the same clay per unit of E."""
    rows = [printed(1, Found(450), 0.0024), printed(2, Found(500), 0.00216)]
    fit = fit_prints(rows)
    assert fit.mass is not None
    assert fit.ml_per_unit is not None
    assert fit.mass.mean == pytest.approx(0.95)
    assert (fit.ml_per_unit.mean, fit.ml_per_unit.deviation) == pytest.approx((0.00216, 0), abs=1e-12)


def test_each_is_learnt_from_the_prints_that_say_it() -> None:
    """A print without minutes still teaches flow; what fewer than two prints say stays unknown."""
    rows = [printed(1, Found(450, 50)), printed(2, Found(500)), printed(3, Found(left_g=90))]
    fit = fit_prints(rows)
    assert fit.mass is not None
    assert fit.mass.prints == 2
    assert (fit.time, fit.left_ml) == (None, None)


def test_fewer_than_two_prints() -> None:
    """No print, one, or two that say different things, teach nothing."""
    for rows in (
        [],
        [printed(1, Found(450, 50, 90))],
        [printed(1, Found(450)), printed(2, Found(minutes=9))],
    ):
        with pytest.raises(PlanError, match="at least 2 prints"):
            fit_prints(rows)


def test_prints_left_out() -> None:
    """A print that went wrong is left out; a number that is not there is refused."""
    rows = [printed(n, Found(500)) for n in (1, 2)] + [printed(3, Found(50))]
    fit = fit_prints(rows, [3])
    assert fit.mass is not None
    assert fit.mass.mean == 1
    with pytest.raises(PlanError, match="no print 7"):
        fit_prints(rows, [7])


def test_what_was_dropped_teaches_nothing() -> None:
    """As if it had never been added; its number may still be named with --without."""
    rows = [printed(n, Found(500)) for n in (1, 2)]
    dropped = PrintRow(3, "", rows[0].predicted, Found(50), "2026-03-01T10:00:00+00:00")
    assert fit_prints([*rows, dropped]) == fit_prints(rows)
    assert fit_prints([*rows, dropped], [3]) == fit_prints(rows)


@pytest.mark.parametrize(("values", "firm"), [([0.9, 1.0, 1.1], True), ([0.001, 1.0, 2.2], False)])
def test_an_interval_that_reaches_nothing_teaches_nothing(values: list[float], firm: bool) -> None:
    """Clay and time are above 0; an interval that is not is of prints that differ too much."""
    found = spread(values)
    assert found is not None
    assert found.firm is firm
    assert (found.low > 0) is firm


def test_a_reserve_of_more_than_half_the_cartridge_is_none() -> None:
    """10, 400 and 900 g left over ask for 970 ml: of 900 ml the config refuses it, of 1000 it is absurd."""
    fit = fit_prints([printed(n, Found(left_g=left)) for n, left in enumerate((10, 400, 900), 1)])
    assert fit.left_ml is not None
    assert fit.left_ml.limit == pytest.approx(970.4, abs=0.1)
    assert [fit.reserve_ml(volume) for volume in (900, 1000, 1900)] == [None] * 3
    assert fit.reserve_ml(2000) == fit.left_ml.limit
    near = fit_prints([printed(n, Found(left_g=left)) for n, left in enumerate((90, 100, 110), 1)])
    assert near.reserve_ml(1000) == pytest.approx(50 + 2.920 * 5 * math.sqrt(4 / 3), abs=1e-3)
