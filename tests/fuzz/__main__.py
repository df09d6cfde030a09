"""`python -m tests.fuzz --minutes 10 [--seed N] [--what reader|config|job]`: nothing but results and sentences.

With atheris installed (`pip install 'gpost[fuzz]'`) the coverage of the code guides the search.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NoReturn

from tests.fuzz.mutate import LONGEST, mutated

WHATS = ("reader", "config", "job")
FOUND = Path("fuzz-found")


def options() -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--minutes", type=float, default=10, help="for all that is tried together")
    parser.add_argument("--seed", type=int, default=None, help="a run without guidance is the same again")
    parser.add_argument("--what", choices=WHATS, default=None, help="else one after the other")
    parser.add_argument("--unguided", action="store_true", help="don't use atheris")
    parser.add_argument("--found", type=Path, default=FOUND, help="the folder for inputs that fail")
    return parser.parse_args()


def main() -> int:
    """Status 1 if anything failed."""
    chosen = options()
    seed = random.SystemRandom().randrange(1, 2**31) if chosen.seed is None else chosen.seed
    if chosen.what is not None:
        return fuzz(chosen.what, chosen.minutes * 60, seed, chosen.found, guided=not chosen.unguided)
    rest = ["--minutes", str(chosen.minutes / len(WHATS)), "--seed", str(seed), "--found", str(chosen.found)]
    rest += ["--unguided"] if chosen.unguided else []
    command = [sys.executable, "-m", "tests.fuzz", *rest, "--what"]
    return max(subprocess.run([*command, what], check=False).returncode for what in WHATS)


def fuzz(what: str, seconds: float, seed: int, found: Path, *, guided: bool) -> int:
    """Fuzz one target for so many seconds."""
    atheris = None
    if guided:
        try:
            import atheris
        except ImportError:
            print("atheris is not there: the search goes on without guidance", flush=True)
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as work:
        if atheris is not None:
            with atheris.instrument_imports(include=["gpost", "gpost_plugins"]):
                from tests.fuzz.engine import Fuzzer
        from tests.fuzz.engine import Fuzzer, drive
        from tests.fuzz.seeds import SEEDS

        fuzzer = Fuzzer(what, Path(work), found)
        if atheris is not None:
            guide(atheris, fuzzer, SEEDS[what](), seed, seconds)
        drive(fuzzer, SEEDS[what](), seed, seconds=seconds)
    print(fuzzer.report(seed, time.monotonic() - began), flush=True)
    return int(bool(fuzzer.failures))


def guide(atheris, fuzzer, seeds: list[bytes], seed: int, seconds: float) -> NoReturn:  # type: ignore[no-untyped-def]
    """Let atheris choose the cases; it never returns, so the process ends in the middle of one."""
    began = time.monotonic()

    def one(data: bytes) -> None:
        fuzzer.try_one(data)
        if time.monotonic() - began > seconds:
            print(fuzzer.report(seed, time.monotonic() - began) + ", guided", flush=True)
            os._exit(int(bool(fuzzer.failures)))

    def mutate(data: bytes, most: int, number: int) -> bytes:
        return mutated(data, random.Random(number), seeds)[:most]

    with tempfile.TemporaryDirectory() as corpus:
        for index, data in enumerate(seeds):
            (Path(corpus) / str(index)).write_bytes(data)
        flags = [f"-seed={seed}", f"-max_len={LONGEST}", "-verbosity=0", "-len_control=0"]
        # under atheris a case leaves some 130 KB behind that no Python object holds; without it, 2 KB
        flags.append("-rss_limit_mb=8192")
        atheris.Setup([sys.argv[0], *flags, corpus], one, custom_mutator=mutate)
        atheris.Fuzz()
    raise AssertionError("atheris has ended")


if __name__ == "__main__":
    sys.exit(main())
