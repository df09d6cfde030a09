"""Hypothesis strategies for whole programs, as bytes: every mode, every spelling, every dialect.

`programs` makes a random walk through all that a file may hold; `piece_programs` (from
tests.reference.pieces) makes a plausible pot and says what is in it. Positions stay within 0 and 280 mm
on X and Y, 0 and 250 mm on Z.
"""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from tests.reference.actions import COMMENTS, PARENTHESES, all_actions, laying_actions, mode_changes, seldom
from tests.reference.pieces import Piece, piece_programs
from tests.reference.spelling import Form, Spelling, write_file
from tests.reference.state import Dialect
from tests.reference.writer import Mark, Writer

__all__ = ["Draft", "Piece", "dialects", "drafts", "forms", "piece_programs", "programs", "spellings"]


@dataclass(frozen=True)
class Draft:
    """A program, and the writer's own account of where the machine is after each line."""

    program: bytes
    dialect: Dialect
    marks: tuple[Mark, ...]
    first_line: int
    """Index of the line that the first mark belongs to."""


def programs(
    dialect: Dialect | None = None,
    *,
    laying_only: bool = False,
    min_lines: int = 1,
    max_lines: int = 40,
    plain: bool = False,
    several_codes: bool = True,
    blanks_in_numbers: bool = False,
) -> st.SearchStrategy[bytes]:
    """Whole programs for a dialect (default: Dialect()).

    laying_only: every move lays clay along a path; no travel, relief, homing or offsets.
    plain: one spelling only, such as general-purpose parsers read: `G1 X1.5 E0.2`.
    several_codes: mode and machine codes may stand on the same line, and beside a move.
    blanks_in_numbers: `X1 2 . 5` is written too (NIST RS274/NGC 3.3 allows it).
    """
    chosen = drafts(
        st.just(dialect if dialect is not None else Dialect()),
        laying_only=laying_only,
        min_lines=min_lines,
        max_lines=max_lines,
        plain=plain,
        several_codes=several_codes,
        blanks_in_numbers=blanks_in_numbers,
    )
    return chosen.map(lambda draft: draft.program)


@st.composite
def drafts(
    draw: st.DrawFn,
    dialect: st.SearchStrategy[Dialect] | None = None,
    *,
    laying_only: bool = False,
    min_lines: int = 1,
    max_lines: int = 40,
    plain: bool = False,
    several_codes: bool = True,
    blanks_in_numbers: bool = False,
) -> Draft:
    """The same, with the writer's account; `dialect` is a strategy (default: all dialects)."""
    spoken = draw(dialect if dialect is not None else dialects())
    form = draw(st.just(Form()) if plain else forms())
    how = st.just(Spelling()) if plain else spellings(blanks_in_numbers=blanks_in_numbers)
    kinds = laying_actions(how) if laying_only else all_actions(how, several_codes=several_codes)
    most = max(max_lines - 2 * form.percent, 1)
    opening = draw(st.one_of(st.just([]), mode_changes(how, several_codes=several_codes).map(lambda a: [a])))
    rest = draw(st.lists(kinds, min_size=max(min(min_lines, most) - len(opening), 0), max_size=most))
    writer = Writer(spoken, numbered=form.numbering != "none")
    for act in [*opening, *rest]:
        act(writer)
    marks = tuple(writer.marks[:most])
    return Draft(write_file(writer.lines[:most], form), spoken, marks, int(form.percent))


def dialects() -> st.SearchStrategy[Dialect]:
    """All dialects; the arc tolerance stays wide enough for five decimals."""
    return st.builds(
        Dialect,
        dwell_p=st.sampled_from(["milliseconds", "seconds"]),
        axis_mode_sets_e=st.booleans(),
        home_mm=st.sampled_from([(0.0, 0.0, 0.0), (140.0, 280.0, 0.0), (5.0, 5.5, 200.0)]),
        arc_tolerance_mm=st.sampled_from([0.02, 0.002]),
    )


def forms() -> st.SearchStrategy[Form]:
    """All ways to write a file."""
    return st.builds(
        Form,
        newline=st.sampled_from([b"\n", b"\r\n"]),
        last_newline=st.booleans(),
        numbering=st.sampled_from(["none", "none", "number", "checksum"]),
        byte_order_mark=seldom(),
        percent=seldom(),
    )


def spellings(*, blanks_in_numbers: bool = False) -> st.SearchStrategy[Spelling]:
    """All ways to write a line; half of the lines are in the common spelling but for one comment."""
    usual = st.builds(Spelling, after=st.sampled_from([b"", b"", *COMMENTS, *PARENTHESES]))
    odd = st.builds(
        Spelling,
        lower=st.booleans(),
        gap=st.sampled_from([" ", "", "  ", "\t"]),
        code=st.sampled_from(["short", "two digits", "three digits", "point"]),
        number=st.sampled_from(
            ["plain", "zeros", "no zero", "point", "exponent", "short exponent", "EXPONENT"]
        ),
        plus=seldom(),
        blanks_in_numbers=seldom() if blanks_in_numbers else st.just(False),
        turn=st.sampled_from([0, 0, 0, 1, 2, 3]),
        inside=st.sampled_from([b"", b"", b"", *PARENTHESES]),
        after=st.sampled_from([b"", b"", *COMMENTS, *PARENTHESES]),
        slash=seldom(),
    )
    return st.one_of(usual, odd)
