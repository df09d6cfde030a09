"""What the fuzzer begins with: small sliced files in several dialects, configs, and jobs."""

from __future__ import annotations

from pathlib import Path

from gpost.demo.folder import stock_recipe
from gpost.demo.gcode import Piece, SliceStyle
from tests.fuzz.targets import CUT
from tests.sliced import slice_piece

CONFIGS = Path(__file__).parents[2] / "configs"
PIECE = Piece(height_mm=10, radius_mm=25, segments=8, base_layers=1)
STYLES = (
    SliceStyle(heaters=True),
    SliceStyle(wall="flat", numbered=True),
    SliceStyle(lowercase=True, newline="\r\n"),
)
ODD = b"""%
\xef\xbb\xbf(a comment; with a semicolon) G21
N10 G90*36
/G1 X1
G91
G1 X10 Y0 Z2 E1.5 F600
G2 X10 Y0 I5 J0 E1
G3 X-10 Y0 R5 E1
G92 X0 E0
M83
G1X10E5
G1 X1e-05 E1
M117 50% "done" (so far
G4 P100
G20
G1 X1 Y1 E.1
M220 S50
M101
G1 X.5
M103
G28 X Y
"""
SETTING = b"""M206 X1
G28
G29
M92 E5 X80
SET_AIR AT=air
M83
G1 X60 Y20 Z1 E5 F600
G92.1 G1 X20
G28 Z
M204 P500
M84
M0
M777 S1
LIFT_ALL
G92 Z3
G28 Z0 X
G1 X60 Y60 Z1 E5
M112
G0 Z20
"""
RECIPE = b"""cartridge: {volume_ml: 12, reserve_ml: 2, line_ml: 2, first_ml: 11}
steps:
  - cold: {move_cold: true}
  - purge: {volume_ml: 2, bead_width_mm: 6, bead_height_mm: 3}
  - swap: {at_layer: 4, colour: blue, clear: purge, onto: park, prime_ml: 1}
  - refill: {share: even, prime_ml: 1}
  - fan: {bands: [{from_layer: 1, level_percent: 0}, {from_height_mm: 4, level_percent: 50}], ramp_layers: 2}
  - taper: {from_height_mm: 4, to_percent: 60, floor_mm_min: 300, least_layer_s: 9}
  - tally
"""
EARLY = b"""steps:
  - swap: {at_height_mm: 8, clear: early, where: exact}
  - remind: {every_min: 1, text: look}
  - place: {x_mm: 120, y_mm: 120}
  - slab: {thickness_mm: 3, x_size_mm: 120, y_size_mm: 120}
  - base: {}
"""


def sliced() -> list[bytes]:
    """Sliced files."""
    return [*(slice_piece(PIECE, style).text for style in STYLES), ODD, SETTING]


def configs() -> list[bytes]:
    """Configs."""
    own = [path.read_bytes() for path in sorted(CONFIGS.glob("*.yaml"))]
    return [
        *own,
        stock_recipe().encode(),
        RECIPE,
        EARLY,
        b"a: &a [1, 'x', \"\\u00e9\"]\nb: *a\nc: |\n  text\n",
    ]


def jobs() -> list[bytes]:
    """A recipe and a sliced file each."""
    recipes = (RECIPE, EARLY, stock_recipe().encode())
    return [recipe + CUT + text for recipe in recipes for text in sliced()]


SEEDS = {"reader": sliced, "config": configs, "job": jobs}
