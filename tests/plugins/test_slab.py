"""The step that raises the piece onto a slab."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from gpost_plugins.place import Place, PlaceSettings
from gpost_plugins.purge import Purge
from gpost_plugins.slab import Slab, SlabSettings, gpost_steps
from pydantic import ValidationError

from gpost.api import Ground, LayClay, Note, Plan, PlanError, Shift
from gpost.testing import make_survey, run_step, with_layers
from tests.lookups import answering

SURVEY = make_survey(centre_mm=(140, 150), radius_mm=40, layers=10, layer_mm=2)
CONFIG = {"machine": {"bed": {"x_max_mm": 280, "y_max_mm": 280}, "ceiling_mm": 30, "nozzle_mm": 4}}
LEAST_MM = 2 * (40 + 3 + 10)
"""Radius 40 mm, half a wall of 6 mm, a margin of 10 mm, on both sides."""


def slab(settings: dict[str, Any], **how: Any) -> Plan:
    """The plan with a slab."""
    return run_step(Slab, settings, how.pop("survey", SURVEY), CONFIG, **how)


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Slab]


def test_everything_is_raised_by_the_slab_and_the_gap() -> None:
    """All lines, travel too: the slab lies in the way of all of them."""
    plan = slab({"thickness_mm": 4, "gap_mm": 0.2, "diameter_mm": 150})
    (shift,) = plan.of(Shift)
    assert (shift.first_line, shift.end_line) == (0, SURVEY.lines)
    assert shift.by_mm == pytest.approx((0, 0, 4.2))
    assert plan.bounds_mm[2] == pytest.approx((6.2, 24.2))


def test_the_ground_is_taken() -> None:
    """Later steps lay nothing onto it, and nothing flies lower than its top."""
    (ground,) = slab({"thickness_mm": 4, "x_size_mm": 120, "y_size_mm": 140}).of(Ground)
    assert (ground.x_mm, ground.y_mm, ground.top_mm) == ((80, 200), (80, 220), 4)


def test_it_says_where_to_lay_it() -> None:
    """The middle of the foot, or where it was said to lie."""
    assert "middle at x 140.0, y 150.0 mm" in slab({"diameter_mm": 150}).of(Note)[0].text
    assert (
        "middle at x 145.0, y 152.0 mm"
        in slab({"diameter_mm": 160, "x_mm": 145, "y_mm": 152}).of(Note)[0].text
    )


def test_a_placed_piece_has_its_slab_under_it() -> None:
    """With `place` before it the slab lies where the piece will stand."""
    plan = slab({"diameter_mm": 150}, before=[Place(PlaceSettings(x_mm=100, y_mm=120))])
    assert "middle at x 100.0, y 120.0 mm" in plan.of(Note)[-1].text
    assert plan.shift_mm == pytest.approx((-40, -30, 3.1))


@pytest.mark.parametrize(
    ("settings", "what"),
    [
        ({"diameter_mm": LEAST_MM - 0.1}, "diameter"),
        ({"x_size_mm": LEAST_MM - 0.1, "y_size_mm": LEAST_MM}, "length along x"),
        ({"x_size_mm": LEAST_MM, "y_size_mm": LEAST_MM - 0.1}, "length along y"),
    ],
)
def test_foot_and_margin_must_lie_on_it(settings: dict[str, float], what: str) -> None:
    """What is too small is told with the size that is enough; that size is enough."""
    with pytest.raises(PlanError, match=f"its {what} must be at least {LEAST_MM:.1f} mm"):
        slab(settings)
    assert slab(dict.fromkeys(settings, LEAST_MM)).of(Shift)


@pytest.mark.parametrize("off_mm", [0.0, 0.0004, 0.001])
@pytest.mark.parametrize("sizes", [("diameter_mm",), ("x_size_mm", "y_size_mm")])
def test_a_slab_as_large_as_the_foot_and_its_margin_is_enough(sizes: tuple[str, ...], off_mm: float) -> None:
    """Places of a file are rounded to thousandths of a mm: a reach that is so much more is none more."""
    far_mm = 40 + off_mm / 2
    foot = np.array([[140 - far_mm, 140, 140 + far_mm, 140], [150, 150 - far_mm, 150, 150 + far_mm]])
    survey = answering(SURVEY, laid_points=lambda _first, _end: foot)
    assert slab(dict.fromkeys(sizes, LEAST_MM), survey=survey).of(Shift)


@pytest.mark.parametrize("off_mm", [0.03, 0.049, 0.06, 0.1])
def test_what_is_told_to_be_enough_is(off_mm: float) -> None:
    """It is never the size that the slab has already."""
    far_mm = 40 + off_mm / 2
    foot = np.array([[140 - far_mm, 140, 140 + far_mm, 140], [150, 150 - far_mm, 150, 150 + far_mm]])
    survey = answering(SURVEY, laid_points=lambda _first, _end: foot)
    with pytest.raises(PlanError, match=f"must be at least {LEAST_MM + 0.1:.1f} mm, and it is {LEAST_MM} mm"):
        slab({"diameter_mm": LEAST_MM}, survey=survey)
    assert slab({"diameter_mm": LEAST_MM + 0.1}, survey=survey).of(Shift)


def test_off_the_middle_it_must_be_larger() -> None:
    """Each millimetre aside costs two in diameter."""
    with pytest.raises(PlanError, match=f"at least {LEAST_MM + 10:.1f} mm"):
        slab({"diameter_mm": LEAST_MM, "x_mm": 145})


def test_a_square_foot_needs_its_corners_on_a_round_slab() -> None:
    """A square of 80 mm has corners 56.6 mm from its middle."""
    round_foot = make_survey(centre_mm=(140, 150), radius_mm=40)
    corners = np.array([[100.0, 180, 180, 100], [110, 110, 190, 190]])
    survey = answering(round_foot, laid_points=lambda _first, _end: corners)
    needed = 2 * (40 * 2**0.5 + 13)
    told = math.ceil(needed * 10) / 10  # 139.1 would not be enough
    with pytest.raises(PlanError, match=f"at least {told:.1f} mm"):
        slab({"diameter_mm": needed - 1}, survey=survey)
    assert slab({"diameter_mm": needed + 0.001}, survey=survey).of(Shift)


def test_only_the_foot_must_lie_on_it() -> None:
    """A bowl may reach over the slab's edge further up."""
    upright = make_survey(centre_mm=(140, 150), radius_mm=40, layers=3)
    survey = with_layers(upright, x_max_mm=upright.layers["x_max_mm"] + [0, 60, 60])
    assert slab({"diameter_mm": LEAST_MM}, survey=survey).of(Shift)


