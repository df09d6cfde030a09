"""Arcs and helices: the cases of the NIST RS274/NGC report (NISTIR 6556), and the oracle's on any arc."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Machine, PathSection
from gpost.errors import SourceError
from gpost.motion.arcbox import arcs_of
from gpost.motion.arcs import PLANE_AXES
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block

NAN = math.nan
HALF_TURN = math.pi


class Arc(NamedTuple):
    """What is made of one arc of a program."""

    length_mm: float
    radius_mm: float
    sweep: float
    """Radians, above 0 counter-clockwise."""
    centre_mm: tuple[float, float]
    """In the plane's axes."""
    entry: np.ndarray
    """Unit tangent at the start, and at the end."""
    exit: np.ndarray


def arc(
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    *,
    offset: tuple[float, float, float] = (NAN, NAN, NAN),
    radius: float = NAN,
    clockwise: bool = True,
    plane: int = 17,
    tolerance_mm: float = 0.002,
) -> Arc:
    """One arc, on line 7 of a program."""
    numbers = zip("XYZIJKR", (*end, *offset, radius), strict=True)
    words = [f"{letter}{number:.15f}" for letter, number in numbers if not math.isnan(number)]
    text = "\n" * 6 + " ".join([f"G{plane} G{2 if clockwise else 3}", *words]) + "\n"
    state = MachineState(register=(*start, 0.0), known=(True, True, True))
    machine = Machine(arc_tolerance_mm=tolerance_mm)
    follower = Follower(read_block(Chunk(text.encode(), 0, 0)), state, machine, PathSection(unit="path"))
    (found,), moves = arcs_of(follower), follower.moves
    centre_mm = (float(found.centre_mm[0, 0]), float(found.centre_mm[1, 0]))
    sweep = float(found.turn[0] * found.sweep[0])
    return Arc(
        float(moves.length_mm[0]),
        float(found.radius_mm[0]),
        sweep,
        centre_mm,
        moves.entry[:, 0],
        moves.exit[:, 0],
    )


def test_the_published_helix() -> None:
    """`G17 G2 x10 y16 i3 j4 z9` from (7, 7): centre (10, 11), radius 5 (published case, section 3.5.3.2)."""
    found = arc((7, 7, 0), (10, 16, 9), offset=(3, 4, NAN))
    assert found.centre_mm == pytest.approx((10, 11), abs=1e-12)
    assert found.radius_mm == 5
    assert math.degrees(found.sweep) == pytest.approx(-143.1301023542, abs=1e-9)


@pytest.mark.parametrize(
    ("start_z", "clockwise", "length_mm"),
    [(9, True, 12.4904577240), (0, True, 15.3951789257), (9, False, 18.9254688119)],
)
def test_the_published_helix_is_so_long(start_z: float, clockwise: bool, length_mm: float) -> None:
    """Flat, as a helix, and the other way round (computed from the published case)."""
    found = arc((7, 7, start_z), (10, 16, 9), offset=(3, 4, NAN), clockwise=clockwise)
    assert found.length_mm == pytest.approx(length_mm, abs=1e-9)


@pytest.mark.parametrize(
    ("radius", "clockwise", "centre", "sweep_deg", "length_mm"),
    [
        (20, True, (19.8550690649, -2.4033793766), -53.5764263577, 19.3585540228),
        (20, False, (-9.8550690649, 17.4033793766), 53.5764263577, 19.3585540228),
        (-20, True, (-9.8550690649, 17.4033793766), -306.4235736423, 106.9620053157),
    ],
)
def test_the_published_radius_arc(
    radius: float, clockwise: bool, centre: tuple[float, float], sweep_deg: float, length_mm: float
) -> None:
    """`G17 G2 x10 y15 r20 z5` (published command, section 3.5.3.1); start (0, 0, 0) and results computed."""
    end_z = 5 if radius > 0 else 0
    found = arc((0, 0, 0), (10, 15, end_z), radius=radius, clockwise=clockwise)
    assert found.centre_mm == pytest.approx(centre, abs=1e-9)
    assert math.degrees(found.sweep) == pytest.approx(sweep_deg, abs=1e-9)
    assert found.length_mm == pytest.approx(length_mm, abs=1e-9)


@pytest.mark.parametrize(
    ("radius", "clockwise", "centre", "length_mm"),
    [
        (10, True, (10, 0), 15.7079632679),
        (10, False, (0, 10), 15.7079632679),
        (-10, False, (10, 0), 47.1238898038),
    ],
)
def test_quarter_and_three_quarters(
    radius: float, clockwise: bool, centre: tuple[float, float], length_mm: float
) -> None:
    """R above 0 turns by 180 degrees or less, R below 0 by more (section 3.5.3.1; computed)."""
    found = arc((0, 0, 0), (10, 10, 0), radius=radius, clockwise=clockwise)
    assert found.centre_mm == pytest.approx(centre, abs=1e-9)
    assert found.length_mm == pytest.approx(length_mm, abs=1e-9)


