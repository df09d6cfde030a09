"""Ways without clay through what the file has laid (a nozzle of 4 mm, beads of 6 mm, layers of 2 mm)."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Shift
from gpost.plan.plan import Plan
from gpost.preflight import throughwall
from gpost.preflight.checks import Preflight
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.survey.build import survey_source
from tests.preflight.test_offslab import wanting

Check = Callable[..., dict[str, Finding]]
Place = tuple[float, float, float]
CONFIG = {"machine": {"nozzle_mm": 4}, "clay": {"bead_width_mm": 6}}
HEAD = ["G28", "G90", "M83"]
DEEP_MM = 5.0
"""A layer and half a bead: what lies no further below the top is not told."""


def text(*parts: list[str]) -> str:
    """A program of these."""
    return "\n".join([*HEAD, *(line for part in parts for line in part), ""])


def path(places: list[Place]) -> list[str]:
    """A travel to the first, and clay on from there."""
    words = [f"X{x:.3f} Y{y:.3f} Z{z:.3f}" for x, y, z in places]
    return [f"G0 {words[0]} F3000", *(f"G1 {word} E0.1 F1200" for word in words[1:])]


def ring(
    x_mm: float, z_mm: float, *, radius_mm: float = 20, wave_mm: float = 0, sides: int = 36
) -> list[str]:
    """A polygon round y 100, begun and ended at its right; its three waves are highest 30 degrees on."""
    turns = [2 * math.pi * side / sides for side in range(sides + 1)]
    return path(
        [
            (
                x_mm + radius_mm * math.cos(turn),
                100 + radius_mm * math.sin(turn),
                z_mm + wave_mm * math.sin(3 * turn),
            )
            for turn in turns
        ]
    )


def wall(x_mm: float, layers: int = 10, *, radius_mm: float = 20, wave_mm: float = 0) -> list[str]:
    """Rings one on the other, 2 mm each; the lowest begins at 2 mm, or with a wave at its own depth above that."""
    heights = [2.0 * number + wave_mm for number in range(1, layers + 1)]
    return [line for z_mm in heights for line in ring(x_mm, z_mm, radius_mm=radius_mm, wave_mm=wave_mm)]


def crossed(tmp_path: Path, program: str, chunk_bytes: int | None = None) -> list[Finding]:
    """What is told of it, read in blocks of that size."""
    file = tmp_path / "pot.gcode"
    file.write_text(program)
    config = Config.model_validate(
        {**CONFIG, "clay": {"bead_width_mm": 6, "metering": {"unit": "ml", "ml_per_unit": 1}}}
    )
    preflight = Preflight(config)
    source = Source(file) if chunk_bytes is None else Source(file, chunk_bytes=chunk_bytes)
    survey = survey_source(source, config, None, (preflight.observe,))
    return [f for f in preflight.findings(Plan(survey, config)) if f.name == "wall-crossed"]


WALL = wall(100)
"""From x 80 to x 120, 20 mm high; it ends on its right, X120 Y100."""


@pytest.mark.parametrize(
    ("ways", "line", "count", "at_mm"),
    [
        (["G0 Z10", "G0 X200 Y200", "G0 Z20"], 0, 2, "10.0"),  # down into the wall, and out of it through it
        (["G0 Z5", "G0 Z20"], 0, 2, "5.0"),  # down, and up again
        (["G0 X100", "G0 Z10", "G0 X160"], 2, 1, "10.0"),  # from the middle right across
        (
            ["G0 X60 Z2"],
            0,
            1,
            "8.0",
        ),  # slanting, through the other side: two thirds of the way from 20 down to 2 mm
        (["G91", "G0 Z-10"], 1, 1, "10.0"),
    ],
    ids=["dragged out", "down and up", "across", "slanting", "relative"],
)
def test_a_way_through_the_wall(check: Check, ways: list[str], line: int, count: int, at_mm: str) -> None:
    """It is told by line, layer and both heights."""
    found = check(text(WALL, ways), CONFIG)
    assert set(found) == {"wall-crossed"}
    finding = found["wall-crossed"]
    assert (finding.severity, finding.line, finding.count) == ("warning", len(HEAD) + len(WALL) + line, count)
    assert finding.text.startswith(
        f"in layer 10 the nozzle is moved through clay that stands: it is {at_mm} mm up where"
    )
    assert "the clay is 20.0 mm high" in finding.text


@pytest.mark.parametrize(
    ("low_mm", "told"), [(20 - DEEP_MM - 0.1, True), (20 - DEEP_MM + 0.1, False), (20, False)]
)
def test_it_is_told_from_a_layer_and_half_a_bead_on(check: Check, low_mm: float, told: bool) -> None:
    """Less deep it scrapes what a bead's own height and roundness may be."""
    ways = ["G0 X100", f"G0 Z{low_mm}", "G0 X160"]
    assert ("wall-crossed" in check(text(WALL, ways), CONFIG)) == told


