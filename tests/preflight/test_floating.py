"""Rings and strokes that begin in the air, beside all that is below them (a nozzle of 4 mm, beads of 6 mm)."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Ground, Intention, Shift
from gpost.plan.plan import Plan
from gpost.preflight.checks import Preflight
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.survey.build import survey_source
from tests.preflight.test_offslab import wanting
from tests.resuming import typed

Check = Callable[..., dict[str, Finding]]
CONFIG = {"machine": {"nozzle_mm": 4}, "clay": {"bead_width_mm": 6}}
HEAD = ["G28", "G90", "M83"]
WIDEST_GAP_MM = 7.5
"""1.25 bead widths: middles further apart are beads that don't touch."""


def ring(
    x_mm: float, z_mm: float, radius_mm: float = 20, *, rise_mm: float = 0, sides: int = 36, left: bool = False
) -> list[str]:
    """A polygon round y 100, begun and ended at its right, or left; it has a corner on each side."""
    turns, side_mm = [side / sides for side in range(sides + 1)], -radius_mm if left else radius_mm
    places = [
        f"X{x_mm + side_mm * math.cos(2 * math.pi * turn):.3f} "
        f"Y{100 + side_mm * math.sin(2 * math.pi * turn):.3f} Z{z_mm + rise_mm * turn:.3f}"
        for turn in turns
    ]
    return [f"G0 {places[0]} F3000", *(f"G1 {place} E0.1 F1200" for place in places[1:])]


def pot(*rings: list[str], head: Sequence[str] = HEAD, end: Sequence[str] = ()) -> str:
    """A program of these."""
    return "\n".join([*head, *(line for one in rings for line in one), *end, ""])


def wall(x_mm: float, first: int, end: int) -> list[list[str]]:
    """Rings 2 mm apart in height, by their numbers from 1."""
    return [ring(x_mm, 2 * number) for number in range(first, end)]


@pytest.mark.parametrize(
    ("gap_mm", "floats"), [(-5, False), (5, False), (WIDEST_GAP_MM - 0.1, False), (WIDEST_GAP_MM + 0.1, True), (40, True)]
)
def test_a_ring_beside_the_wall(check: Check, gap_mm: float, floats: bool) -> None:
    """It is told by line and height where its bead touches nothing; what stands on it does stand on something."""
    beside = 100 + 40 + gap_mm  # both rings have a radius of 20 mm
    layers = [
        [*ring(100, 2 * number), *(ring(beside, 2 * number, left=True) if number >= 6 else [])] for number in range(1, 11)
    ]
    found = check(pot(*layers), CONFIG)
    assert ("floating" in found) == floats
    if floats:
        finding = found["floating"]
        assert (finding.severity, finding.count) == ("warning", 1)
        assert finding.line == 3 + 6 * 37 + 1
        assert "12.0 mm up" in finding.text


def test_a_ring_that_begins_on_its_far_side(check: Check) -> None:
    """It touches the wall half-way round, when its first half has fallen; one inside the wall's box may lie on it."""
    layers = [[*ring(100, 2 * number), *(ring(145, 2 * number) if number >= 6 else [])] for number in range(1, 11)]
    assert (check(pot(*layers), CONFIG)["floating"].line) == 3 + 6 * 37 + 1
    inside = [[*ring(100, 2 * number), *(ring(100, 2 * number, 10) if number >= 6 else [])] for number in range(1, 11)]
    assert "floating" not in check(pot(*inside), CONFIG)


@pytest.mark.parametrize(("number", "floats"), [(5, False), (6, True)])
def test_in_inches_as_in_millimetres(check: Check, number: int, floats: bool) -> None:
    """Eight mm over the lowest is no more than two nozzles' widths, whatever the decimals of an inch make of it."""
    layers = [[*ring(100, 2 * at), *(ring(200, 2 * at) if at >= number else [])] for at in range(1, 11)]
    program = pot(*layers)
    inches = re.sub(r"([XYZEF])([0-9.]+)", lambda word: f"{word[1]}{float(word[2]) / 25.4:.4f}", program)
    told = ["floating" in check(text, CONFIG) for text in (program, inches.replace("G90", "G90 G20"))]
    assert told == [floats, floats]


def test_a_wall_that_goes_on_elsewhere(check: Check) -> None:
    """All from one layer on lies beside what is below."""
    found = check(pot(*wall(100, 1, 7), *wall(160, 7, 12)), CONFIG)
    assert (found["floating"].line, found["floating"].count) == (3 + 6 * 37 + 1, 1)


def floating(path: Path, chunk_bytes: int) -> list[Finding]:
    """What is told of a file that is read in blocks of that size."""
    config = Config.model_validate({**CONFIG, "clay": {"bead_width_mm": 6, "metering": {"unit": "ml", "ml_per_unit": 1}}})
    preflight = Preflight(config)
    survey = survey_source(Source(path, chunk_bytes=chunk_bytes), config, None, (preflight.observe,))
    return [f for f in preflight.findings(Plan(survey, config)) if f.name == "floating"]


