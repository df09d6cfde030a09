"""Law: a plan's clock is the source's clock and the waits, as the reference interpreter counts them in the output."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.api import Plan, Spot, Wait
from gpost.errors import SourceError
from gpost.report.summary import summarise
from tests.laws.test_state_restored import begun, count_lines
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.state import Dialect

SECONDS = st.one_of(st.integers(1, 600_000).map(lambda ms: ms / 1000), st.sampled_from([0.001, 86_400.0]))
HALF_A_PLACE_S = 0.0005 + 1e-9


def waits(lines: int) -> st.SearchStrategy[list[Wait]]:
    """Between lines and inside moves, several at one spot too, and at the file's end."""
    inside = st.builds(Spot, st.integers(2, lines - 1), st.sampled_from([0.0, 0.0, 0.25, 0.5]))
    spots = st.one_of(inside, inside, st.just(Spot(lines)))
    return st.lists(st.builds(Wait, spots, SECONDS, st.sampled_from(["", "to set"])), min_size=1, max_size=6)


def dwelt_s(result: Any) -> float:
    """Time of all dwells in inserted blocks, as the interpreter reads them by the machine's own unit."""
    return float(sum(event.dwell_s for block in result.apart.blocks for event in block.events))


def check(result: Any, wanted: Sequence[Wait]) -> None:
    """Clock, count and seconds of the summary, and what the output dwells, are the source's and the waits'."""
    together_s = sum(wait.seconds for wait in wanted)
    own = Plan(result.survey, result.plan.config)
    assert result.apart.errors == ()
    assert dwelt_s(result) == pytest.approx(together_s, abs=HALF_A_PLACE_S * len(wanted))
    summary = summarise(result.plan, result.written, source="piece", output="out")
    assert summary.time_s == pytest.approx(own.total_s + together_s)
    found = [change for change in summary.changes if change.kind == "wait"]
    assert sum(change.count for change in found) == len(wanted)
    assert sum(change.seconds for change in found) == pytest.approx(together_s)
    (sent, *others) = [command for command in summary.commands if command.kind == "wait"]
    assert (sent.command, sent.count, others) == (f"G4 P<{result.dialect.dwell_p}>", len(wanted), [])
    stands = [(entry.intention.spot.line, entry.intention.seconds) for entry in result.plan.entries]
    edges = np.append(result.survey.layers["first_line"], result.survey.lines)
    if len(edges) > 1:
        waited = [sum(s for line, s in stands if line < edge) for edge in edges]
        assert result.plan.layer_clock_s == pytest.approx(own.layer_clock_s + waited)


def rewritten(rewrite: Any, program: bytes, wanted: Sequence[Wait], dialect: Any) -> Any:
    """The rewriting; no example where the file itself can't be followed."""
    try:
        return rewrite(program, wanted, dialect=dialect)
    except SourceError:
        assume(False)


@given(draft=drafts(min_lines=6), data=st.data())
def test_in_any_program(rewrite: Any, draft: Draft, data: st.DataObject) -> None:
    """Of either unit of P, in modes of every kind, with layers or without."""
    program = begun(draft.program, b"G1 X0 Y0 Z0")
    wanted = data.draw(waits(count_lines(program)))
    check(rewritten(rewrite, program, wanted, draft.dialect), wanted)


@given(piece=piece_programs(), data=st.data())
def test_in_pots(rewrite: Any, piece: Piece, data: st.DataObject) -> None:
    """Whose layers are known."""
    wanted = data.draw(waits(count_lines(piece.program)))
    check(rewritten(rewrite, piece.program, wanted, piece.dialect), wanted)


@pytest.mark.parametrize(("unit", "said"), [("milliseconds", "G4 P1500"), ("seconds", "G4 P1.5")])
def test_it_is_one_dwell_where_the_nozzle_stands(rewrite: Any, unit: str, said: str) -> None:
    """No lift, no park, no feed: the line alone, in the middle of a move that is split for it."""
    program = b"G28\nG90\nM83\nG1 X10 Y10 Z2 F1200\nG1 X20 E1\nG1 X30 E1\n"
    dialect = Dialect(dwell_p="seconds" if unit == "seconds" else "milliseconds")
    result = rewrite(program, [Wait(Spot(4, 0.5), 1.5)], dialect=dialect)
    lines = result.output.decode().split("\n")
    at = lines.index(said)
    assert lines[at - 1].startswith("G1 X15 ")
    assert lines[at + 1] == "G1 X20 E0.5"


def test_in_an_arc_it_stands_before_it(rewrite: Any) -> None:
    """An arc is not split; the clock has the wait where it is written."""
    program = b"G28\nG90\nM83\nG1 X10 Y10 Z2 F1200\nG1 X20 E1\nG2 X40 Y10 I10 J0 E3\nG1 X50 E1\n"
    result = rewrite(program, [Wait(Spot(5, 0.5), 30.0)])
    lines = result.output.decode().split("\n")
    assert lines[lines.index("G4 P30000") + 1] == "G2 X40 Y10 I10 J0 E3"
    assert result.plan.of(Wait) == [Wait(Spot(5), 30.0)]
    assert result.plan.clock_before(6) - result.survey.clock_before(6) == pytest.approx(30)
    assert result.plan.clock_before(5) == pytest.approx(result.survey.clock_before(5))
