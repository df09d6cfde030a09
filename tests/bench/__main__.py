"""Times the whole job and its stages against what somebody could do instead; prints a table and JSON."""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click

ROUNDS = 5
BASES = ("plain_loop", "text_loop", "gcodeparser")
"""What the others are compared with."""
LONGEST_TURN = 2000
"""Segments; few walls have more in one turn."""
KINDS = {
    "flat": ("flat", False),
    "flat, relative E": ("flat", True),
    "rise": ("rise", False),
    "rise, relative E": ("rise", True),
}


@click.command()
@click.option(
    "--mb", "sizes", multiple=True, type=int, default=(1, 50), help="Size of the files; repeatable."
)
@click.option("--rounds", default=ROUNDS, show_default=True)
@click.option("--kind", "kinds", multiple=True, type=click.Choice(list(KINDS)), default=tuple(KINDS))
@click.option("--only", multiple=True, help="Only these contenders.")
@click.option("--json", "json_path", type=click.Path(path_type=Path), help="Write the figures here too.")
def bench(
    sizes: tuple[int, ...], rounds: int, kinds: tuple[str, ...], only: tuple[str, ...], json_path: Path | None
) -> None:
    """Median of the rounds, all contenders side by side, with ratios to the loops and to gcodeparser."""
    from tests.bench.contenders import CONTENDERS

    names = [name for name in CONTENDERS if not only or name in only]
    results = []
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            for kind in kinds:
                path = Path(folder) / f"{size}.gcode"
                _in_child(["make", str(path), str(size), kind])
                results += _measure(path, size, kind, names, rounds)
                path.unlink()
    if json_path is not None:
        json_path.write_text(json.dumps(results, indent=1) + "\n")


def _measure(path: Path, size: int, kind: str, names: list[str], rounds: int) -> list[dict[str, object]]:
    """Rounds go through all contenders in turn, so that a noisy moment hits them alike."""
    found: dict[str, list[dict[str, float]]] = {name: [] for name in names}
    for _ in range(rounds):
        for name in names:
            found[name].append(json.loads(_in_child(["time", name, str(path)])))
    rows = []
    for name in names:
        speed, paid = (statistics.median(run[by] for run in found[name]) for by in ("mb_s", "mb_cpu_s"))
        rows.append(
            {
                "mb": size, "kind": kind, "what": name, "mb_s": round(speed, 2),
                "mb_cpu_s": round(paid, 2),
                "peak_mb": round(max(run["peak_mb"] for run in found[name]), 1),
            }
        )  # fmt: skip
    click.echo(f"\n{path.stat().st_size / 1e6:.1f} MB, {kind}; " + ", ".join(f"x {name}" for name in BASES))
    for row in rows:
        ratios = []
        for other in BASES:
            base = next((float(r["mb_s"]) for r in rows if r["what"] == other), None)  # type: ignore[arg-type]
            row[f"to_{other}"] = round(float(row["mb_s"]) / base, 2) if base else None  # type: ignore[arg-type]
            ratios.append(f"{row[f'to_{other}'] or '':>8}")
        click.echo(
            f"  {row['what']:<16} {row['mb_s']:>9.2f} MB/s {row['mb_cpu_s']:>9.2f} MB/s of processor "
            f"{row['peak_mb']:>8.1f} MB peak " + "".join(ratios)
        )
    return rows


def _in_child(arguments: list[str]) -> str:
    # with its compiled modules kept, as every installation keeps them
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    command = [sys.executable, "-m", "tests.bench", *arguments]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True, env=environment)
    return done.stdout


def _time(name: str, path: Path) -> None:
    """In the child: one run, its speed in MB/s, by the clock and by the processor, and its peak memory."""
    from tests.bench.contenders import CONTENDERS

    work = CONTENDERS[name](path)
    start, before = time.perf_counter(), _processor_s()
    done = work()
    seconds, paid = time.perf_counter() - start, _processor_s() - before
    size = done if isinstance(done, int) else path.stat().st_size
    who = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    peak = max(resource.getrusage(one).ru_maxrss for one in who) / 1024
    speeds = {"mb_s": size / seconds / 1e6, "mb_cpu_s": size / paid / 1e6}
    print(json.dumps({**speeds, "seconds": seconds, "peak_mb": peak}))


def _processor_s() -> float:
    """Time in this process and in those that it has started: a shared machine doesn't change it much."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def _make(path: Path, size: float, kind: str) -> None:
    """In the child: write a piece of about so many MB."""
    from dataclasses import replace

    from gpost.demo.gcode import class_pieces
    from tests.sliced import write_piece

    piece, style = class_pieces()["tall-bottle"]
    wall, relative = KINDS[kind]
    style = replace(style, wall=wall, relative_e=relative, heaters=True)
    # about 37 bytes a line, over the 135 layers and the base; what is too long for a turn makes more layers
    segments = max(24, int(size * 1e6 / 37 / 141))
    turns = max(1, round(segments / LONGEST_TURN))
    write_piece(path, replace(piece, segments=segments // turns, layer_mm=piece.layer_mm / turns), style)


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["time", name, path]:
            _time(name, Path(path))
        case ["make", path, size, kind]:
            _make(Path(path), float(size), kind)
        case _:
            bench()