@pytest.mark.parametrize("chunk_bytes", [40, 997, 4096, 10**6])
def test_where_the_file_is_cut_can_t_be_seen(tmp_path: Path, chunk_bytes: int) -> None:
    """Two rings in the air on both sides of a wall, and a third in the air higher up, in blocks of any size."""
    layers = wall(100, 1, 6)
    layers += [[*ring(30, 12), *ring(100, 12), *ring(170, 12)], *wall(100, 7, 12), [*ring(100, 24), *ring(240, 24)], ring(100, 26)]
    path = tmp_path / "pot.gcode"
    path.write_text(pot(*layers))
    (found,) = floating(path, chunk_bytes)
    assert (found.line, found.count) == (3 + 5 * 37 + 1, 3)


FLARE = [ring(100, 2 + 2 * number, 20 + 5.9 * number) for number in range(8)]
CUPS = [line for number in range(1, 8) for x in (60, 120, 180) for line in ring(x, 2 * number)]
CLIMBING = [line for number in range(8) for x in (60, 120) for line in ring(x, 2 + 2 * number, rise_mm=2)]
BRIM = [*ring(100, 2, 60), *(line for one in wall(100, 1, 8) for line in one)]
ONE_BY_ONE = [line for x in (60, 180) for one in wall(x, 1, 8) for line in one]
SPOUT = [
    line
    for number in range(1, 16)
    for line in [*ring(100, 2 * number), *(ring(118 + 3 * (number - 6), 2 * number, 8) if number >= 6 else [])]
]
DASHES = [
    f"{word} X{x} Y{y} Z{z}{more}"
    for z in (2, 4, 6, 8, 10, 12, 14)
    for y in range(60, 140, 6)
    for x, word, more in ((60, "G0", ""), (72, "G1", " E0.1"), (90, "G0", ""), (102, "G1", " E0.1"))
]


@pytest.mark.parametrize(
    "lines",
    [FLARE, CUPS, CLIMBING, BRIM, ONE_BY_ONE, SPOUT, DASHES],
    ids=["flare", "cups", "climbing cups", "brim", "one by one", "spout", "dashes"],
)
def test_what_stands_on_something(check: Check, lines: list[str] | list[list[str]]) -> None:
    """Walls that lean out by nearly a bead, cups side by side or one by one, a spout out of the wall, loose strokes."""
    rings = [line if isinstance(line, list) else [line] for line in lines]
    assert "floating" not in check(pot(*rings), CONFIG)


def test_a_flange_in_arcs(check: Check) -> None:
    """An arc is as wide as it bulges: its ends alone would lie beside the wall."""
    flange = ["G0 X130 Y100 Z16 F3000", "G2 X130 Y100 I-30 J0 E3 F1200"]
    assert "floating" not in check(pot(*wall(100, 1, 8), flange, *wall(100, 8, 10)), CONFIG)


@pytest.mark.parametrize("beside", [["G0 X200 Y40", "G1 X200 Y160 E1"], ["G0 X200 Y40 Z16", "G1 X203 Y40 E0.1"]])
def test_strokes_that_are_no_part_of_the_piece(check: Check, beside: list[str]) -> None:
    """A stroke beside it when it is done, as many files wipe; a lump of less than two beads on the way."""
    after = [] if "Z" not in beside[0] else wall(100, 9, 12)
    assert "floating" not in check(pot(*wall(100, 1, 9), beside, *after), CONFIG)


LUMP_MM = 12
"""Two bead widths: from so far beside the wall on a lead-in is more than a lump."""


