"""Law: where a push in place is silenced all other lines do what they did, and E lays what it should."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.plan.intentions import SilencePush
from gpost.spot import Spot
from tests.laws import test_loads
from tests.laws.test_state_restored import FEEDS, ML_PER_MM, attempt, count_lines
from tests.reference.interpreter import run
from tests.reference.outputs import (
    SILENCED,
    begun,
    differences,
    move_differences,
    same_feed,
    split_lines,
    total_e,
)
from tests.reference.programs import Draft, drafts
from tests.reference.state import Dialect, State
from tests.reference.words import Word, read_line


def pushes_alone(program: bytes, dialect: Dialect) -> list[int]:
    """Lines that change E and do nothing else, by the reference interpreter."""
    lines = split_lines(program)
    events = [done for done in run(program, dialect) if done.kind == "move" and done.motion in (0, 1)]
    still = [done.line for done in events if done.path_mm == 0 and done.e_metered_mm]
    return [line for line in still if says_only_e(read_line(lines[line], first=line == 0).words)]


def says_only_e(words: tuple[Word, ...]) -> bool:
    """Whether there is nothing but G0 or G1, E, F, a line number and a checksum."""
    return all(word.letter in "NEF*" or (word.letter == "G" and word.value in (0, 1)) for word in words)


def feed(state: State) -> float | None:
    """F in force, mm/min."""
    return None if state.feed_mm_min is None else float(state.feed_mm_min)


def check(result: Any, gone: list[int]) -> None:
    """The silenced lines do nothing, and the block behind each leaves what the line would have left."""
    apart, before = result.apart, result.before
    assert apart.errors == ()
    behind = {block.next_row - 1: block.after for block in apart.blocks}
    for index, (row, own) in enumerate(zip(apart.rows, before.rows, strict=True)):
        if index in gone:
            assert row.raw.lstrip(b"\xef\xbb\xbf").startswith(SILENCED)
            assert row.event.e_metered_mm == 0
            left = behind.get(index, row.event.state)
            assert differences(left, own.event.state) == [], own.raw
            assert same_feed(feed(left), feed(own.event.state))
            assert left.motion == own.event.state.motion
        else:
            assert move_differences(row.event, own.event) == [], own.raw
            assert differences(row.event.state, own.event.state) == [], own.raw
    own_mm = total_e([row.event for index, row in enumerate(before.rows) if index not in gone])
    assert result.plan.total_ml == pytest.approx(own_mm * ML_PER_MM, abs=1e-6)


@given(draft=drafts(min_lines=6), said=FEEDS, chunk_bytes=st.integers(40, 400), data=st.data())
def test_of_any_program(
    rewrite: Any, draft: Draft, said: bytes, chunk_bytes: int, data: st.DataObject
) -> None:
    """Any of its pushes, in any dialect: E absolute and relative, mm and inch, numbered or not, at any cut."""
    program = begun(draft.program, b"G1 X0 Y0 Z0" + said)
    could = pushes_alone(program, draft.dialect)
    assume(could)
    gone = data.draw(st.lists(st.sampled_from(could), min_size=1, unique=True))
    wishes = [SilencePush(line, "test") for line in gone]
    result = attempt(rewrite, program, wishes, dialect=draft.dialect, chunk_bytes=chunk_bytes)
    event(f"{len(gone)} pushes")
    check(result, gone)
    found = result.survey.pushes(0, result.survey.lines)
    assert found.line[found.alone].tolist() == could


def test_a_sum_of_mm_and_inches_is_as_fine_in_inches(rewrite: Any) -> None:
    """0.001 mm and 0.00004 in are 0.002016 mm, to the last digit that the interpreter asks for."""
    program = b"G1 X0 Y0 Z0\nM83\nG1\nG1 X40 Y40 E0.001\nG1\nG20 G91 G1\nG1 E0.00004"
    dialect = Dialect(axis_mode_sets_e=False, home_mm=(0.0, 0.0, 0.0))
    check(attempt(rewrite, program, [SilencePush(6, "test")], dialect=dialect, chunk_bytes=40), [6])


@given(draft=drafts(min_lines=6), chunk_bytes=st.integers(40, 400), data=st.data())
def test_beside_all_that_is_inserted(
    rewrite: Any, draft: Draft, chunk_bytes: int, data: st.DataObject
) -> None:
    """What each cartridge must have is still the highest sum of E in it, with pauses and beads at any line."""
    program = begun(draft.program, b"G1 X0 Y0 Z0 F1234.5")
    could = pushes_alone(program, draft.dialect)
    assume(could)
    gone = data.draw(st.lists(st.sampled_from(could), min_size=1, unique=True))
    spots = st.builds(Spot, st.integers(2, count_lines(program)))
    wishes = [*data.draw(test_loads.wishes(spots)), *(SilencePush(line) for line in gone)]
    config = {"machine": {"pause": {"message": "none"}}}
    result = attempt(rewrite, program, wishes, dialect=draft.dialect, config=config, chunk_bytes=chunk_bytes)
    test_loads.check(result)
