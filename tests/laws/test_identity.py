"""Law: where nothing is wanted, the output is the source, byte for byte."""

from __future__ import annotations

from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.errors import SourceError
from gpost.plan.intentions import AirInPause, Intention, Note
from tests.reference.programs import Draft, Piece, drafts, piece_programs

IDLE: tuple[Intention, ...] = (Note("nothing to do"), AirInPause(True))


@given(draft=drafts(), chunk_bytes=st.integers(1, 400), wishes=st.sampled_from([(), IDLE]))
def test_without_wishes_the_output_is_the_source(rewrite, draft: Draft, chunk_bytes: int, wishes) -> None:
    """Any program of any dialect comes out as it went in, whatever the size of the chunks."""
    try:
        result = rewrite(draft.program, wishes, dialect=draft.dialect, chunk_bytes=chunk_bytes)
    except SourceError:
        assume(False)
    assert result.output == draft.program
    assert result.written.size_bytes == len(draft.program)
    assert result.written.places == {}


@given(piece=piece_programs(), chunk_bytes=st.integers(1, 4000))
def test_a_pot_comes_out_as_it_went_in(rewrite, piece: Piece, chunk_bytes: int) -> None:
    """The same for programs that print a pot, none of which is refused."""
    result = rewrite(piece.program, (), dialect=piece.dialect, chunk_bytes=chunk_bytes)
    assert result.output == piece.program
