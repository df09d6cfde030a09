"""Times the start: `gpost run` on a short file, and `gpost --help`, beside what numpy alone takes to load."""

from __future__ import annotations

import compileall
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import click

ROUNDS = 20
NUMPY = "import numpy"


class Took(NamedTuple):
    """Of one process and its threads, s."""

    user: float
    both: float
    """In the program and in the system."""
    wall: float


@click.command()
@click.option("--mb", default=1.0, show_default=True, help="Size of the file.")
@click.option("--rounds", default=ROUNDS, show_default=True)
def start(mb: float, rounds: int) -> None:
    """The best of the rounds, all commands in turn, so that a noisy moment hits them alike; read the ratios."""
    from tests.bench.recipe import TEXT

    compiled()
    with tempfile.TemporaryDirectory() as folder:
        path, config = Path(folder) / "vase.gcode", Path(folder) / "recipe.yaml"
        config.write_text(TEXT)
        subprocess.run([sys.executable, "-m", "tests.bench", "make", path, str(mb), "rise"], check=True)
        size = path.stat().st_size
        job = [path, "-c", config, "-o", path.with_suffix(".out"), "--overwrite"]
        commands: dict[str, Sequence[str | Path]] = {
            NUMPY: ["-c", NUMPY],
            "gpost --help": ["-m", "gpost", "--help"],
            f"gpost run, {size / 1e6:.2f} MB": ["-m", "gpost", "run", *job],
        }
        found: dict[str, list[Took]] = {name: [] for name in commands}
        for _ in range(rounds):
            for name, words in commands.items():
                found[name].append(_took([sys.executable, *words]))
    best = {name: Took(*map(min, zip(*took, strict=True))) for name, took in found.items()}
    for name, took in best.items():
        parts = zip(Took._fields, took, best[NUMPY], strict=True)
        click.echo(
            f"{name:22}" + "".join(f"  {what} {s * 1e3:4.0f} ms x {s / n:4.2f}" for what, s, n in parts)
        )


def compiled() -> None:
    """Compile gpost as its installation does.

    Python would do so at the first run, but where PYTHONDONTWRITEBYTECODE is set it keeps nothing of a clone:
    then it compiles gpost anew at each start, and numpy not.
    """
    import gpost_plugins

    import gpost

    for package in (gpost, gpost_plugins):
        compileall.compile_dir(package.__path__[0], quiet=1)


def _took(words: Sequence[str | Path]) -> Took:
    """Raises CalledProcessError if the command fails."""
    begin = time.perf_counter()
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    wall = time.perf_counter() - begin
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise subprocess.CalledProcessError(process.returncode, words)
    return Took(used.ru_utime, used.ru_utime + used.ru_stime, wall)


if __name__ == "__main__":
    start()
