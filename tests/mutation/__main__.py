"""Changes of the core, and whether a test notices each: `python -m tests.mutation --sample 300 --seed 1`.

Prints each change that no test noticed, and the share that was; what takes too long counts as neither. The tests are
first run without any change. Not a part of the usual run: a change that nothing notices takes as long as all tests
that concern it, some minutes.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections import Counter

from tests.mutation.mutants import ROOT, Mutant, drawn, mutants_of
from tests.mutation.runs import load, results, unchanged


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--sample", type=int, default=300, help="how many changes")
    parser.add_argument("--seed", type=int, default=0, help="another seed draws other ones")
    parser.add_argument("--folder", default="", help="only of files whose path begins so")
    parser.add_argument("--only", nargs="*", default=[], help="these changes, by the names that were printed")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument(
        "--most-s", type=float, default=600.0, help="a change that takes longer is left undecided"
    )
    parser.add_argument("--show", action="store_true", help="say of each noticed one by which test")
    parser.add_argument("--known-to-pass", action="store_true", help="don't run the tests unchanged first")
    options = parser.parse_args()
    mutants = [_named(name) for name in options.only] or drawn(options.sample, options.seed, options.folder)
    load()
    before = [] if options.known_to_pass else unchanged(mutants)
    for run in results(before, options.processes, 10 * options.most_s):
        if run.verdict != "not noticed":
            print(f"without any change the tests of {run.mutant.path} don't pass: {run.verdict} {run.by}")
            return 2
        print(f"unchanged: {run.seconds:.0f} s for the tests of {run.mutant.path}", flush=True)
    counts: Counter[str] = Counter()
    for run in results(mutants, options.processes, options.most_s):
        counts[run.verdict] += 1
        if options.show or run.verdict in ("not noticed", "too slow", "not tried"):
            print(
                f"{run.verdict} {run.seconds:.0f} s {run.mutant.name} {run.by}\n    {run.mutant.difference()}",
                flush=True,
            )
    decided = counts["noticed"] + counts["not noticed"]
    print(f"{counts['noticed']} of {decided} noticed; {counts.total() - decided} more were not decided")
    return 0 if counts["noticed"] == len(mutants) else 1


def _named(name: str) -> Mutant:
    path = name.partition(":")[0]
    return next(mutant for mutant in mutants_of(ROOT / path) if mutant.name == name)


if __name__ == "__main__":
    sys.exit(main())
