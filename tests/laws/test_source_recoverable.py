"""Law: without the inserted lines and with the edited words put back, the output is the source."""

from __future__ import annotations

import re
from itertools import zip_longest
from typing import Any

import numpy as np
from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.errors import SourceError
from gpost.plan.intentions import (
    Air,
    Ask,
    Command,
    Intention,
    LayClay,
    Pause,
    Say,
    ScaleFeed,
    ScaleFlow,
    Silence,
    Stroke,
    Wait,
)
from gpost.spot import Spot
from tests.reference.outputs import ENDS, HEADER, SILENCED, begun, split_lines, without_number
from tests.reference.programs import Draft, Piece, drafts, piece_programs

BEAD = Stroke(((-100.0, -60.0), (-40.0, -60.0)), 8.0, 3.0, 3.0, 1.25)
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
EXPONENT = rb"(?<=[\d.][eE])[+-]\d+(?![\d.])"
WORD = re.compile(rb"([FfEe])(?!" + EXPONENT + rb")([ \t]*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]\d+)?)")
"""An F or E word; the `e+01` in `X1.5e+01` is none."""


def spots(lines: int) -> st.SearchStrategy[Spot]:
    """Before any line but the first two, or at the end."""
    return st.builds(Spot, st.integers(min(2, lines), lines))


def insertions(lines: int) -> st.SearchStrategy[Any]:
    """Anything that can be inserted, between lines."""
    at = spots(lines)
    return st.one_of(
        st.builds(Pause, at, st.just("refill"), st.just("why"), st.just("Load"), prime_ml=st.just(2.5)),
        st.builds(LayClay, at, st.just((BEAD,)), st.just(900.0)),
        st.builds(Say, at, st.just("half way")),
        st.builds(Air, at, st.just(0.5)),
        st.builds(Command, at, st.just(("M400", "M42 P7 S1"))),
        st.builds(Wait, at, st.just(2.5)),
        st.builds(Ask, at, st.just("In: white"), st.just("why")),
    )


def idle_lines(program: bytes) -> list[int]:
    """Lines that hold one harmless command alone: they may become comments."""
    harmless = (b"M104", b"M140", b"M106", b"M107", b"M302", b"M73", b"M105", b"M92", b"M201", b"M117")
    found = []
    for line, raw in enumerate(split_lines(program)):
        code = re.sub(rb"\([^)]*\)|;.*", b"", without_number(raw.lstrip(b"\xef\xbb\xbf/ \t")).upper())
        if code.startswith(harmless) and b"G" not in code:
            found.append(line)
    return found


def sourced(result: Any) -> bytes:
    """The output without header and inserted blocks, silenced lines made live again, G2 and G3 as before."""
    inserted = {n for first, last in result.written.places.values() for n in range(first - 1, last)}
    lines = result.output.split(b"\n")
    kept = [line for n, line in enumerate(lines) if n not in inserted]
    kept = [line for line in kept if HEADER not in line.removeprefix(BYTE_ORDER_MARK)]
    start = BYTE_ORDER_MARK if result.output.startswith(BYTE_ORDER_MARK) else b""
    live = start + b"\n".join(kept).removeprefix(start).replace(SILENCED, b"")
    pairs = zip_longest(live.split(b"\n"), result.source.split(b"\n"), fillvalue=b"")
    back = b"\n".join(without_owed_code(mine, own) for mine, own in pairs)
    # what is inserted after a last line without a newline needs one
    added_last = any(HEADER in line for line in lines[-2:]) or any(n >= len(lines) - 2 for n in inserted)
    ends_open = not result.source.endswith(b"\n") and added_last
    return back.rstrip(b"\r\n") if ends_open else back


def without_owed_code(mine: bytes, own: bytes) -> bytes:
    """An arc that relied on the motion mode is given its code after an insertion, and is else unchanged."""
    found = re.search(rb"G[23] ", mine)
    if found is None:
        return mine
    bare = mine[: found.start()] + mine[found.end() :]
    return bare if without_number(bare) == without_number(own) else mine