@pytest.mark.parametrize(("beside_mm", "floats"), [(5, False), (LUMP_MM - 0.1, False), (LUMP_MM + 0.1, True), (90, True)])
@pytest.mark.parametrize("further", [0, 36])
def test_a_stroke_that_begins_in_the_air(check: Check, beside_mm: float, floats: bool, further: int) -> None:
    """It leads onto the wall, and may go on round it; what is laid on the way to the wall falls."""
    stroke = [f"G0 X{120 + beside_mm} Y100 Z14 F3000", "G1 X120 E1 F1200", *ring(100, 14)[1 : 1 + further]]
    found = check(pot(*wall(100, 1, 7), stroke, *wall(100, 7 + further // 36, 12)), CONFIG)
    assert ("floating" in found) == floats
    if floats:
        assert (found["floating"].line, found["floating"].count) == (3 + 6 * 37 + 1, 1)
        assert "14.0 mm up: it begins beside all that is below it" in found["floating"].text


def test_a_stroke_out_of_the_wall(check: Check) -> None:
    """As a handle begins: it hangs on the wall, however far it goes, and may come back."""
    out = ["G0 X120 Y100 Z14 F3000", "G1 X160 E1 F1200", "G1 X160 Y106 E1", "G1 X118 E1"]
    assert "floating" not in check(pot(*wall(100, 1, 8), out, *wall(100, 8, 12)), CONFIG)


def test_a_lead_in_on_each_layer(check: Check) -> None:
    """Each lies on the one below, from the bed on."""
    layers = [[f"G0 X160 Y100 Z{2 * at}", "G1 X120 E1 F1200", *ring(100, 2 * at)[1:]] for at in range(1, 12)]
    assert "floating" not in check(pot(*layers), CONFIG)


@pytest.mark.parametrize("chunk_bytes", [40, 997, 10**6])
def test_a_stroke_in_the_air_that_is_cut(tmp_path: Path, chunk_bytes: int) -> None:
    """Where it begins is known however late it ends."""
    stroke = ["G0 X210 Y100 Z14 F3000", "G1 X120 E1 F1200", *ring(100, 14)[1:]]
    path = tmp_path / "pot.gcode"
    path.write_text(pot(*wall(100, 1, 7), stroke, *wall(100, 8, 12)))
    (found,) = floating(path, chunk_bytes)
    assert (found.line, found.count) == (3 + 6 * 37 + 1, 1)


SLAB = Ground((70, 130), (70, 130), 3.0, "a slab")
UP = Shift(0, 10**6, (0.0, 0.0, 3.0))
"""Onto the slab; the wall's radius is 20 mm round x 100, y 100."""


@pytest.mark.parametrize(
    ("number", "x_mm", "wishes", "floats"),
    [
        # 6 mm above the first layer; 8 mm over the bed is no more than two nozzles, 11 mm is
        (4, 160, [SLAB, UP], True),
        (4, 160, [], False),
        (4, 160, [SLAB], False),
        (2, 160, [SLAB, UP], False),
        # from the slab's edge at 130 to its own at 132; half a bead lies on the slab
        (4, 152, [SLAB, UP], False),
        (4, 160, [SLAB, UP, Ground((135, 185), (75, 125), 3.0, "a tile")], False),
    ],
    ids=["beside the slab", "on the bed", "not lifted", "low enough", "at its edge", "over a second one"],
)
def test_a_ring_that_begins_beside_the_slab(
    check: Check, number: int, x_mm: float, wishes: list[Intention], floats: bool
) -> None:
    """What begins as low as a first layer may lies on the bed, but not beside a slab that lifts it."""
    layers = [[*ring(100, 2 * at), *(ring(x_mm, 2 * at) if at >= number else [])] for at in range(1, 8)]
    found = check(pot(*layers), CONFIG, [wanting(*wishes)])
    assert ("floating" in found) == floats
    if floats:
        assert (found["floating"].line, found["floating"].count) == (3 + number * 37 + 1, 1)
        assert "8.0 mm up" in found["floating"].text


def test_a_line_in_the_middle_of_the_print_beside_the_slab(check: Check) -> None:
    """Laid to prime after a pause, at the height that the wall has."""
    line = ["M0", "G0 X160 Y20 Z8 F3000", "G1 X200 Y20 E3 F1200"]
    found = check(pot(*wall(100, 1, 4), line, *wall(100, 4, 7)), CONFIG, [wanting(SLAB, UP)])
    assert (found["floating"].line, found["floating"].count) == (3 + 3 * 37 + 2, 1)


@pytest.mark.parametrize(("z_mm", "falls"), [(4, False), (8, True)])
def test_a_rehearsal_is_told_what_the_print_is(tmp_path: Path, z_mm: int, falls: bool) -> None:
    """It runs far above the bed, and what it rehearses doesn't: 3 mm of slab and a gap of 0.1 are all that count."""
    line = [f"G0 X160 Y20 Z{z_mm} F3000", "G1 X200 Y20 E3 F1200"]
    at = z_mm // 2 + 1
    (tmp_path / "pot.gcode").write_text(pot(*wall(100, 1, at), line, *wall(100, at, 7)))
    (tmp_path / "pot.yaml").write_text(
        "machine: {nozzle_mm: 4}\nclay: {metering: {unit: ml, ml_per_unit: 1}, bead_width_mm: 6}\n"
        "steps: [slab: {thickness_mm: 3, gap_mm: 0.1, margin_mm: 5, diameter_mm: 60}]\n"
    )
    names = (tmp_path / "pot.gcode", "-c", tmp_path / "pot.yaml", "-o", tmp_path / "rehearsal.gcode", "--overwrite")
    for more in ((), ("--rehearse", 30)):
        done = typed("run", *names, *more)
        assert (done.exit_code, "floating" in done.output) == (0, falls), done.output


def test_a_line_before_the_piece_lies_on_the_bed(check: Check) -> None:
    """It may be laid as high as the nozzle starts, two nozzles up."""
    prime = ["G0 X20 Y20 Z8 F3000", "G1 X20 Y120 E3 F1200"]
    assert "floating" not in check(pot(prime, *wall(100, 1, 9)), CONFIG)


def test_a_height_without_anything_below_is_the_layer_s(check: Check) -> None:
    """A layer far above the one before is told once, as `wall-in-air`."""
    found = check(pot(*wall(100, 1, 6), ring(200, 30), ring(200, 32)), CONFIG)
    assert "wall-in-air" in found
    assert "floating" not in found
