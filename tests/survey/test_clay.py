"""Clay of moves: from E by the config's unit, or from path times section."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gpost.config.model import (
    Clay,
    Config,
    CubicMillimetres,
    Filament,
    Machine,
    Metering,
    Millilitres,
    PathSection,
    Plunger,
)
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.survey.clay import ClayMeter

PROGRAM = b"M83\nG1 X10 E100\nG0 X20\nG1 E-4\nG1 X120\n"


def clay_of(metering: Metering, **clay: float) -> list[float]:
    """Clay of the program's moves, ml."""
    config = Config(clay=Clay(metering=metering, **clay))  # type: ignore[arg-type]
    block = read_block(Chunk(PROGRAM, 0, 0))
    moves = Follower(block, MachineState(), config.machine, metering).moves
    return np.asarray(ClayMeter(config).clay_ml(moves)).tolist()


@pytest.mark.parametrize(
    ("metering", "per_unit_ml"),
    [
        # 100 mm of 1.75 mm strand are 240.5281875405 mm^3 (computed from the circle's area)
        (Filament(unit="filament", diameter_mm=1.75), 0.2405281875405 / 100),
        (CubicMillimetres(unit="mm3"), 0.001),
        (Plunger(unit="plunger", bore_mm=60), math.pi / 4 * 3600 / 1000),
        (Millilitres(unit="ml", ml_per_unit=0.37), 0.37),
    ],
)
def test_clay_by_e(metering: Metering, per_unit_ml: float) -> None:
    """E times what one unit stands for; negative where clay is drawn back."""
    assert clay_of(metering) == pytest.approx([100 * per_unit_ml, 0, -4 * per_unit_ml, 0], rel=1e-12)


def test_clay_by_path() -> None:
    """Without E every G1 lays a bead half a nozzle high; G0 and E alone lay none."""
    # a bead 6 x 2 mm has a section of 11.1415926536 mm^2 (computed: rectangle and two half discs)
    clay = clay_of(PathSection(unit="path"), bead_width_mm=6.0)
    assert clay == pytest.approx([0.111415926536, 0, 0, 1.11415926536], rel=1e-10)


def test_the_width_of_a_bead_without_a_word() -> None:
    """If the config says nothing a bead is one and a half nozzles wide (common practice, no source)."""
    meter = ClayMeter(Config(machine=Machine(nozzle_mm=4)))
    assert meter.bead_width_mm == 6
    assert meter.section_ml_per_mm(2.0) == pytest.approx(0.0111415926536)
