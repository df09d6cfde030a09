"""Moves outside the bed, above the ceiling and below zero."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from gpost_plugins.place import Place, PlaceSettings
from gpost_plugins.slab import Slab, SlabSettings

from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
NAMES = {"outside-bed", "above-ceiling", "below-zero"}
ROUND = {"machine": {"bed": {"x_max_mm": 200, "y_max_mm": 200, "round": True}}}
OVAL = {"machine": {"bed": {"x_max_mm": 400, "y_max_mm": 240, "round": True}}}


def places(found: dict[str, Finding]) -> dict[str, tuple[int | None, int]]:
    """(line, count) of each finding of this family."""
    return {name: (finding.line, finding.count) for name, finding in found.items() if name in NAMES}


def test_a_pot_on_the_bed_is_fine(check: Check, pot: Pot) -> None:
    """A piece in the middle of the bed is no finding."""
    assert check(pot()) == {}


@pytest.mark.parametrize(
    ("move", "name"),
    [
        ("G1 X281", "outside-bed"),
        ("G0 X-1", "outside-bed"),
        ("G1 Y280.02", "outside-bed"),
        ("G1 X100 Y-5", "outside-bed"),
        ("G1 Z300.02", "above-ceiling"),
        ("G1 Z-0.02", "below-zero"),
        ("G91 G1 Z-4.5", "below-zero"),
        ("G20 G1 X11.1", "outside-bed"),
    ],
)
def test_a_move_too_far(check: Check, pot: Pot, move: str, name: str) -> None:
    """Each side of the bed, the ceiling and zero is an error, for travel as well, in every mode."""
    found = check(pot(end=[move]))
    assert places(found) == {name: (13, 1)}
    assert found[name].severity == "error"


@pytest.mark.parametrize("move", ["G1 X280 Y280", "G1 X0 Y0", "G1 Z300", "G1 Z0"])
def test_exactly_at_the_limit(check: Check, pot: Pot, move: str) -> None:
    """The bed's edge, the ceiling and zero itself may be reached."""
    assert check(pot(end=[move])) == {}


def test_first_line_and_count(check: Check, pot: Pot) -> None:
    """The first of many places is named, all are counted, and the worst is told."""
    found = check(pot(end=["G1 X290", "G1 X200", "G1 X300", "G1 X290"]))
    assert places(found) == {"outside-bed": (13, 3)}
    assert "up to 20.00 mm" in found["outside-bed"].text


def test_home_may_lie_beside_the_bed(check: Check, pot: Pot) -> None:
    """Standing at home and leaving it is no fault, though home lies outside the bed."""
    bed = {"machine": {"bed": {"x_min_mm": 20, "y_min_mm": 20}}}
    assert check(pot(start=["G28", "G90", "M83", "G1 Z10 F600", "G1 X100"]), bed) == {}
    assert places(check(pot(start=["G28", "G90", "M83", "G1 X10 F600"]), bed)) == {"outside-bed": (3, 1)}


def test_before_homing_positions_mean_nothing(check: Check, pot: Pot) -> None:
    """Moves before the homing are not looked at; in a file that never homes all are."""
    assert check(pot(start=["G90", "M83", "G1 X-20 F600", "G28"])) == {}
    never = check(pot(start=["G90", "M83", "G1 X-20 F600"]))
    assert places(never) == {"outside-bed": (2, 1)}
    at_the_end = check(pot(start=["G90", "M83", "G1 X-20 F600"], end=["G28"]))
    assert places(at_the_end) == {"outside-bed": (2, 1)}


@pytest.mark.parametrize(
    ("start", "arc", "over_mm"),
    [
        ("G1 X250 Y110", "G3 X250 Y150 I0 J20", None),  # to x 270
        ("G1 X260 Y110", "G3 X260 Y150 I0 J20", None),  # to x 280, the edge
        ("G1 X262 Y110", "G3 X262 Y150 I0 J20", 2.0),
        ("G1 X262 Y110", "G2 X262 Y150 I0 J20", None),  # the other way round
        ("G1 X262 Y110", "G3 X262 Y150 R20", 2.0),
        ("G1 X265 Y140", "G2 X265 Y140 I0 J5", None),  # full circles
        ("G1 X265 Y140", "G2 X265 Y140 I0 J20", 5.0),
        ("G1 X140 Y265", "G3 X140 Y265 I20 J0", 5.0),
        ("G1 X140 Y15", "G3 X140 Y15 I20 J0", 5.0),
        ("G1 X15 Y140", "G3 X15 Y140 I0 J20", 5.0),
        ("G1 X262 Y110", "G3 X262 Y150 I0 J20 Z20", 2.0),  # a helix
    ],
)
def test_arcs_by_their_extreme_points(
    check: Check, pot: Pot, start: str, arc: str, over_mm: float | None
) -> None:
    """An arc that bulges over the edge is found though both its ends are on the bed."""
    found = check(pot(end=[start, arc]))
    assert places(found) == ({} if over_mm is None else {"outside-bed": (14, 1)})
    if over_mm is not None:
        assert f"up to {over_mm:.2f} mm" in found["outside-bed"].text


def test_arcs_in_upright_planes(check: Check, pot: Pot) -> None:
    """An arc that stands upright is found below zero by its lowest point (G18: I and K; G19: J and K)."""
    dips = ["G1 Z10", "G18", "G2 X120 Z10 I10 K0"]
    climbs = ["G1 Z10", "G18", "G3 X120 Z10 I10 K0"]
    sags = {places(check(pot(end=arc))).get("below-zero") for arc in (dips, climbs)}
    assert sags == {None}  # a radius of 10 mm from 10 mm: zero is reached, not passed
    lower = [[line.replace("Z10", "Z8") for line in arc] for arc in (dips, climbs)]
    found = [places(check(pot(end=arc))).get("below-zero") for arc in lower]
    assert sorted(found, key=str) == [(15, 1), None]
    standing = ["G1 Z8", "G19", "G3 Y120 Z8 J10 K0"]
    assert places(check(pot(end=standing))) == {"below-zero": (15, 1)}


