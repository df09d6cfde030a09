"""A short run of the fuzzer, and what longer runs have found: a result or a GpostError, and nothing else."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from tests.fuzz import targets
from tests.fuzz.engine import Fuzzer, drive
from tests.fuzz.mutate import LONGEST, mutated
from tests.fuzz.seeds import SEEDS
from tests.fuzz.targets import CUT, TARGETS, Hang, Wrong, do

CASES = {"reader": 150, "config": 200, "job": 60}
EXAMPLES = {
    "a step's setting with a name of more than 200 letters": (
        "job",
        b"steps:\n  - swap: {" + b"k" * 201 + b": 1, at_layer: 2}\n" + CUT + b"G1 X1\n",
    ),
    "offsets cleared on the line of a move": (
        "reader",
        b"M83\nG1 X9 Y9 Z1 E5 F600\nG28\nG92.1G1X2\nG1 X5 E5\n",
    ),
    "the same in a job that moves the piece": (
        "job",
        b"steps: [slab: {thickness_mm: 3, x_size_mm: 250, y_size_mm: 250}]\n"
        + CUT
        + b"M83\nG28\nG92 X4\nG92.1G1X20Y20Z1F600\nG1 X60 E5\nG1 Y60 E5\nG1 X20 E5\nG1 Y20 E5\n",
    ),
    "a step with a name of more than 200 letters": ("config", b"steps: [" + b"k" * 201 + b"]\n"),
}
"""Inputs that once ended in another way."""


@pytest.mark.parametrize("what", TARGETS)
def test_nothing_but_results_and_sentences(tmp_path: Path, what: str, long: bool) -> None:
    """Whatever bytes come, each target ends with a result or a GpostError."""
    (tmp_path / "work").mkdir()
    fuzzer = Fuzzer(what, tmp_path / "work", tmp_path / "found")
    drive(fuzzer, SEEDS[what](), seed=1, cases=CASES[what] * (20 if long else 1))
    assert fuzzer.failures == {}
    assert "done" in fuzzer.endings
    assert len(fuzzer.endings) > 20, "the search has gone blind"


@pytest.mark.parametrize(("what", "data"), EXAMPLES.values(), ids=EXAMPLES)
def test_what_was_found_once(tmp_path: Path, what: str, data: bytes) -> None:
    """What once ended in another way ends with a result or a GpostError."""
    assert do(TARGETS[what], data, tmp_path)


def test_the_same_seed_tries_the_same(tmp_path: Path) -> None:
    """The inputs follow from the seed alone, and stay short."""
    seeds = SEEDS["reader"]()
    first, second = ([mutated(data, Random(n), seeds) for n in range(50) for data in seeds] for _ in range(2))
    assert first == second
    assert max(map(len, first)) <= LONGEST


@pytest.mark.parametrize("error", [ZeroDivisionError("1/0"), Wrong("so"), Hang()], ids=type)
def test_failures_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], error: BaseException
) -> None:
    """What is neither a result nor a GpostError is counted, saved once, and named."""

    def target(data: bytes, folder: Path) -> None:
        raise error

    monkeypatch.setitem(TARGETS, "reader", target)
    (tmp_path / "work").mkdir()
    fuzzer = Fuzzer("reader", tmp_path / "work", tmp_path / "found")
    drive(fuzzer, [b"G1 X1\n"], seed=1, cases=5)
    [path] = (tmp_path / "found").iterdir()
    assert path.read_bytes() == b"G1 X1\n"
    assert str(path) in capsys.readouterr().out
    assert "reader: 5 executions" in fuzzer.report(1, 2.0)
    assert "1 failures" in fuzzer.report(1, 2.0)


def test_a_hang_is_a_failure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A case that doesn't end is ended."""

    def target(data: bytes, folder: Path) -> None:
        while True:
            pass

    monkeypatch.setattr(targets, "PATIENCE_S", 0.01)
    with pytest.raises(Hang):
        do(target, b"", tmp_path)
