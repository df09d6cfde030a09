"""A straight move is split so that its parts make the whole; what is no plain move is left whole."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gpost.config.model import Config
from gpost.motion.state import MachineState
from gpost.read.block import PAD
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits
from gpost.write.split import split_move

HERE = MachineState(register=(10.0, 20.0, 2.0, 5.0), known=(True, True, True), feed_mm_min=1500.0)


def split(
    line: bytes, fractions: list[float], state: MachineState = HERE, after: str | None = None
) -> tuple[list[str], bytes, list[MachineState]]:
    """(parts, what is left on the line, states after the parts)."""
    edits = Edits(read_block(Chunk(line + b"\n", 0, 0)))
    if after is not None:
        edits.after[0] = after
    parts = split_move(edits, 0, fractions, state, Config())
    rest = edits.parts([PAD, len(edits.block.bytes) - PAD])[0].rstrip(b"\n")
    return [part.text for part in parts], rest, [part.state for part in parts]


def test_an_absolute_move_keeps_its_line() -> None:
    """The line says where the move ends already; the part says where the split is."""
    parts, rest, states = split(b"G1 X20 Y40 E6 F1200", [0.25])
    assert parts == ["G1 X12.5 Y25 E5.25 F1200"]
    assert rest == b"G1 X20 Y40 E6 F1200"
    assert states[0].register == (12.5, 25.0, 2.0, 5.25)
    assert states[0].feed_mm_min == 1200


def test_a_relative_move_is_cut_down_to_the_rest() -> None:
    """Words of the line become the difference, so that both add up to the last digit."""
    relative = replace(HERE, relative=True, e_relative=True)
    parts, rest, _ = split(b"G1 X10.0001 E1", [1 / 3], relative)
    assert parts == ["G1 X3.3334 E0.33333"]
    assert rest == b"G1 X6.6667 E0.66667"


def test_axes_and_clay_may_count_differently() -> None:
    """Absolute axes with relative E: each word by its own mode."""
    parts, rest, _ = split(b"G1 X20 E1", [0.5], replace(HERE, e_relative=True))
    assert parts == ["G1 X15 E0.5"]
    assert rest == b"G1 X20 E0.5"


def test_several_parts_follow_on() -> None:
    """Two splits of one move: each part begins where the one before ended."""
    parts, rest, states = split(b"G1 X20 E6", [0.25, 0.75], replace(HERE, relative=True, e_relative=True))
    assert parts == ["G1 X5 E1.5", "G1 X10 E3"]
    assert rest == b"G1 X5 E1.5"
    assert [state.register[0] for state in states] == [15.0, 25.0]


@pytest.mark.parametrize(("motion", "code"), [(0, "G0"), (1, "G1")])
def test_a_modal_move_is_split_by_its_mode(motion: int, code: str) -> None:
    """Axis words alone move by the mode in force; the rest still relies on it."""
    parts, rest, _ = split(b"X20", [0.5], replace(HERE, motion=motion))
    assert parts == [f"{code} X15"]
    assert rest == b"X20"


def test_the_part_runs_at_the_feed_of_the_move() -> None:
    """A feed that is added to the line counts for its first part already."""
    parts, rest, _ = split(b"G1 X20", [0.5], after="F750")
    assert parts == ["G1 X15 F750"]
    assert rest == b"G1 X20 F750"


def test_numbers_and_checksums_stay_on_the_line() -> None:
    """The part has none: it is numbered as an inserted line."""
    parts, _, _ = split(b"N7 G1 X20*72", [0.5])
    assert parts == ["G1 X15"]


@pytest.mark.parametrize(
    "line",
    [
        b"G2 X20 Y20 I5",
        b"G28 X0",
        b"G92 X5",
        b"G91 G1 X5",
        b"G1 X20 M106 S9",
        b"M104 S200",
        b"G1 F1500",
        b"; comment",
        b"M117 X20",
        b"T1",
    ],
)
def test_what_is_no_plain_move_is_left_whole(line: bytes) -> None:
    """Arcs, settings, and lines that do more than move are not split."""
    parts, rest, _ = split(line, [0.5])
    assert parts == []
    assert rest == line


@pytest.mark.parametrize("line", [b"G1 X20.500 E1.50", b"X-8.93e+01 E1.50"])
def test_without_a_place_to_split_nothing_changes(line: bytes) -> None:
    """Asked for no parts, the line keeps its spelling."""
    parts, rest, _ = split(line, [], replace(HERE, relative=True, e_relative=True))
    assert parts == []
    assert rest == line