@pytest.mark.parametrize(("aside_mm", "told"), [(1.4, True), (1.6, False), (8, False)])
def test_beside_a_bead_s_middle_it_is_not_told(check: Check, aside_mm: float, told: bool) -> None:
    """Nearer to the bead's edge than to its middle, a quarter of its width, nobody can tell how wide it came out."""
    strokes = [
        line for number in range(1, 11) for line in path([(100, 100, 2 * number), (100, 160, 2 * number)])
    ]
    ways = ["G0 Z40", f"G0 X{100 + aside_mm}", "G0 Y130", "G0 Z2"]
    assert ("wall-crossed" in check(text(strokes, ways), CONFIG)) == told


def test_in_the_middle_of_a_layer(check: Check) -> None:
    """The nozzle comes back where it was, and lays on: what is laid later than the way doesn't count."""
    half = 5 * 37 + 10
    found = check(text(WALL[:half], ["G0 Z2", "G0 Z12"], WALL[half:]), CONFIG)["wall-crossed"]
    assert (found.line, found.count) == (len(HEAD) + half, 2)
    assert "in layer 6" in found.text
    assert "2.0 mm up where the clay is 12.0 mm high" in found.text


def test_a_wall_of_arcs(check: Check) -> None:
    """An arc's ends alone would leave it open on its far side."""
    arcs = [
        line for number in range(1, 11) for line in (f"G0 X120 Y100 Z{2 * number} F3000", "G2 I-20 E1 F1200")
    ]
    inside = ["G0 Z40", "G0 X100", "G0 Z4", "G0 X90 Y105"]
    assert "wall-crossed" not in check(text(arcs, inside), CONFIG)
    found = check(text(arcs, inside, ["G0 X60 Y105"]), CONFIG)["wall-crossed"]
    assert (found.line, found.count) == (len(HEAD) + len(arcs) + len(inside), 1)


@pytest.mark.parametrize(
    ("way", "told"),
    [
        ("G2 X150 Y100 I-50 J0", True),  # a whole circle: its chord is a point; it goes through X 50 and 150
        ("G3 X80 Y100 I-35 J0", True),  # half of one, R 35, to the wall's other side
        ("G2 X50 Y100 I-50 J0", False),  # half of one, R 50, round the wall, whose chord leads right across
        ("G2 X50 Y100 R50", False),
    ],
    ids=["whole", "onto the far side", "round it", "round it, by R"],
)
def test_a_way_on_an_arc(check: Check, way: str, told: bool) -> None:
    """Its own way counts, not its chord: a second pot stands at x 50, in the way of the whole circle alone."""
    other = ring(50, 20, radius_mm=8) if way == "G2 X150 Y100 I-50 J0" else []
    found = check(text(WALL, other, ["G0 Z60", "G0 X150", "G0 Z10", way]), CONFIG)
    assert ("wall-crossed" in found) == told
    if told:
        assert found["wall-crossed"].line == len(HEAD) + len(WALL) + len(other) + 3
        assert found["wall-crossed"].count == 1


@pytest.mark.parametrize(("turn", "told"), [("G3", True), ("G2", False)], ids=["dips", "rises"])
def test_a_way_on_an_arc_that_stands_upright(check: Check, turn: str, told: bool) -> None:
    """From Z to X (NIST RS274/NGC report, section 3.5.3): half a circle, R 20, from X 140 down to Z 10 in the wall at X 120."""
    over = ["G0 Z30", "G0 X140", "G18", f"{turn} X100 Z30 I-20 K0", "G17"]
    found = check(text(WALL, over), CONFIG)
    assert ("wall-crossed" in found) == told
    if told:
        assert found["wall-crossed"].line == len(HEAD) + len(WALL) + 3
        assert "10.0 mm up where the clay is 20.0 mm high" in found["wall-crossed"].text


@pytest.mark.parametrize("chunk_bytes", [40, 997, 4096, 10**6])
def test_where_the_file_is_cut_can_t_be_seen(tmp_path: Path, chunk_bytes: int) -> None:
    """A way down in the middle, and one across at the end, in blocks of any size."""
    program = text(WALL[:200], ["G0 Z1", "G0 Z12"], WALL[200:], ["G0 X100", "G0 Z10", "G0 X160"])
    (found,) = crossed(tmp_path, program, chunk_bytes)
    assert (found.line, found.count) == (len(HEAD) + 200, 3)
    assert "1.0 mm up where the clay is 12.0 mm high" in found.text


