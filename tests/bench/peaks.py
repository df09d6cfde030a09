"""Peak memory of the survey and of the whole job on files made to fill it: python -m tests.bench.peaks."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from itertools import islice
from math import cos, pi, sin
from pathlib import Path

import click

Lines = Iterator[str]

MOST_MB = {
    "long-turns": 120,
    "level-ring": 200,
    "level-strokes": 200,
    "many-turns": 200,
    "rising-scribble": 200,  # its strokes count as layers
    "sets": 180,  # two million commands take 32 MB, and as much again where they are looked through
    "m-codes": 170,
    "many-layers": 220,  # 200 for the survey; `taper` asks for another feed in nearly each of them
}
"""What each may take, with the interpreter itself; the others 150."""
USUAL_MOST_MB = 150

RING = [f"G1 X{100 + 40 * cos(pi * k / 32):.3f} Y{100 + 40 * sin(pi * k / 32):.3f}" for k in range(65)]
RECIPE = """
machine: {nozzle_mm: 4, ceiling_mm: 100000}
cartridge: {volume_ml: 1000000, line_ml: 0}
steps:
  - cold
  - fan: {bands: [{from_layer: 1, level_percent: 0}, {from_layer: 4, level_percent: 20}]}
  - taper: {from_height_mm: 5, to_percent: 60, floor_mm_min: 600}
  - tally
"""

ALLOWED = ("--allow", "odd-layers")


def _wall(first: int = 1) -> Lines:
    """Three level rings, so that there is a piece; the first one is so many layers up."""
    yield "M83"
    yield "G1 F1800"
    for layer in range(first, first + 3):
        yield f"G0 X140 Y100 Z{2 * layer}"
        for place in RING[1:]:
            yield f"{place} E0.4"


def same_travel(count: int) -> Lines:
    """One travel, said again and again, before the piece, between its layers and after it."""
    yield from _wall()
    for _ in range(count):
        yield "G1 X1"
    yield from _wall(4)


def travels(count: int) -> Lines:
    """To and fro, without clay."""
    yield from _wall()
    for _ in range(count // 2):
        yield "G1 X1"
        yield "G1 X2"


def travel_here_and_there(count: int) -> Lines:
    """A hundred travels for each stroke of clay."""
    yield from _wall()
    for place in islice(_round_and_round(), count // 100):
        for k in range(99):
            yield f"G1 X{k}"
        yield f"{place} E0.4"


def _round_and_round() -> Lines:
    while True:
        yield from RING


def no_feed(count: int) -> Lines:
    """Moves of E alone, a little forward and back."""
    yield from _wall()
    for _ in range(count // 2):
        yield "G1 E1"
        yield "G1 E-1"


def sets(count: int) -> Lines:
    """G92 on every line."""
    yield from _wall()
    for _ in range(count):
        yield "G92 E0"


def level_ring(count: int) -> Lines:
    """One level ring of so many segments, then a piece on it."""
    yield "M83"
    yield "G0 X160 Y100 Z1 F1800"
    for k in range(1, count + 1):
        yield f"G1 X{100 + 60 * cos(2 * pi * k / count):.5f} Y{100 + 60 * sin(2 * pi * k / count):.5f} E.0001"
    yield from _wall(2)


def level_strokes(count: int) -> Lines:
    """One level layer, to and fro, with a travel between the strokes."""
    yield "M83"
    yield "G0 X0 Y0 Z1 F1800"
    for k in range(count // 2):
        yield f"G1 X{100 if k % 2 else 0} E0.4"
        yield f"G0 Y{k % 100}"
    yield from _wall(2)


def one_turn(count: int) -> Lines:
    """One turn of a rising wall with so many segments, and another."""
    yield "M83"
    yield "G0 X160 Y100 Z1 F1800"
    for k in range(1, 2 * count + 1):
        x, y = 100 + 60 * cos(2 * pi * k / count), 100 + 60 * sin(2 * pi * k / count)
        yield f"G1 X{x:.5f} Y{y:.5f} Z{1 + 2 * k / count:.6f} E.0001"


def long_turns(count: int) -> Lines:
    """A round wall that rises, with 99,000 segments a turn."""
    yield "M83"
    yield "G0 X140 Y100 Z1 F1800"
    turn = 99_000
    for k in range(1, count + 1):
        at = 2 * pi * k / turn
        yield f"G1 X{100 + 40 * cos(at):.4f} Y{100 + 40 * sin(at):.4f} Z{1 + 2 * k / turn:.5f} E0.0025"


def rising_scribble(count: int) -> Lines:
    """A wall that rises and never goes round: to and fro."""
    yield "M83"
    yield "G0 X0 Y0 Z1 F1800"
    for k in range(count):
        yield f"G1 X{100 * (k % 2)} Y{k % 7} Z{1 + k / count:.6f} E.01"


def many_layers(count: int) -> Lines:
    """So many level layers of five lines."""
    yield "M83"
    yield "G0 X0 Y0 Z1 F1800"
    for layer in range(count):
        yield f"G1 Z{1 + layer * 0.01:.2f}"
        yield "G1 X50 Y0 E1"
        yield "G1 X50 Y50 E1"
        yield "G1 X0 Y50 E1"
        yield "G1 X0 Y0 E1"


def many_turns(count: int) -> Lines:
    """So many turns of a rising wall of five lines."""
    yield "M83"
    yield "G0 X0 Y0 Z1 F1800"
    for turn in range(count):
        z = 1 + turn * 0.01
        for k, (x, y) in enumerate(((50, 0), (60, 30), (25, 50), (0, 30), (0, 0))):
            yield f"G1 X{x} Y{y} Z{z + (k + 1) * 0.002:.3f} E1"


def m_codes(count: int) -> Lines:
    """The air switched on and on."""
    yield from _wall()
    for k in range(count):
        yield f"M106 S{k % 200}"
    yield from _wall(4)


def pauses(count: int) -> Lines:
    """The file's own pauses."""
    yield from _wall()
    for _ in range(count):
        yield "M0"