@pytest.mark.parametrize("settings", [{"diameter_mm": 281}, {"x_size_mm": 200, "y_size_mm": 262}])
def test_the_slab_must_lie_on_the_bed(settings: dict[str, float]) -> None:
    """A slab that hangs over the edge sags; round and rectangular ones are looked at all round."""
    with pytest.raises(PlanError, match="the slab would hang over the bed's edge"):
        slab(settings)


def test_the_ceiling_holds_for_the_raised_piece() -> None:
    """20 mm of piece on 10 mm of slab and gap fit under 30 mm, no more."""
    assert slab({"thickness_mm": 10, "gap_mm": 0, "diameter_mm": 150}).of(Shift)
    with pytest.raises(PlanError, match=r"30.1 mm high, over the ceiling of 30 mm"):
        slab({"thickness_mm": 10, "gap_mm": 0.1, "diameter_mm": 150})


def test_a_purge_keeps_off_it() -> None:
    """Beads are laid on the bed beside the slab, not only beside the piece."""
    before = [Slab(SlabSettings(x_size_mm=150, y_size_mm=150))]
    (lay,) = run_step(Purge, {"volume_ml": 10, "side": "front"}, SURVEY, CONFIG, before).of(LayClay)
    for stroke in lay.strokes:
        half_mm = stroke.width_mm / 2
        xs, ys = zip(*stroke.points_mm, strict=True)
        beside = max(xs) + half_mm <= 65 or min(xs) - half_mm >= 215
        assert beside or max(ys) + half_mm <= 75


@pytest.mark.parametrize(
    "settings", [{}, {"x_size_mm": 100}, {"x_size_mm": 100, "y_size_mm": 100, "diameter_mm": 100}]
)
def test_a_slab_has_one_form(settings: dict[str, float]) -> None:
    """It is round or rectangular, and all of its sizes are said."""
    with pytest.raises(ValidationError, match="a slab has either"):
        slab(settings)


def test_a_file_without_layers_is_refused() -> None:
    """There is no piece to raise."""
    with pytest.raises(PlanError, match="no clay is laid"):
        slab({"diameter_mm": 100}, survey=make_survey(layers=0))


@pytest.mark.parametrize(
    ("x_mm", "y_mm", "size", "fits"),
    [
        (140, 140, {"x_size_mm": 280, "y_size_mm": 280}, True),
        (140, 140, {"diameter_mm": 280}, True),
        (130, 145, {"x_size_mm": 260, "y_size_mm": 270}, True),
        (129, 140, {"x_size_mm": 260, "y_size_mm": 260}, False),
        (151, 140, {"x_size_mm": 260, "y_size_mm": 260}, False),
        (140, 129, {"x_size_mm": 260, "y_size_mm": 260}, False),
        (140, 151, {"x_size_mm": 260, "y_size_mm": 260}, False),
        (129, 140, {"diameter_mm": 260}, False),
        (140, 151, {"diameter_mm": 260}, False),
    ],
)
def test_a_slab_may_be_as_large_as_the_bed(x_mm: float, y_mm: float, size: dict[str, float], fits: bool) -> None:
    """Over no edge of it by a millimetre."""
    settings = {"x_mm": x_mm, "y_mm": y_mm, "margin_mm": 0, **size}
    if fits:
        assert len(slab(settings).of(Ground)) == 1
    else:
        with pytest.raises(PlanError, match="would hang over the bed's edge"):
            slab(settings)