CUPS = [line for number in range(1, 16) for x in (60, 120, 180) for line in ring(x, 2 * number)]
LIFT = ["G0 Z60"]
ONE_BY_ONE = [line for x in (60, 130, 200) for line in [*LIFT, f"G0 X{x + 20} Y100", *wall(x, 15)]]
ONE_IN_THE_OTHER = [*wall(100, 15, radius_mm=50), *LIFT, "G0 X120 Y100", *wall(100, 15)]
UNEVEN = [
    line
    for place, layers in enumerate((20, 10, 30, 15))
    for line in [
        *LIFT,
        f"G0 X100 Y{100 + 6 * place}",
        "G0 Z2",
        *(
            line
            for number in range(1, layers + 1)
            for line in path([(100, 100 + 6 * place, 2 * number), (160, 100 + 6 * place, 2 * number)])
        ),
    ]
]
WAVES = wall(100, 12, radius_mm=40, wave_mm=10)
THERE_AND_BACK = [
    line
    for number in range(12)
    for line in path(
        [(100 + 2 * at, 100, 2 + 2 * number + 15 * (1 - math.cos(at / 6))) for at in range(40)][
            :: 1 - 2 * (number % 2)
        ]
    )
]
RISES = [
    f"G1 X{100 + 20 * math.cos(a / 6):.3f} Y{100 + 20 * math.sin(a / 6):.3f} Z{2 + a / 20:.3f} E0.1"
    for a in range(400)
]
BASE = [line for z in (2, 4, 6) for y in range(70, 130, 6) for line in path([(70, y, z), (130, y, z)])]
PARK_HALF_WAY = [*WALL[:185], *LIFT, "G0 X10 Y10", "G0 Z1", *LIFT, "G0 X120 Y100", *WALL[185:]]


@pytest.mark.parametrize(
    "lines",
    [
        CUPS,
        ONE_BY_ONE,
        ONE_IN_THE_OTHER,
        UNEVEN,
        WAVES,
        THERE_AND_BACK,
        [*RISES, "G0 Z60"],
        [*BASE, *wall(100, 12)[3 * 37 :]],
        PARK_HALF_WAY,
        [*WALL, *LIFT, "G0 X5 Y5", "G0 Z0"],
        [*WALL, "G0 X180 Z1"],
        [*WALL, "G0 X160", "G0 Z1", "G0 Y20"],
        [*WALL, "G1 Z21", "G1 X100", "G1 Z2"],
    ],
    ids=[
        "cups side by side",
        "one by one",
        "one in the other",
        "strokes a bead apart",
        "waves",
        "waves there and back",
        "helix",
        "base",
        "park half-way",
        "park at the end",
        "slanting away from it",
        "out over the top, then down",
        "down into the middle",
    ],
)
def test_ways_where_nothing_stands(tmp_path: Path, lines: list[str]) -> None:
    """Travels at a layer's height, down beside what stands, along the slope of a wave, to a park beside the piece."""
    assert crossed(tmp_path, text(lines)) == []


def test_a_way_through_a_wave_s_crest(check: Check) -> None:
    """All of its seams lie below the crests; one way leads through these."""
    ways = ["G0 X100", "G0 Z16", "G0 X134.64 Y120"]  # to the first crest, 40 mm out at 30 degrees, 44 mm high
    found = check(text(WAVES, ways), CONFIG)["wall-crossed"]
    assert (found.line, found.count) == (len(HEAD) + len(WAVES) + 2, 1)
    assert "16.0 mm up where the clay is 44.0 mm high" in found.text


def test_of_very_many_ways_the_deepest_are_looked_at(check: Check, monkeypatch: pytest.MonkeyPatch) -> None:
    """Strokes all over a slope have as many ways below its top as strokes; one that is dragged goes lowest."""
    monkeypatch.setattr(throughwall, "MOST_PAIRS", 4)  # the third is the one that comes from the machine's zero
    ways = ["G0 X100", "G0 Z1", "G0 X134.64 Y120"]
    found = check(text(WAVES, ways), CONFIG)["wall-crossed"]
    assert found.line == len(HEAD) + len(WAVES) + 2


def brushed(layers: int, strokes: int) -> list[str]:
    """A wall, and after each of its layers so many strokes at 1 mm beside it, as over a wet brush."""
    return [
        line
        for number in range(1, layers + 1)
        for line in [
            *ring(100, 2 * number),
            "G0 X200",
            "G0 Z1",
            *(f"G0 X{200 + 15 * (stroke % 2)} Y{100 + stroke}" for stroke in range(strokes)),
            "G0 X200 Y100",
            f"G0 Z{2 * number + 2}",
        ]
    ]


@pytest.mark.parametrize("strokes", [10, 40])
def test_low_ways_beside_the_piece_take_no_place(check: Check, strokes: int) -> None:
    """However many there are, and lower than the one that leads through the wall, at the file's end."""
    lines = [*brushed(100, strokes), "G0 Z250", "G0 X100", "G0 Z10", "G0 X160"]
    found = check(text(lines), CONFIG)["wall-crossed"]
    assert (found.line, found.count) == (len(HEAD) + len(lines) - 1, 1)
    assert "10.0 mm up where the clay is 200.0 mm high" in found.text


def test_what_no_longer_goes_along_with_the_piece(check: Check) -> None:
    """Where the steps move the piece elsewhere, a way of the file after it leads through nothing."""
    ways = ["G0 Z40", "G0 X100", "G0 Z10", "G0 X160"]
    last = len(HEAD) + len(WALL)
    away = Shift(3, last, (100.0, 0.0, 0.0))
    assert "wall-crossed" not in check(text(WALL, ways), CONFIG, [wanting(away)])
    along = Shift(3, last + len(ways), (100.0, 0.0, 0.0))
    assert check(text(WALL, ways), CONFIG, [wanting(along)])["wall-crossed"].line == last + 3