def names(count: int) -> Lines:
    """Named commands, no two alike."""
    yield from _wall()
    for k in range(count):
        yield f"DO_{k} A=1"


def g_codes(count: int) -> Lines:
    """Codes that gpost doesn't know, no two alike."""
    yield from _wall()
    for k in range(count):
        yield f"G{100 + k % 9000}"


def feeds(count: int) -> Lines:
    """Another feed on each line."""
    yield "M83"
    yield "G0 X140 Y100 Z2 F1800"
    for k, place in enumerate(islice(_round_and_round(), count)):
        yield f"{place} E0.4 F{600 + k % 7}"
        if k % len(RING) == 0:
            yield f"G0 Z{2 + k / len(RING):.2f}"


def remarks(count: int) -> Lines:
    """Comments and blank lines alone, between two layers."""
    yield from _wall()
    for _ in range(count):
        yield "; nothing"
    yield from _wall(4)


SHAPES = {
    "same-travel": (same_travel, 10_000_000),
    "travels": (travels, 10_000_000),
    "travel-here-and-there": (travel_here_and_there, 5_000_000),
    "in-place": (no_feed, 5_000_000),
    "sets": (sets, 2_000_000),
    "level-ring": (level_ring, 2_000_000),
    "level-strokes": (level_strokes, 2_000_000),
    "one-turn": (one_turn, 1_000_000),
    "long-turns": (long_turns, 1_000_000),
    "rising-scribble": (rising_scribble, 2_000_000),
    "many-layers": (many_layers, 420_000),
    "many-turns": (many_turns, 420_000),
    "m-codes": (m_codes, 2_000_000),
    "pauses": (pauses, 2_000_000),
    "names": (names, 2_000_000),
    "g-codes": (g_codes, 2_000_000),
    "feeds": (feeds, 2_000_000),
    "remarks": (remarks, 10_000_000),
}


@click.command()
@click.option("--only", "only", multiple=True, type=click.Choice(list(SHAPES)), help="Repeatable.")
@click.option("--share", default=1.0, show_default=True, help="Part of the lines, for a quick look.")
def peaks(only: tuple[str, ...], share: float) -> None:
    """Prints a row for each shape: peak in MB and seconds, of the survey and of a run with four steps."""
    over = 0
    click.echo(f"{'shape':<22} {'lines':>10} {'MB':>6} | {'survey':>7} {'s':>6} | {'run':>7} {'s':>6} | most")
    with tempfile.TemporaryDirectory() as folder:
        recipe = Path(folder) / "recipe.yaml"
        recipe.write_text(RECIPE)
        for name in only or SHAPES:
            shape, count = SHAPES[name]
            path = Path(folder) / f"{name}.gcode"
            with path.open("w") as out:
                out.writelines(f"{line}\n" for line in shape(int(count * share)))
            most = MOST_MB.get(name, USUAL_MOST_MB)
            survey = _measure(["survey", str(path)])
            run = _measure(
                ["run", str(path), "-c", str(recipe), "-o", str(path.with_suffix(".out")), *ALLOWED]
            )
            size = path.stat().st_size / 1e6
            told = " | ".join(f"{peak:>7.0f} {seconds:>6.1f}" for peak, seconds in (survey, run))
            much = max(survey[0], run[0]) > most
            over += much
            click.echo(f"{name:<22} {int(count * share):>10} {size:>6.0f} | {told} | {most}{' OVER' * much}")
            for file in Path(folder).glob(f"{name}.*"):
                file.unlink()
    sys.exit(1 if over else 0)


def _measure(words: list[str]) -> tuple[float, float]:
    """Peak in MB and seconds of one command, as a process of its own."""
    code = (
        "import json, resource, subprocess, sys, time\n"
        "start = time.perf_counter()\n"
        "done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)\n"
        "peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024\n"
        "print(json.dumps([peak, time.perf_counter() - start, done.returncode, done.stderr[-400:]]))\n"
    )
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    command = [sys.executable, "-c", code, sys.executable, "-m", "gpost", *words]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True, env=environment)
    peak, seconds, status, told = json.loads(done.stdout)
    if status:
        click.echo(f"  {words[0]}: status {status}: {told.strip()[-300:]}", err=True)
    return float(peak), float(seconds)


if __name__ == "__main__":
    peaks()
