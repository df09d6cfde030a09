"""Laws: a print that stopped at a line of its file has laid what the lines before it lay, inside split moves too."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.errors import PlanError, SourceError
from gpost.plan.intentions import Air, Intention, Pause, Say
from gpost.plan.restart import Asked
from gpost.spot import Spot
from gpost.supply.stopped import Stopped
from gpost.write.rewriter import Rewriter
from tests.laws.stopped import Print, attempt, place_on
from tests.reference.interpreter import run
from tests.reference.pieces import Piece
from tests.reference.programs import piece_programs
from tests.reference.roundpots import round_pots
from tests.reference.state import Event

NEAR_MM = 0.03
"""Words of a split move are rounded, in inches too."""


def wishes(piece: Piece) -> st.SearchStrategy[list[Intention]]:
    """What steps may want inside moves, some of which can't be split."""
    lines = st.integers(piece.layer_lines[1], piece.program.count(b"\n") - 1)
    spots = st.builds(Spot, lines, st.sampled_from([0.0, 0.25, 0.5, 0.8]))
    return st.lists(
        st.one_of(
            st.builds(Pause, spots, st.just("look"), st.just("to look"), st.just("Look"), st.just(3.0)),
            st.builds(Say, spots, st.just("half way")),
            st.builds(Air, spots, st.sampled_from([0.0, 0.4])),
        ),
        min_size=1,
        max_size=4,
    )


@pytest.fixture(scope="session")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the sliced file lies."""
    return tmp_path_factory.mktemp("lines") / "piece.gcode"


@given(piece=st.one_of(piece_programs(min_layers=3), round_pots()), data=st.data())
def test_what_stands_before_a_line_is_laid_and_no_more(path: Path, piece: Piece, data: st.DataObject) -> None:
    """The rest lays what the reference interpreter sees from that line on: nothing twice, nothing left out."""
    try:
        whole = Print.of(path, piece, data.draw(wishes(piece)), {})
        assert whole.events
    except (PlanError, SourceError):
        assume(False)
    told = Rewriter(whole.source, whole.plan, "(test)").write(io.BytesIO())
    blocks = [first for first, _ in told.places.values()]
    near = [line for first in blocks for line in range(first - 1, first + 12)]
    line = data.draw(st.sampled_from(near) | st.integers(min(blocks), len(whole.events)))
    spot = told.reached(whole.plan, line)
    event("inside a move" if spot.fraction else "before a line")
    again = data.draw(st.booleans())
    stops = [Stopped(Asked(spot=spot))]

    def stop_of(*_: object) -> object:
        return whole.stopped(*stops)

    rest = attempt(stop_of, piece, ())  # type: ignore[arg-type]
    if again:  # the rest stops as soon as it lays, and goes on there
        opened = Rewriter(whole.source, rest.plan, "(test)").write(io.BytesIO())
        behind = opened.opens_until(rest.plan) + data.draw(st.sampled_from([-1, 0, 1]))
        assert opened.reached(rest.plan, behind) == rest.going.found.spot
    own = run(rest.rest, piece.dialect)[len(rest.opening) :]
    same(beads(own), beads(whole.events[line - 1 :]))


def beads(events: list[Event]) -> list[Event]:
    """The beads of the piece, in their order; what is primed on the way back from a pause lies above it."""
    return [each for each in events if each.lays_clay and (each.arc or each.end_mm[:2] != each.start_mm[:2])]


def same(mine: list[Event], theirs: list[Event]) -> None:
    """Whether beads lie where others do, with as much clay."""
    assert len(mine) == len(theirs)
    for a, b in zip(mine, theirs, strict=True):
        for part in (0.0, 1.0):
            near = zip(place_on(a, part), place_on(b, part), strict=True)
            assert max(abs(p - q) for p, q in near) < NEAR_MM
        assert a.e_metered_mm == pytest.approx(b.e_metered_mm, abs=1e-3)