def test_a_full_circle() -> None:
    """An arc by its centre that ends where it starts goes all the way round (section 3.5.3.2)."""
    for clockwise, sweep in ((True, -2 * math.pi), (False, 2 * math.pi)):
        found = arc((0, 0, 0), (0, 0, 0), offset=(10, NAN, NAN), clockwise=clockwise)
        assert found.sweep == pytest.approx(sweep)
        assert found.length_mm == pytest.approx(62.8318530718)


@pytest.mark.parametrize(
    ("turns", "pitch", "radius", "length_mm"),
    [(1, 2, 50, 314.1656314922), (50, 2, 50, 15708.2815746101), (100, 1.5, 30, 18850.1527431269)],
)
def test_a_helix_by_its_closed_form(turns: int, pitch: float, radius: float, length_mm: float) -> None:
    """A helix is sqrt((R theta)^2 + dz^2) long (textbook geometry; computed)."""
    one = arc((radius, 0, 0), (radius, 0, pitch), offset=(-radius, 0, NAN), clockwise=False)
    assert one.length_mm * turns == pytest.approx(length_mm, abs=1e-8)


@pytest.mark.parametrize(
    ("settings", "reason"),
    [
        # half chord 10 is more than 9.9; derived from section 3.5.3.1
        ({"end": (20, 0, 0), "radius": 9.9}, "too small"),
        # the radii differ by 0.003 mm; more than the 0.002 of section 3.5.3.2
        ({"end": (20.003, 0, 0), "offset": (10, 0, NAN)}, "different radii"),
        ({"end": (0, 0, 0), "radius": 10}, "ends where it starts"),
        ({"end": (0, 0, 5), "radius": 10}, "ends where it starts"),
        ({"end": (10, 0, 0)}, "neither"),
        ({"end": (10, 10, 0), "radius": 10, "offset": (10, 0, NAN)}, "both"),
        ({"end": (10, 10, 0), "offset": (10, 0, 3)}, "outside its plane"),
        ({"end": (10, 10, 0), "offset": (0, 0, NAN)}, "radi"),
        ({"end": (0, 0, 0), "offset": (0, 0, NAN)}, "no radius"),
    ],
)
def test_an_arc_that_can_not_be(settings: dict[str, object], reason: str) -> None:
    """An arc without a defined course is refused with its line and the reason."""
    with pytest.raises(SourceError, match=f"line 7: .*{reason}") as caught:
        arc((0, 0, 0), **settings)  # type: ignore[arg-type]
    assert caught.value.line == 6


def test_radii_may_differ_by_the_tolerance() -> None:
    """A mismatch of 0.0015 mm is within the 0.002 mm of section 3.5.3.2."""
    found = arc((0, 0, 0), (20.0015, 0, 0), offset=(10, 0, NAN))
    assert abs(found.sweep) == pytest.approx(HALF_TURN)


@pytest.mark.parametrize("plane", PLANE_AXES)
def test_every_plane_is_the_first_one_turned(plane: int) -> None:
    """G18 and G19 are G17 with the axes renamed in their cyclic order (section 3.5.6)."""
    first, second, normal = PLANE_AXES[plane]

    def turned(point: tuple[float, float, float]) -> tuple[float, float, float]:
        out = [0.0, 0.0, 0.0]
        out[first], out[second], out[normal] = point
        return (out[0], out[1], out[2])

    flat = arc((7, 7, 0), (10, 16, 9), offset=(3, 4, NAN))
    found = arc(turned((7, 7, 0)), turned((10, 16, 9)), offset=turned((3, 4, NAN)), plane=plane)
    assert found.sweep == pytest.approx(flat.sweep, rel=1e-12)
    assert found.length_mm == flat.length_mm
    assert found.entry[[first, second, normal]].tolist() == flat.entry.tolist()


@given(
    st.floats(1, 100), st.floats(-math.pi, math.pi), st.floats(0.01, 6.2), st.floats(-20, 20), st.booleans()
)
def test_tangents(radius: float, towards: float, sweep: float, rise: float, clockwise: bool) -> None:
    """The tangents at both ends are unit vectors across the radius, and rise as the helix does."""
    centre = (radius * math.cos(towards), radius * math.sin(towards))
    turn = -sweep if clockwise else sweep
    cosine, sine = math.cos(turn), math.sin(turn)
    end = (
        centre[0] - centre[0] * cosine + centre[1] * sine,
        centre[1] - centre[0] * sine - centre[1] * cosine,
    )
    found = arc((0, 0, 0), (*end, rise), offset=(*centre, NAN), clockwise=clockwise, tolerance_mm=0.02)
    assert found.sweep == pytest.approx(turn, abs=1e-9)
    for tangent, place in ((found.entry, (0.0, 0.0)), (found.exit, end)):
        assert np.linalg.norm(tangent) == pytest.approx(1)
        across = (place[0] - centre[0]) * tangent[0] + (place[1] - centre[1]) * tangent[1]
        assert across == pytest.approx(0, abs=1e-6 * radius)
        assert tangent[2] == pytest.approx(rise / found.length_mm)