@given(draft=drafts(min_lines=6), data=st.data(), chunk_bytes=st.sampled_from([50, 700, 1 << 18]))
def test_untouched_lines_keep_every_byte(
    rewrite: Any, draft: Draft, data: st.DataObject, chunk_bytes: int
) -> None:
    """But for inserted lines and silencing marks the output is the source, byte for byte.

    With checksums, lines after an insertion must have other numbers: there the words are the same.
    """
    program = begun(draft.program, b"G1 X0 Y0 Z0 F1500")
    lines = len(split_lines(program))
    wishes: list[Intention] = data.draw(st.lists(insertions(lines), min_size=1, max_size=4))
    idle = idle_lines(program)
    if idle:
        chosen = data.draw(st.lists(st.sampled_from(idle), unique=True))
        wishes.append(Silence(np.array(sorted(chosen), np.int64)))
    try:
        result = rewrite(program, wishes, dialect=draft.dialect, chunk_bytes=chunk_bytes)
    except SourceError:
        assume(False)
    event(f"silenced: {bool(idle)}")
    back = sourced(result)
    if b"*" in b"".join(
        line for line in split_lines(program) if line.lstrip(b"\xef\xbb\xbf/ ")[:1] in (b"N", b"n")
    ):
        assert [without_number(a) for a in split_lines(back)] == [
            without_number(b) for b in split_lines(program)
        ]
    else:
        assert back == program


def put_back(line: bytes, source: bytes) -> bytes:
    """The line with the numbers of its F and E words, and their presence, as in the source line."""
    own = {found[1].upper(): found for found in WORD.finditer(source)}
    back = WORD.sub(
        lambda found: found[1] + own[found[1].upper()][2] if found[1].upper() in own else b"", line
    )
    return back if back == source else back.rstrip(b" ").replace(b" \r", b"\r")


@given(piece=piece_programs(), data=st.data(), chunk_bytes=st.sampled_from([500, 1 << 18]))
def test_scaled_lines_change_in_their_f_and_e_words_alone(
    rewrite: Any, piece: Piece, data: st.DataObject, chunk_bytes: int
) -> None:
    """Where feed and clay are scaled, putting the F and E words back gives the source; other lines are it."""
    lines = len(split_lines(piece.program))
    first, end = sorted(data.draw(st.tuples(st.integers(0, lines), st.integers(0, lines))))
    wishes: list[Intention] = [ScaleFeed(first, end, 0.75), ScaleFlow(first, end, 1.1)]
    wishes += data.draw(
        st.lists(insertions(lines).filter(lambda w: w.spot.line >= piece.layer_lines[0]), max_size=3)
    )
    result = rewrite(piece.program, wishes, dialect=piece.dialect, chunk_bytes=chunk_bytes)
    back, source = split_lines(sourced(result)), split_lines(piece.program)
    assert len(back) == len(source)
    for mine, own in zip(back, source, strict=True):
        assert put_back(without_number(mine), without_number(own)) == without_number(own)
    untouched = [a == b for a, b in zip(back, source, strict=True)][:first]
    assert all(untouched) or b"*" in piece.program


def test_the_first_line_says_who_wrote_the_file(rewrite: Any) -> None:
    """A changed file begins with a comment of gpost's own; an unchanged one doesn't."""
    program = b"G28\nG1 X50 Y50 Z2 F1500\nG1 X90 E5\n"
    assert rewrite(program, [Say(Spot(2), "now")]).output.startswith(HEADER + b" (test)\n")
    assert rewrite(program, []).output == program


def test_nothing_stands_before_a_byte_order_mark_or_a_percent_line(rewrite: Any) -> None:
    """Header and insertions come after what must be a file's first bytes."""
    body = b"G28\nG1 X50 Y50 Z2 F1500\nG1 X90 E5\n"
    for start in (b"\xef\xbb\xbf", b"%\n", b"\xef\xbb\xbf%\n"):
        output = rewrite(start + body, [Say(Spot(0), "now")]).output
        assert output == start + HEADER + b" (test)\nM117 now\n" + body + ENDS


def test_a_silenced_first_line_keeps_its_byte_order_mark_first(rewrite: Any) -> None:
    """The silencing mark comes after the byte order mark."""
    program = b"\xef\xbb\xbfM104 S200\nG28\nG1 X50 Y50 Z2 F1500\nG1 X90 E5\n"
    output = rewrite(program, [Silence(np.array([0]))]).output
    lines = output.split(b"\n")
    assert lines[0] == b"\xef\xbb\xbf" + HEADER + b" (test)"
    assert lines[1] == SILENCED + b"M104 S200"


def test_what_comes_after_an_open_last_line_begins_on_its_own(rewrite: Any) -> None:
    """A last line without a newline is closed before something is inserted after it."""
    output = rewrite(b"G28\nG1 X50 Y50 Z2 F1500\nG1 X90 E5", [Say(Spot(3), "done")]).output
    assert output.endswith(b"G1 X90 E5\nM117 done\n" + ENDS)
