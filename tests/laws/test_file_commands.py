"""Law: what a file does to the machine is found wherever it stands, and weighed by what is printed after it."""

from __future__ import annotations

from typing import Literal, NamedTuple

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.pipeline import check_file
from gpost.preflight.model import Finding
from tests.laws.conftest import roomy
from tests.reference.interpreter import run
from tests.reference.pieces import Piece, piece_programs

Where = Literal["before", "middle", "after"]


class Kind(NamedTuple):
    """Commands that are judged alike, and what is found of them before, between and after the beads."""

    commands: tuple[str, ...]
    before: tuple[str, str] | None
    middle: tuple[str, str] | None
    after: tuple[str, str] | None


WARNING, LOST, PACE = ("file-commands", "warning"), ("changed-midway", "error"), ("pace", "note")
ODD, NAMELESS = ("odd", "warning"), ("unknown-command", "error")
KINDS = (
    Kind(("M105", "M117 Look", "M302 P1", "M42 P4 S1", "M115", "M106 S9", "M155 S0"), None, None, None),
    Kind(
        ("M206 X5", "M92 E9", "M851 Z1", "M502", "M28 a.g", "M665 R9", "G29", "M200 D3"),
        WARNING,
        LOST,
        WARNING,
    ),
    Kind(("M211 S0", "M500", "M906 X9", "M80"), WARNING, WARNING, WARNING),
    Kind(("M201 X9", "M204 P9", "M205 X1"), PACE, PACE, PACE),
    Kind(("M84", "M18", "M84 Z"), None, LOST, None),
    Kind(("M777 S1", "M1234", "G123", "M777 layer"), ODD, ODD, ODD),
    Kind(("LIFT_ALL", "Set_It A=5"), ODD, NAMELESS, NAMELESS),
)
NAMES = {found[0] for kind in KINDS for found in kind[1:] if found is not None}


def with_line(program: bytes, at: int, line: str) -> bytes:
    """The program with one more line before line `at`."""
    newline = b"\r\n" if b"\r\n" in program else b"\n"
    lines = program.split(b"\n")
    return b"\n".join([*lines[:at], (line.encode() + newline)[:-1], *lines[at:]])


@given(piece=piece_programs(max_layers=4), kind=st.sampled_from(KINDS), data=st.data())
def test_every_command_is_weighed_by_where_it_stands(
    tmp_path_factory: pytest.TempPathFactory, piece: Piece, kind: Kind, data: st.DataObject
) -> None:
    """Free, setting, losing, unknown or by name: one finding of the right weight, at its line, or none."""
    events = run(piece.program, piece.dialect)
    assume(not any(event.state.ended for event in events))
    numbered = any(line.lstrip(b"/ ")[:1] in (b"N", b"n") for line in piece.program.split(b"\n"))
    assume(not numbered)
    laid = [event.line for event in events if event.lays_clay]
    first, last = piece.layer_lines[0], laid[-1]
    at = data.draw(st.integers(1, len(events)))
    command = data.draw(st.sampled_from(kind.commands))
    path = tmp_path_factory.mktemp("file") / "piece.gcode"

    def found(program: bytes) -> dict[str, Finding]:
        path.write_bytes(program)
        listed = [one for one in check_file(path, roomy(piece.dialect, {}), ()) if one.name in NAMES]
        unknown = [one for one in listed if one.name == "odd" and "does not know" in one.text]
        return {one.name: one for one in listed if one.name != "odd"} | {one.text: one for one in unknown}

    usual, now = found(piece.program), found(with_line(piece.program, at, command))
    expected = kind.before if at <= first else kind.middle if at <= last else kind.after
    new = [now[name] for name in now.keys() - usual.keys()]
    if expected is None:
        assert new == []
        return
    told = {(one.name, one.severity) for one in new}
    assert told - {ODD} == {expected} - {ODD}
    assert ODD in told or expected != ODD
    if expected != ODD:
        (one,) = (one for one in new if one.name == expected[0])
        assert (one.line, one.count) == (at, 1)
