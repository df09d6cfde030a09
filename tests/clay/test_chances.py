"""Margins by formula against a Monte Carlo of the same inequality, and against worked cases."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.clay.chances import (
    Load,
    Spreads,
    any_dry_chance,
    dry_chance,
    front_sd_ml,
    reach_sds,
    sure_load_ml,
    sure_ml,
)

USUAL = Spreads(metered=0.03, density=0.01, line_ml=6.0, reserve_ml=6.0)
NOTHING = Spreads()

needs = st.floats(5, 900)
reserves = st.floats(0, 50)
chances = st.floats(0.001, 0.5)
spreads = st.builds(
    Spreads,
    metered=st.one_of(st.none(), st.just(0.0), st.floats(1e-5, 0.1)),
    density=st.one_of(st.none(), st.just(0.0), st.floats(1e-5, 0.05)),
    reserve_ml=st.one_of(st.none(), st.just(0.0), st.floats(1e-3, 20)),
)


def test_a_loading_by_hand() -> None:
    """114 ml and 20 of reserve: 0.03 x 114 = 3.42, 6, and 1 % of the load: 1.6449 standard deviations more.

    The quantile is the standard normal's at 95 %, 1.6449 (any table); the load is the fixed point by hand.
    """
    load_ml = sure_load_ml(114, 20, USUAL)
    assert load_ml == pytest.approx(134 + 1.6448536 * math.hypot(3.42, 6, 0.01 * load_ml), abs=1e-6)
    assert load_ml == pytest.approx(145.61, abs=0.01)


@given(needs, reserves, chances, spreads)
def test_a_sure_load_is_sure(need_ml: float, reserve_ml: float, chance: float, how: Spreads) -> None:
    """What is to be loaded so that it runs dry with that chance does run dry with that chance."""
    load_ml = sure_load_ml(need_ml, reserve_ml, how, chance)
    found = dry_chance(Load(need_ml, load_ml, reserve_ml, weighed=True), how)
    if max(how.metered or 0, how.density or 0, how.reserve_ml or 0) > 1e-5:
        assert found == pytest.approx(chance, rel=1e-4)
    else:
        assert load_ml == pytest.approx(need_ml + reserve_ml, abs=0.1)


@given(st.floats(60, 1000), reserves, chances, spreads, st.booleans())
def test_what_is_sure_to_come_is(
    held_ml: float, reserve_ml: float, chance: float, how: Spreads, weighed: bool
) -> None:
    """Up to so much metered, the chance of having run dry is not more than was taken."""
    load = Load(0.0, held_ml, reserve_ml, weighed)
    sure = sure_ml(load, how, chance)
    assert sure <= held_ml - reserve_ml
    if sure > 0:
        assert dry_chance(load._replace(need_ml=sure), how) <= chance * (1 + 1e-6)


def test_against_draws() -> None:
    """A million prints drawn: each cartridge's chance, and that of any, by three standard errors."""
    rng, prints = np.random.default_rng(7), 1_000_000
    loads = [Load(114, 134, 20, True), Load(140, 170, 20, False), Load(146, 170, 20, False)]
    e, d = rng.normal(0, 0.03, prints), rng.normal(0, 0.01, prints)
    some = np.zeros(prints, np.bool_)
    for load in loads:
        left = load.held_ml * (1 - d * load.weighed) - rng.normal(load.reserve_ml, 6, prints)
        runs_dry = load.need_ml * (1 + e) > left
        some |= runs_dry
        assert runs_dry.mean() == pytest.approx(dry_chance(load, USUAL), abs=3 * 0.5 / math.sqrt(prints))
    assert some.mean() == pytest.approx(any_dry_chance(loads, USUAL), abs=3 * 0.5 / math.sqrt(prints))


def test_shared_errors_are_shared() -> None:
    """Two like cartridges with nothing but E's error run dry in the same prints, not in twice as many."""
    load, only_e = Load(100, 105, 0, False), Spreads(metered=0.03)
    one = dry_chance(load, only_e)
    assert any_dry_chance([load, load], only_e) == pytest.approx(one, abs=1 / 400)
    apart = Spreads(reserve_ml=3.0)
    one = dry_chance(load, apart)
    assert any_dry_chance([load, load], apart) == pytest.approx(1 - (1 - one) ** 2, rel=1e-9)


def test_without_spreads_nothing_is_added() -> None:
    """A limit is a limit: just enough is enough, and a hair less is not."""
    assert sure_ml(Load(0, 170, 20, False), NOTHING) == 150
    assert sure_load_ml(114, 20, NOTHING) == 134
    assert dry_chance(Load(150, 170, 20, False), NOTHING) == 0
    assert dry_chance(Load(150.001, 170, 20, False), NOTHING) == 1
    assert front_sd_ml(30, 60, 60, NOTHING) == 0


def test_hopeless_spreads_have_an_answer() -> None:
    """Where E may be anything nothing is sure, and no load is enough."""
    wild = Spreads(metered=0.5, density=0.5)
    assert sure_ml(Load(0, 100, 20, True), wild, 0.001) == 0
    assert sure_load_ml(100, 20, wild, 0.001) == math.inf


@pytest.mark.parametrize(
    ("behind_ml", "pushed_ml", "spread_ml"),
    [(0, 60, math.hypot(6, 1.8)), (100, 60, math.hypot(6, 4.8, 1.0)), (0, 30, math.hypot(3, 0.9)), (0, 0, 0)],
)
def test_fronts_by_hand(behind_ml: float, pushed_ml: float, spread_ml: float) -> None:
    """Hose 10 % of what is pushed, E 3 % of all that leaves before, density 1 % of the slugs before it."""
    assert front_sd_ml(behind_ml, pushed_ml, 60, USUAL) == pytest.approx(spread_ml)


def test_a_front_against_draws() -> None:
    """The first-order spread of (V + L) / (1 + e) is the drawn one's to a hundredth."""
    rng, prints = np.random.default_rng(8), 400_000
    clay = 100 * (1 + rng.normal(0, 0.01, prints)) + rng.normal(60, 6, prints)
    drawn = clay / (1 + rng.normal(0, 0.03, prints))
    assert front_sd_ml(100, 60, 60, USUAL) == pytest.approx(float(drawn.std()), rel=0.01)
    low, high = 160 - reach_sds() * drawn.std(), 160 + reach_sds() * drawn.std()
    assert ((drawn >= low) & (drawn <= high)).mean() == pytest.approx(0.95, abs=0.005)
