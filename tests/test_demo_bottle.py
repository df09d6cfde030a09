"""The demo bottle with all seven steps: the oracle executes the output and confirms what the summary says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi

import numpy as np
import pytest

from gpost.demo.folder import make_demo
from gpost.report.model import Summary
from tests.reference.interpreter import Machine
from tests.reference.state import Event

ML_PER_MM = pi / 4 * 1.75**2 / 1000
"""Clay of 1 mm of a virtual strand of 1.75 mm: pi d^2 / 4, geometry."""

Z_SAFE_MM = 2.0


@dataclass(frozen=True)
class Demo:
    """What the demo wrote, and what the oracle says it does."""

    summary: Summary
    source: Sequence[Event]
    output: Sequence[Event]
    lines: Sequence[str]
    inserted: frozenset[int]
    """Lines of inserted blocks, counted from 0."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """The demo as `gpost demo` makes it."""
    folder = tmp_path_factory.mktemp("demo") / "class"
    make_demo(folder)
    summary = Summary.model_validate_json((folder / "summary.json").read_text())
    sliced = (folder / "twisted-bottle.gcode").read_bytes()
    printed = (folder / "twisted-bottle-print.gcode").read_bytes()
    lines = printed.decode().splitlines()
    events = (list(Machine().events(program)) for program in (sliced, printed))
    return Demo(summary, *events, lines, frozenset(inserted(lines)))


def waiting(demo: Demo) -> list[int]:
    """Lines at which the machine waits."""
    return [b.line for a, b in pairwise(demo.output) if b.state.paused > a.state.paused]


def laid(events: Sequence[Event]) -> list[Event]:
    """The moves that lay clay."""
    return [event for event in events if event.lays_clay]


def inserted(lines: Sequence[str]) -> set[int]:
    """Lines between the opening and the closing remark of each inserted block, counted from 0."""
    found: set[int] = set()
    opened: int | None = None
    for number, line in enumerate(lines):
        if line.startswith("; gpost: ") and line.endswith(" ends") and opened is not None:
            found |= set(range(opened, number + 1))
            opened = None
        elif line.startswith("; gpost: "):
            opened = number
    return found


def test_no_line_is_in_error(demo: Demo) -> None:
    """The oracle accepts every line of the output."""
    assert [event for event in demo.output if event.error] == []


def test_no_heating_is_left(demo: Demo) -> None:
    """No heater command or wait stands in the output as a command, and all of the source's stand as comments."""
    hot = ("M104", "M109", "M140", "M190")
    assert not [line for line in demo.lines if line.startswith(hot)]
    assert sum(line.startswith("; gpost silenced: M1") and line[18:22] in hot for line in demo.lines) == 6


def test_the_piece_is_laid_as_it_was_sliced(demo: Demo) -> None:
    """Beside the inserted blocks the same clay is laid on the same path, move by move."""
    skip = demo.inserted
    own = [event for event in laid(demo.output) if event.line not in skip]
    source = laid(demo.source)
    assert len(own) == len(source)
    assert [e.end_mm for e in own] == [e.end_mm for e in source]
    np.testing.assert_allclose(
        [e.e_metered_mm for e in own], [e.e_metered_mm for e in source], atol=1e-9, rtol=0
    )


def test_pauses_stand_where_the_summary_says(demo: Demo) -> None:
    """The machine waits as often as the summary lists, within the lines it names, at its height."""
    waits = waiting(demo)
    assert len(waits) == len(demo.summary.pauses) >= 2
    for pause, wait in zip(demo.summary.pauses, waits, strict=True):
        first = pause.output_line - 1
        assert first <= wait <= first + 20
        height = demo.output[first - 1].end_mm[2]
        assert height == pytest.approx(pause.height_mm, abs=0.05)


def test_the_swap_shows_at_its_height(demo: Demo) -> None:
    """From the swap's pause to where its colour shows, just the hose volume of clay leaves the nozzle."""
    swap = next(pause for pause in demo.summary.pauses if pause.kind == "swap")
    assert swap.shows_at_height_mm is not None
    pushed_ml = 0.0
    for event in demo.output[swap.output_line - 1 :]:
        pushed_ml += event.e_metered_mm * ML_PER_MM
        if pushed_ml >= 40 and event.lays_clay:  # line_ml of the demo's recipe
            assert event.end_mm[2] == pytest.approx(swap.shows_at_height_mm, abs=0.2)
            return
    pytest.fail("the new clay never reaches the nozzle")


