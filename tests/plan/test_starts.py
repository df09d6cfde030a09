"""What starts lose, against a sum in small steps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.plan.starts import Starts, starts
from gpost.supply.cartridges import front_spot
from gpost.testing import layer_start, make_survey

STEP_ML = 0.01
POT = make_survey(layers=20, ml_per_layer=10, lines_per_layer=100)


def planned(loss_ml: float, *layers: int, line_ml: float = 40.0) -> Plan:
    """Pauses at those layers' starts, each with 3 ml of prime; the first brings blue."""
    config = Config.model_validate({"cartridge": {"line_ml": line_ml, "start_loss_ml": loss_ml}})
    pauses = [
        Pause(layer_start(POT, layer), "swap" if not number else "look", "", "", prime_ml=3.0)
        if number
        else Pause(layer_start(POT, layer), "swap", "", "", prime_ml=3.0, new_cartridge=True, colour="blue")
        for number, layer in enumerate(layers)
    ]
    return Plan(POT, config).adding("test", pauses)


def by_steps(begin_ml: list[float], loss_ml: float, end_ml: float) -> float:
    """What comes: step by step, nothing while the latest start hasn't had its loss yet."""
    come = 0.0
    for at in np.arange(0, end_ml, STEP_ML):
        since = [at - begin for begin in begin_ml if begin <= at + 1e-9]
        come += 0.0 if since and min(since) < loss_ml - 1e-9 else STEP_ML
    return come


@given(
    st.lists(st.integers(0, 600), min_size=1, max_size=4, unique=True),
    st.integers(1, 120),
    st.integers(0, 800),
)
def test_what_comes_is_what_is_left_of_each_start(begins: list[int], loss: int, end: int) -> None:
    """Also where a second start comes before the first has had all of its loss."""
    begin_ml = [begin / 100 for begin in sorted(begins)]
    lost = np.minimum(np.append(np.diff(begin_ml), np.inf), loss / 100)
    found = Starts(np.array(begin_ml), lost)
    assert float(found.come_ml(end / 100)) == pytest.approx(
        by_steps(begin_ml, loss / 100, end / 100), abs=2.5 * STEP_ML
    )


@given(st.floats(0, 190), st.floats(0, 60))
def test_there_and_back(at_ml: float, pushed_ml: float) -> None:
    """What comes after so much is metered has come since; before is the way back."""
    flow = starts(planned(1.5, 4, 7, 9))
    later_ml = flow.after(at_ml, pushed_ml)
    assert float(flow.come_ml(later_ml) - flow.come_ml(at_ml)) == pytest.approx(pushed_ml)
    assert float(flow.come_ml(flow.before(later_ml, pushed_ml))) == pytest.approx(float(flow.come_ml(at_ml)))


def test_a_front_is_late_by_each_start_on_its_way() -> None:
    """Blue at layer 3 through 40 ml: 20 + 40 ml; its own start and that at layer 5 lose 2 ml each."""
    plans = planned(0.0, 3), planned(2.0, 3), planned(2.0, 3, 5)
    at_ml = [plan.clay_before(front_spot(plan, plan.pauses[0])) for plan in plans]
    assert at_ml == pytest.approx([20 + 40, 20 + 40 + 2, 20 + 40 + 4], abs=0.2)
