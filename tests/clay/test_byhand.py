"""Turned knobs and weighed cartridges against sums made step by step, and against many prints."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.clay.byhand import Taken, planned_ml, share_of_turns
from gpost.clay.chances import Spreads

AMOUNT = st.floats(0, 1000)


@given(AMOUNT, AMOUNT, st.floats(0.5, 2))
def test_so_much_has_really_come(real_ml: float, from_ml: float, factor: float) -> None:
    """What the plan has metered up to there, each ml after the turn times the factor, is that amount."""
    ml = planned_ml(real_ml, from_ml, factor)
    assert min(ml, from_ml) + max(ml - from_ml, 0) * factor == pytest.approx(real_ml, abs=1e-9)


@pytest.mark.parametrize("weighed", [True, False])
def test_what_is_usual_holds_in_95_prints_of_100(weighed: bool) -> None:
    """200,000 prints with errors drawn anew: by its weight the clay that came is within in 95 % of them.

    A cartridge that was weighed in holds 950 g whatever its clay's density, a full one 950 ml. The masses are
    worked out from the errors as they are, not to the first order. Four standard errors of the count are 0.2 %.
    """
    random = np.random.default_rng(20261128)
    e, d = 0.03 * random.standard_normal(200_000), 0.02 * random.standard_normal(200_000)
    mass_in = 950 if weighed else 950 * (1 + d)
    left_g = mass_in - 700 * (1 + e) * (1 + d)
    taken = Taken(950, 700, weighed)
    share = taken.usual_share(Spreads(metered=0.03, density=0.02))
    assert share is not None
    inside = (left_g >= taken.left_ml(1 + share)) & (left_g <= taken.left_ml(1 - share))
    assert inside.mean() == pytest.approx(0.95, abs=0.003)


def test_nothing_is_usual_where_no_spread_is_known() -> None:
    """Of what nobody has measured nobody can say how far off it may be."""
    assert Taken(950, 700, weighed=True).usual_share(Spreads(line_ml=3, reserve_ml=4)) is None


TURNS = st.lists(st.tuples(st.floats(0, 120), st.floats(0.5, 2)), max_size=5).map(sorted)


@given(TURNS, st.booleans())
def test_the_mean_factor(turns: list[tuple[float, float]], slower: bool) -> None:
    """The mean over 20,000 even places of the last turn before each, 1 before the first."""
    places = (np.arange(20_000) + 0.5) / 200  # up to 100
    factor = np.ones(len(places))
    for at, own in turns:
        factor[places >= at] = own
    expected = (1 / factor if slower else factor).mean()
    assert share_of_turns(turns, 100.0, slower=slower) == pytest.approx(expected, abs=2e-3)


def test_by_hand() -> None:
    """110 % from 25 of 100 on, 90 % from 75 on: 0.25 + 0.5 * 1.1 + 0.25 * 0.9."""
    assert math.isclose(share_of_turns([(25, 1.1), (75, 0.9)], 100), 1.025)
