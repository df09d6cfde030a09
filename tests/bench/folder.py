"""`python -m tests.bench.folder`: a folder of vases by one process and by two; time, and memory as it goes on."""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click

from tests.bench.recipe import TEXT


@click.command()
@click.option("--files", default=40, show_default=True)
@click.option("--mb", default=1, show_default=True, help="Size of each.")
@click.option("--jobs", multiple=True, default=(1, 2), type=int, show_default=True)
def folder(files: int, mb: int, jobs: tuple[int, ...]) -> None:
    """Each number of processes in turn, on the same folder."""
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        (work / "recipe.yaml").write_text(TEXT)
        vases = work / "vases"
        vases.mkdir()
        first = vases / "0000.gcode"
        subprocess.run([sys.executable, "-m", "tests.bench", "make", first, str(mb), "rise"], check=True)
        for number in range(1, files):
            (vases / f"{number:04}.gcode").write_bytes(first.read_bytes())
        alone_s = 0.0
        for processes in jobs:
            took_s = _batch(work, processes)
            alone_s = alone_s or took_s
            largest = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
            click.echo(
                f"{files} files of {mb} MB, {processes} processes: {took_s:.1f} s, x {alone_s / took_s:.2f}, "
                f"largest process {largest:.0f} MB"
            )


def _batch(work: Path, processes: int) -> float:
    """Seconds that a batch into a new folder takes."""
    begin = time.perf_counter()
    arguments = ["batch", work / "vases", "-c", work / "recipe.yaml", "-o", work / f"out{processes}"]
    subprocess.run(
        [sys.executable, "-m", "gpost", *arguments, "--jobs", str(processes)],
        check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    return time.perf_counter() - begin


if __name__ == "__main__":
    folder()
