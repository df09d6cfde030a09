"""The order of a day's jobs that changes the colour in the hose least often.

A job begins with one colour in the hose and ends with another, or with the same: it is an edge of a graph
whose points are the colours. Jobs that follow each other without a change are a trail through that graph,
and the fewest trails that cover all edges are found by Euler's condition (1736) and C. Hierholzer's way of
walking (1873): edges are added until each point has as many that come as go, the circuits are walked, and
cut where the added edges are. Textbook mathematics.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TypeAlias

ColourJob: TypeAlias = tuple[str, str]
"""Colour in the hose when it begins, and when it ends."""


def order_jobs(jobs: Sequence[ColourJob], light_first: Sequence[str] = ()) -> list[list[int]]:
    """Indices of the jobs in as few runs as can be; between two runs the colour in the hose is changed.

    Runs come in the order in which `light_first` names their first colours, then as the jobs name them.
    """
    rank = {colour: number for number, colour in enumerate(dict.fromkeys([*light_first, *sum(jobs, ())]))}
    edges = [*jobs, *_missing(jobs, rank)]
    leaving: dict[str, list[int]] = {colour: [] for colour in rank}
    for edge in sorted(range(len(edges)), key=lambda edge: rank[edges[edge][1]], reverse=True):
        leaving[edges[edge][0]].append(edge)
    for colour, ways in leaving.items():  # taken from the end: what stays with the colour goes first
        ways.sort(key=lambda edge: edges[edge] == (colour, colour) and edge < len(jobs))
    runs: list[list[int]] = []
    for colour in rank:
        runs += _cut(_circuit(colour, edges, leaving), len(jobs))
    return sorted(runs, key=lambda run: rank[jobs[run[0]][0]])


def _missing(jobs: Sequence[ColourJob], rank: dict[str, int]) -> list[ColourJob]:
    """Edges after which as many come to each colour as go."""
    goes, comes = Counter(start for start, _ in jobs), Counter(end for _, end in jobs)
    starts = sorted((goes - comes).elements(), key=rank.__getitem__)
    ends = sorted((comes - goes).elements(), key=rank.__getitem__)
    return list(zip(ends, starts, strict=True))


def _circuit(start: str, edges: Sequence[ColourJob], leaving: dict[str, list[int]]) -> list[int]:
    """The edges of a closed walk from `start` over all it can reach; they are taken out of `leaving`."""
    found: list[int] = []
    stack: list[tuple[str, int | None]] = [(start, None)]
    while stack:
        colour, edge = stack[-1]
        if leaving[colour]:
            way = leaving[colour].pop()
            stack.append((edges[way][1], way))
            continue
        stack.pop()
        if edge is not None:
            found.append(edge)
    return found[::-1]


def _cut(circuit: list[int], jobs: int) -> list[list[int]]:
    """The runs of jobs between added edges; a circuit without one is a run as it is."""
    cuts = [at for at, edge in enumerate(circuit) if edge >= jobs]
    if cuts:
        circuit = circuit[cuts[0] + 1 :] + circuit[: cuts[0] + 1]
    runs: list[list[int]] = [[]]
    for edge in circuit:
        if edge < jobs:
            runs[-1].append(edge)
        else:
            runs.append([])
    return [run for run in runs if run]
