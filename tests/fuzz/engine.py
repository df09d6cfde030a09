"""The loop: mutates what it knows, keeps what ends in a new way, and saves what fails."""

from __future__ import annotations

import hashlib
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from tests.fuzz.mutate import mutated
from tests.fuzz.targets import TARGETS, Hang, do


@dataclass
class Fuzzer:
    """One target, what was tried, and what failed."""

    what: str
    work: Path
    """An empty folder for the cases."""
    found: Path
    """The folder for inputs that fail."""
    executions: int = 0
    endings: set[str] = field(default_factory=set)
    failures: dict[str, Path] = field(default_factory=dict)
    """The input by the place in the code where it failed; one is kept for each."""

    def try_one(self, data: bytes) -> bool:
        """Do a case; whether it ended in a way that is new."""
        self.executions += 1
        try:
            ending = do(TARGETS[self.what], data, self.work)
        except (Exception, Hang) as error:
            self._fail(data, error)
            return False
        new = ending not in self.endings
        self.endings.add(ending)
        return new

    def _fail(self, data: bytes, error: BaseException) -> None:
        last = traceback.extract_tb(error.__traceback__)[-1]
        place = (
            "hang"
            if isinstance(error, Hang)
            else f"{type(error).__name__} at {last.filename}:{last.lineno}: {error}"
        )
        if place[:150] in self.failures:
            return
        self.found.mkdir(parents=True, exist_ok=True)
        path = self.found / f"{self.what}-{hashlib.sha256(data).hexdigest()[:12]}.bin"
        path.write_bytes(data)
        self.failures[place[:150]] = path
        print(f"FAILED: {path}: {place[:500]}", flush=True)

    def report(self, seed: int, seconds: float) -> str:
        """One line on what was done."""
        return (
            f"{self.what}: {self.executions} executions in {seconds:.0f} s, seed {seed}, "
            f"{len(self.endings)} endings, {len(self.failures)} failures"
        )


def drive(
    fuzzer: Fuzzer,
    seeds: Sequence[bytes],
    seed: int,
    *,
    seconds: float = float("inf"),
    cases: float = float("inf"),
) -> None:
    """Try the seeds, then what can be made of them, until the time or the number of cases is reached."""
    draw = Random(seed)
    known = list(seeds)
    for data in seeds:
        fuzzer.try_one(data)
    until = time.monotonic() + seconds
    while time.monotonic() < until and fuzzer.executions < cases:
        data = mutated(draw.choice(known), draw, known)
        if fuzzer.try_one(data):
            known.append(data)
