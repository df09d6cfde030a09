"""Law: rewriting block by block gives what a plain rewriter gives that holds the whole file, line by line."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import reduce
from operator import xor
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.demo.gcode import SliceStyle
from gpost.demo.shape import Piece as Form
from gpost.errors import SourceError
from gpost.plan.intentions import (
    Air,
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
from gpost.report.jsonout import to_json
from gpost.report.summary import summarise
from gpost.spot import Spot
from tests.reference.interpreter import run
from tests.reference.outputs import begun, split_lines, without_number
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.state import Dialect
from tests.sliced import slice_piece

HEADER = b"; gpost wrote this file (test)"
ENDS = b"; gpost wrote this file: here it ends"
NUMBERED = re.compile(rb"[Nn](\d+) ")
BEAD = Stroke(((-100.0, -60.0), (-40.0, -60.0)), 8.0, 3.0, 3.0, 1.25)


def plain_rewriter(program: bytes, wishes: Sequence[Intention], dialect: Dialect) -> bytes:
    """Messages, commands, air, waits, silences and scaled feeds, put in line by line."""
    newline = b"\r\n" if split_lines(program)[0].endswith(b"\r") else b"\n"
    silenced = {int(line) for wish in wishes if isinstance(wish, Silence) for line in wish.lines}
    out, in_force = [HEADER + newline], None
    lines = program.splitlines(keepends=True)
    events = run(program, dialect)
    for index, line in enumerate([*lines, b""]):
        for wish in wishes:
            if isinstance(wish, Say | Command | Air | Wait) and wish.spot == Spot(index):
                out += [text + newline for text in spoken(wish, dialect)]
        if index == len(lines):
            break
        event = events[index]
        if event.kind == "move" and event.state.feed_mm_min is not None:
            line, in_force = with_feed(line, index, event, in_force, wishes)
        out.append((b"; gpost silenced: " if index in silenced else b"") + line)
    if not program.endswith(b"\n") and out[-1] is not lines[-1] and len(out) > 1:
        out = closed(out, newline)
    text = b"".join(renumbered(out) if b"*" in program else out)
    return text + ENDS + newline if text.endswith(b"\n") else text + newline + ENDS


def spoken(wish: Intention, dialect: Dialect) -> list[bytes]:
    """The lines of a message, of commands, of air, of a wait."""
    if isinstance(wish, Say):
        return [b"M117 " + wish.text.encode()]
    if isinstance(wish, Air):
        return [b"M106 S%d" % round(wish.level * 255) if wish.level else b"M107"]
    if isinstance(wish, Wait):
        return [b"G4 P%g" % (wish.seconds if dialect.dwell_p == "seconds" else wish.seconds * 1000)]
    assert isinstance(wish, Command)
    return [code.encode() for code in wish.codes]


def with_feed(
    line: bytes, index: int, event: Any, in_force: float | None, wishes: Sequence[Intention]
) -> tuple[bytes, float]:
    """The line with the feed that it is to have; and that feed, mm/min."""
    own = wanted = float(event.state.feed_mm_min)
    sideways = event.start_mm[:2] != event.end_mm[:2] or event.arc is not None
    scales = [wish for wish in wishes if isinstance(wish, ScaleFeed) and sideways and event.e_metered_mm > 0]
    for scale in scales:
        if scale.first_line <= index < scale.end_line:
            wanted = max(wanted * scale.factor, min(wanted, scale.floor_mm_min))
    if abs(wanted - own) > 1e-6:
        wanted = max(round(wanted * 10) / 10, 0.1)
    text = f"{wanted / float(event.state.scale):.4f}".rstrip("0").rstrip(".").encode()
    code, rest = re.fullmatch(rb"([^*;(\r\n]*[^*;(\r\n ])(.*)", line, re.DOTALL).groups()  # type: ignore[union-attr]
    if re.search(rb"[Ff]", code):
        if abs(wanted - own) > 1e-6:
            code = re.sub(rb"([Ff])[\d.+]+", rb"\g<1>" + text, code)
    elif in_force is None or abs(wanted - in_force) > 1e-6:
        code += b" F" + text
    return code + rest, wanted


def closed(out: list[bytes], newline: bytes) -> list[bytes]:
    """Every line but the last ends with a newline."""
    return [line if line.endswith(b"\n") else line + newline for line in out[:-1]] + out[-1:]


def renumbered(out: list[bytes]) -> list[bytes]:
    """Every command gets its number and checksum: those of inserted lines follow on."""
    number = int(next(found[1] for line in out if (found := NUMBERED.match(line))))
    done = []
    for line in out:
        bare = line.rstrip(b"\r\n")
        if bare.startswith(b";") or not bare:
            done.append(line)
            continue
        code = without_number(bare)
        text = b"N%d %s" % (number, code)
        done.append(text + b"*%d" % reduce(xor, text) + line[len(bare) :])
        number += 1
    return done


def small_wishes(lines: int, silent: Sequence[int]) -> st.SearchStrategy[list[Intention]]:
    """Messages, commands, air and scaled feeds at random, several at one spot too; and silences."""
    spots = st.integers(0, lines).map(Spot)
    ranges = st.tuples(st.integers(0, lines), st.integers(0, lines)).map(sorted)
    kinds = [
        st.builds(Say, spots, st.sampled_from(["ready", "look at the wall"])),
        st.builds(Wait, spots, st.sampled_from([0.002, 0.75, 90.0])),
        st.builds(Command, spots, st.sampled_from([("M400",), ("M42 P7 S1", "M300 S440")])),
        st.builds(Air, spots, st.sampled_from([0.0, 0.2, 1.0])),
        st.builds(
            lambda span, factor, floor: ScaleFeed(*span, factor, floor),
            ranges,
            st.sampled_from([0.5, 0.83]),
            st.sampled_from([0.0, 1000.0]),
        ),
    ]
    if silent:
        lists = st.lists(st.sampled_from(silent), unique=True, max_size=5)
        kinds.append(lists.map(lambda found: Silence(np.array(sorted(found), np.int64))))
    return st.lists(st.one_of(kinds), min_size=1, max_size=6)


def takes_effect(wish: Intention) -> bool:
    """Whether a wish asks for anything."""
    if isinstance(wish, Silence):
        return len(wish.lines) > 0
    return not isinstance(wish, ScaleFeed) or wish.first_line < wish.end_line


@given(piece=piece_programs(), data=st.data(), chunk_bytes=st.integers(1, 3000))
def test_block_by_block_is_as_line_by_line(
    rewrite: Any, piece: Piece, data: st.DataObject, chunk_bytes: int
) -> None:
    """For pots of every dialect, random wishes, and chunks of any size."""
    lines = split_lines(piece.program)
    silent = [
        n for n, line in enumerate(lines) if without_number(line).upper()[:4] in (b"M106", b"M107", b"M84")
    ]
    wishes = data.draw(small_wishes(len(lines), silent))
    assume(any(takes_effect(wish) for wish in wishes))
    result = rewrite(piece.program, wishes, dialect=piece.dialect, chunk_bytes=chunk_bytes)
    assert result.output == plain_rewriter(piece.program, wishes, piece.dialect)


def all_wishes(lines: int) -> st.SearchStrategy[list[Any]]:
    """Everything that a plan may hold, between lines and inside moves."""
    spots = st.builds(Spot, st.integers(2, lines - 1), st.sampled_from([0.0, 0.0, 0.5, 0.25]))
    ranges = st.tuples(st.integers(0, lines), st.integers(0, lines)).map(sorted)
    return st.lists(
        st.one_of(
            st.builds(
                Pause, spots, st.just("refill"), st.just("why"), st.just("Load"), prime_ml=st.just(2.5)
            ),
            st.builds(LayClay, spots, st.just((BEAD,)), st.just(900.0)),
            st.builds(Say, spots, st.just("half way")),
            ranges.map(lambda span: ScaleFeed(*span, 0.83)),
            ranges.map(lambda span: ScaleFlow(*span, 1.07)),
        ),
        min_size=1,
        max_size=5,
    )


@given(draft=drafts(min_lines=8), data=st.data(), chunk_bytes=st.integers(1, 600))
def test_the_size_of_chunks_cannot_be_seen(
    rewrite: Any, draft: Draft, data: st.DataObject, chunk_bytes: int
) -> None:
    """Any program with any wishes comes out the same in chunks of any size as in one piece."""
    program = begun(draft.program, b"G1 X0 Y0 Z0 F1500")
    wishes = data.draw(all_wishes(len(split_lines(program))))
    try:
        whole = rewrite(program, wishes, dialect=draft.dialect)
    except SourceError:
        assume(False)
    chunked = rewrite(program, wishes, dialect=draft.dialect, chunk_bytes=chunk_bytes)
    assert chunked.output == whole.output
    assert chunked.written == whole.written


@given(piece=piece_programs(), data=st.data(), chunk_bytes=st.integers(1, 3000))
def test_the_size_of_chunks_cannot_be_seen_in_a_pot(
    rewrite: Any, piece: Piece, data: st.DataObject, chunk_bytes: int
) -> None:
    """The same for a pot, where every wish can be carried out."""
    wishes = data.draw(all_wishes(len(split_lines(piece.program))))
    wishes = [w for w in wishes if not hasattr(w, "spot") or w.spot.line >= piece.layer_lines[0]]
    whole = rewrite(piece.program, wishes, dialect=piece.dialect)
    chunked = rewrite(piece.program, wishes, dialect=piece.dialect, chunk_bytes=chunk_bytes)
    assert chunked.output == whole.output
    assert chunked.written == whole.written


def in_json(rewritten: Any) -> str:
    """The summary of a run."""
    return to_json(summarise(rewritten.plan, rewritten.written, source="a", output="b"))


@pytest.mark.parametrize("chunk_bytes", [4099, 20_011, 65_537])
def test_a_cut_cannot_be_seen_in_a_long_relative_register(rewrite: Any, chunk_bytes: int) -> None:
    """E is set back after scaled clay to the same digits, though a thousand relative words lead to it; found once."""
    form = Form(
        height_mm=40, radius_mm=20, lobes=5, twist_deg_per_mm=2, lean_mm=4, base_layers=2, segments=60
    )
    style = SliceStyle(wall="rise", relative_e=True, relative_axes=True, g92_every_layer=True, decimals=5)
    program = slice_piece(form, style).text
    wishes: list[Intention] = [ScaleFlow(line, line + 50, 1.13) for line in range(300, 1400, 100)]
    wishes += [
        Pause(Spot(line + 70), "refill", "empty", "refill", prime_ml=2.0) for line in range(300, 1400, 100)
    ]
    whole, chunked = rewrite(program, wishes), rewrite(program, wishes, chunk_bytes=chunk_bytes)
    assert chunked.output == whole.output
    assert in_json(chunked) == in_json(whole)
    assert whole.output.count(b"G92 E") > program.count(b"G92 E"), "E is set back"


@pytest.mark.parametrize("chunk_bytes", [1, 600])
def test_a_change_of_small_letters_is_shown(rewrite: Any, chunk_bytes: int) -> None:
    """The first place of a change is that of its first edit, be its words written in capitals or not."""
    program = b"G1 X0 Y0 Z1 F1500\ng1 x40 y40 e1 f1000\nG1 X0 Y40 E1.5\n"
    written = rewrite(program, [ScaleFeed(1, 3, 0.5)], chunk_bytes=chunk_bytes).written
    ((sample,),) = [written.samples.values()]
    assert (sample.line, sample.before, sample.after) == (1, ("g1 x40 y40 e1 f1000",), ("g1 x40 y40 e1 f500",))
