"""Many drawn walls, each held against its truth: `python -m tests.survey.walls_run --count 20000 --seed 1`.

Prints a line a kind: how many come out right, of how many the survey says that their layers can't be told, and how
many it silently misreads, with the seeds of those. Ends with status 1 if there are any.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.reference.walls import KINDS, seeded
from tests.survey.wallcheck import Verdict, differences, judge, survey_wall

SHOWN = 12
"""So many seeds of misread walls are printed a kind."""
VERDICTS: tuple[Verdict, ...] = ("right", "odd said", "wrong")
Result = tuple[int, str, Verdict, str]
"""Seed, kind, verdict, and what differs first."""


def try_seeds(seeds: Sequence[int]) -> list[Result]:
    """Draw these walls and judge how each is read."""
    with tempfile.TemporaryDirectory() as folder:
        return [try_seed(seed, Path(folder) / "wall.gcode") for seed in seeds]


def try_seed(seed: int, path: Path) -> Result:
    """Draw one wall and judge how it is read. A survey that fails is a misreading."""
    wall = seeded(seed)
    try:
        survey = survey_wall(wall, path)
        return (seed, wall.kind, judge(survey, wall), "; ".join(differences(survey, wall)[:1]))
    except Exception as error:
        return (seed, wall.kind, "wrong", f"{type(error).__name__}: {error}")


def results(first: int, count: int, processes: int) -> Iterator[Result]:
    """All of them, in the order of seeds."""
    seeds = range(first, first + count)
    parts = [seeds[i : i + 50] for i in range(0, count, 50)]
    with ProcessPoolExecutor(processes) as pool:
        for part in pool.map(try_seeds, parts):
            yield from part


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.survey.walls_run", description=__doc__)
    parser.add_argument("--count", type=int, default=2000, help="how many walls")
    parser.add_argument("--seed", type=int, default=0, help="of the first; the others follow by one")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--why", action="store_true", help="say of each misread wall what differs first")
    options = parser.parse_args()
    counts: Counter[tuple[str, Verdict]] = Counter()
    wrong: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for seed, kind, verdict, why in results(options.seed, options.count, options.processes):
        counts[kind, verdict] += 1
        if verdict == "wrong":
            wrong[kind].append((seed, why))
    print(f"{'kind':10}" + "".join(f"{verdict:>10}" for verdict in VERDICTS) + "  seeds of the wrong ones")
    for kind in KINDS:
        seeds = " ".join(str(seed) for seed, _ in wrong[kind][:SHOWN])
        print(f"{kind:10}" + "".join(f"{counts[kind, verdict]:10}" for verdict in VERDICTS) + f"  {seeds}")
    for kind, seed, why in [(k, *w) for k in wrong for w in wrong[k]] if options.why else []:
        print(f"{kind:10} {seed}: {why}")
    totals = [sum(counts[kind, verdict] for kind in KINDS) for verdict in VERDICTS]
    share = totals[0] / sum(totals)
    print(f"{'all':10}" + "".join(f"{total:10}" for total in totals) + f"  {share:.2%} right")
    return 1 if totals[-1] else 0


if __name__ == "__main__":
    raise SystemExit(main())
