"""The order of jobs: fewest changes of the colour in the hose."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.workbook.day.order import ColourJob, order_jobs

JOBS = st.lists(st.tuples(st.sampled_from("abcd"), st.sampled_from("abcd")), max_size=6)


def changes(jobs: Sequence[ColourJob]) -> int:
    """How often a job begins with another colour than the one before it ended with."""
    return sum(before[1] != after[0] for before, after in pairwise(jobs))


@given(JOBS)
def test_fewest_changes(jobs: list[ColourJob]) -> None:
    """Every job is done once, runs need no change inside, and no order has fewer changes (all tried)."""
    runs = order_jobs(jobs)
    assert sorted(number for run in runs for number in run) == list(range(len(jobs)))
    assert all(changes([jobs[number] for number in run]) == 0 for run in runs)
    found = [jobs[number] for run in runs for number in run]
    assert changes(found) == max(len(runs) - 1, 0) == min(map(changes, permutations(jobs)))


@pytest.mark.parametrize("light_first", [("white", "grey", "black"), ("black", "white", "grey")])
def test_runs_come_light_to_dark(light_first: tuple[str, ...]) -> None:
    """Pieces of one colour each come in the order of colours that the potter names."""
    jobs = [("grey", "grey"), ("black", "black"), ("white", "white")]
    assert [jobs[run[0]][0] for run in order_jobs(jobs, light_first)] == list(light_first)


def test_colours_without_a_rank_come_as_found() -> None:
    """Colours that the potter doesn't name come after the others, in the order of the jobs."""
    jobs = [("red", "red"), ("blue", "blue"), ("white", "white")]
    assert order_jobs(jobs, ["white"]) == [[2], [0], [1]]


def test_a_piece_of_two_colours_joins_them() -> None:
    """A piece from white to blue is printed after the white ones and before the blue ones: no change."""
    jobs = [("blue", "blue"), ("white", "white"), ("white", "blue")]
    assert order_jobs(jobs) == [[1, 2, 0]]
    assert order_jobs(jobs, ["blue"]) == [[1, 2, 0]]


def test_no_jobs() -> None:
    """An empty day has no run."""
    assert order_jobs([]) == []