def test_the_purge_lies_beside_the_piece(demo: Demo) -> None:
    """25 ml are laid on the bed before the first layer, clear of the piece's box."""
    skip = demo.inserted
    # straight down comes what was drawn back
    beads = [
        event for event in laid(demo.output) if event.line in skip and event.start_mm[:2] != event.end_mm[:2]
    ]
    own = np.array([event.end_mm for event in laid(demo.source)])
    assert sum(event.e_metered_mm for event in beads) * ML_PER_MM == pytest.approx(25, abs=0.01)
    assert max(event.line for event in beads) < min(e.line for e in laid(demo.output) if e.line not in skip)
    low, high = own[:, :2].min(axis=0), own[:, :2].max(axis=0)
    for event in beads:
        for x, y in (event.start_mm[:2], event.end_mm[:2]):
            assert x < low[0] - 5 or x > high[0] + 5 or y < low[1] - 5 or y > high[1] + 5
            assert 0 <= x <= 300
            assert 0 <= y <= 300


def test_nothing_inserted_crosses_the_piece(demo: Demo) -> None:
    """In inserted blocks the nozzle only moves sideways over the clay laid so far, or beside the piece."""
    skip = demo.inserted
    own = np.array([event.end_mm for event in laid(demo.source)])
    low, high = own[:, :2].min(axis=0), own[:, :2].max(axis=0)
    top = 0.0
    for event in demo.output:
        if event.line not in skip:
            top = max(top, event.end_mm[2]) if event.lays_clay else top
            continue
        if event.kind != "move" or event.start_mm[:2] == event.end_mm[:2]:
            continue
        beside = any(
            max(event.start_mm[a], event.end_mm[a]) < low[a]
            or min(event.start_mm[a], event.end_mm[a]) > high[a]
            for a in (0, 1)
        )
        assert beside or min(event.start_mm[2], event.end_mm[2]) >= top + Z_SAFE_MM - 1e-6


def test_air_by_layer(demo: Demo) -> None:
    """The blower is off on the base, comes on by layer 4, is stronger high up, and rests in every pause."""
    levels: dict[float, float] = {}
    for event in laid(demo.output):
        if event.line not in demo.inserted:
            levels[round(event.end_mm[2], 1)] = float(event.state.fan)
    heights = sorted(levels)
    assert levels[heights[0]] == 0
    assert levels[heights[-1]] > levels[heights[len(heights) // 3]] > 0
    assert [float(demo.output[line].state.fan) for line in waiting(demo)] == [0.0, 0.0]


def test_feeds_only_fall_and_hold_their_floor(demo: Demo) -> None:
    """No move of the piece is faster than sliced, none that was slowed is under the floor, travel is as it was."""
    skip = demo.inserted
    own = [event for event in demo.output if event.line not in skip and event.kind == "move"]
    source = [event for event in demo.source if event.kind == "move"]
    assert len(own) == len(source)
    slowed = 0
    for after, before in zip(own, source, strict=True):
        if after.feed_mm_min == before.feed_mm_min:
            continue
        assert before.lays_clay
        assert after.feed_mm_min is not None
        assert before.feed_mm_min is not None
        assert 600 - 0.05 <= after.feed_mm_min <= before.feed_mm_min + 0.05
        slowed += 1
    assert slowed > 1000


def test_the_tally_is_what_leaves_the_nozzle(demo: Demo) -> None:
    """All clay metered, primes and purge included, is the sum over the cartridges and the summary's total."""
    metered_ml = sum(event.e_metered_mm for event in demo.output) * ML_PER_MM
    assert demo.summary.clay_ml == pytest.approx(metered_ml, abs=0.05)
    assert sum(c.clay_ml for c in demo.summary.cartridges) == pytest.approx(metered_ml, abs=0.05)
    waits = waiting(demo)
    bounds = [0, *waits, len(demo.output)]
    for cartridge, (first, end) in zip(demo.summary.cartridges, pairwise(bounds), strict=True):
        own_ml = sum(event.e_metered_mm for event in demo.output[first:end]) * ML_PER_MM
        # 0.3 ml are drawn back before the wait and given again after it
        assert cartridge.clay_ml == pytest.approx(own_ml, abs=0.35)


def test_the_end_is_as_it_was(demo: Demo) -> None:
    """After the last line the machine stands as it would have with the sliced file, but for heat and air."""
    ends = demo.output[-1].state, demo.source[-1].state
    assert ends[0].differences(ends[1], tolerance_mm=1e-9, ignore=frozenset({"fan", "hold_for_ever"})) == []