def _on_circle(radius_mm: float, degrees: float) -> str:
    x, y = (100 + radius_mm * f(math.radians(degrees)) for f in (math.cos, math.sin))
    return f"X{x:.4f} Y{y:.4f}"


@pytest.mark.parametrize(("radius_mm", "fits"), [(99.0, True), (100.0, True), (100.5, False)])
@pytest.mark.parametrize("degrees", [0, 45, 200])
def test_round_bed(check: Check, pot: Pot, radius_mm: float, degrees: float, fits: bool) -> None:
    """On a round bed it is the distance from the middle that counts."""
    found = check(pot(end=[f"G1 {_on_circle(radius_mm, degrees)}"]), ROUND)
    assert places(found) == ({} if fits else {"outside-bed": (13, 1)})


@pytest.mark.parametrize(("radius_mm", "fits"), [(99.9, True), (100.0, True), (100.1, False)])
def test_circle_round_the_middle_of_a_round_bed(check: Check, pot: Pot, radius_mm: float, fits: bool) -> None:
    """A full circle round the middle fits up to the bed's own radius, though the box round it never does."""
    circle = ["G1 X100 Y100", f"G1 X{100 + radius_mm}", f"G3 X{100 + radius_mm} Y100 I{-radius_mm} J0"]
    found = check(pot(end=circle), ROUND)
    assert places(found) == ({} if fits else {"outside-bed": (14, 2)})


def test_arc_over_the_rim_of_a_round_bed(check: Check, pot: Pot) -> None:
    """A bulge between two points on the bed is found at its outermost point, wherever that lies."""
    x, y = (float(word[1:]) for word in _on_circle(80, 33).split())
    for radius_mm, fits in ((19.9, True), (20.5, False)):
        circle = [
            f"G1 X{x - radius_mm:.4f} Y{y:.4f}",
            f"G3 X{x - radius_mm:.4f} Y{y:.4f} I{radius_mm:.4f} J0",
        ]
        assert places(check(pot(end=circle), ROUND)) == ({} if fits else {"outside-bed": (14, 1)})


@pytest.mark.parametrize(
    ("circle", "fits"),
    [
        (["G1 X80 Y120", "G3 X80 Y120 I119 J0"], True),  # 119 mm round the middle of 400 x 240 mm
        (["G1 X80 Y120", "G3 X80 Y120 I120 J0"], True),
        (["G1 X75 Y120", "G3 X75 Y120 I125 J0"], False),
    ],
)
def test_circle_on_an_oval_bed(check: Check, pot: Pot, circle: list[str], fits: bool) -> None:
    """On an oval bed a circle fits up to the shorter half axis."""
    assert places(check(pot(end=circle), OVAL)) == ({} if fits else {"outside-bed": (14, 1)})


def test_a_piece_is_judged_where_it_will_stand(check: Check, pot: Pot) -> None:
    """A piece that is moved onto the bed is fine, one that is moved off it is not, and says so."""
    small = {"machine": {"bed": {"x_max_mm": 130}}}
    assert places(check(pot(), small)) == {"outside-bed": (4, 2)}
    assert check(pot(), small, [Place(PlaceSettings(x_mm=90))]) == {}
    aside = ["G28", "G90", "M83", "G0 X10 F900"]
    found = check(pot(start=aside), {}, [Place(PlaceSettings(x_mm=60, y_mm=60))])
    assert places(found) == {"outside-bed": (3, 1)}
    assert "by up to 50.00 mm, moved as the steps want it" in found["outside-bed"].text


def test_what_comes_after_the_move_of_the_piece_is_judged_as_it_stands(check: Check, pot: Pot) -> None:
    """Once risen from the last clay an absolute move is the source's own, and a relative one goes on from the moved place."""
    onto = [Place(PlaceSettings(x_mm=200))]
    assert check(pot(end=["G0 Z20", "G1 X270"]), {}, onto) == {}
    assert places(check(pot(end=["G91", "G1 X120"]), {}, onto)) == {"outside-bed": (14, 1)}
    assert check(pot(end=["G91", "G1 X90"]), {}, onto) == {}


def test_a_slab_counts_towards_the_ceiling_and_away_from_zero(check: Check, pot: Pot) -> None:
    """Every move is raised with the piece."""
    slab = [Slab(SlabSettings(thickness_mm=5, diameter_mm=150))]
    assert check(pot(end=["G1 Z294"]), {}, slab) == {}
    assert places(check(pot(end=["G1 Z296"]), {}, slab)) == {"above-ceiling": (13, 1)}
    assert check(pot(end=["G1 X60 Z-5"]), {}, slab) == {}
    assert places(check(pot(end=["G1 X60 Z-6"]), {}, slab)) == {"below-zero": (13, 1)}


@pytest.mark.parametrize(("to_mm", "fits"), [(156.0, True), (158.0, False)])
def test_a_moved_arc_on_a_round_bed(check: Check, to_mm: float, fits: bool) -> None:
    """A ring of 20 mm is judged by its moved middle, 79.2 or 82.0 mm from that of a bed of 100 mm."""
    ring = "G2 X140 Y120 I-20 J0 E9"
    text = "\n".join(["G28", "G90", "M83", "G1 X140 Y120 Z2 F900", ring, "G1 Z4", ring, ""])
    found = check(text, ROUND, [Place(PlaceSettings(x_mm=to_mm, y_mm=to_mm))])
    assert places(found) == ({} if fits else {"outside-bed": (4, 2)})
