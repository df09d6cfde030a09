"""An arc is split so that what is laid and what is left make the whole: checked by the reference interpreter.

It follows NIST RS274/NGC (NISTIR 6556, section 3.5.3) line by line and shares no code with what it checks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.block import PAD
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.survey.model import BlockMark
from gpost.write.splitarc import split_parts
from gpost.write.work import Work
from tests.reference.actions import arcs
from tests.reference.interpreter import Machine
from tests.reference.programs import spellings
from tests.reference.spelling import Form, Spelling, write_file
from tests.reference.state import Dialect, Event
from tests.reference.writer import Writer

NEAR_MM = 2e-4
"""Half a last place of the split's words, of an inch too, along both axes and in a centre."""


@dataclass(frozen=True)
class Split:
    """An arc, and what became of it."""

    whole: Event
    done: Event
    left: Event
    line: bytes


def split(opening: bytes, arc: bytes, fraction: float) -> Split | None:
    """The arc on a line behind others; None where it isn't split."""
    config = Config.model_validate({"machine": {"arc_tolerance_mm": 0.02}})
    before = Follower(
        read_block(Chunk(opening, 0, 0)), MachineState(), config.machine, config.clay.metering
    ).end
    chunk = Chunk(arc, len(opening), opening.count(b"\n"))
    mark = BlockMark(len(opening), len(arc), chunk.first_line, 1, before, 0.0, 0.0)
    work = Work(mark, read_block(chunk), config)
    parts = split_parts(work, 0, [fraction], before, config, arcs=True)
    if not parts:
        return None
    (line,) = work.edits.parts([PAD, len(work.block.bytes) - PAD])
    dialect = Dialect(arc_tolerance_mm=0.025)
    machine, other = Machine(dialect), Machine(dialect)
    other.run(opening)
    whole = other.execute(arc.rstrip(b"\n"))
    machine.run(opening)
    done = machine.execute(parts[0].text)
    reached = parts[0].state
    assert machine.state.position_mm == pytest.approx(reached.position_mm, abs=1e-7)
    assert float(machine.state.register["E"]) == pytest.approx(reached.register[3], abs=1e-7)
    return Split(whole, done, machine.execute(line.rstrip(b"\n")), line)


def check(found: Split, fraction: float) -> None:
    """Both parts lie on the arc, and add up to it."""
    whole, done, left = found.whole, found.done, found.left
    assert (whole.error, done.error, left.error) == (None, None, None), found.line
    assert whole.arc is not None
    assert done.arc is not None
    assert left.arc is not None
    assert left.start_mm == done.end_mm
    assert left.end_mm == pytest.approx(whole.end_mm, abs=1e-6)
    assert left.motion == done.motion == whole.motion
    first, second, normal = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}[whole.arc.plane]
    for part in (done.arc, left.arc):
        assert part.plane == whole.arc.plane
        for axis in (first, second):
            assert part.centre_mm[axis] == pytest.approx(whole.arc.centre_mm[axis], abs=NEAR_MM)
    assert done.arc.sweep_rad == pytest.approx(fraction * whole.arc.sweep_rad, abs=NEAR_MM / whole.arc.radius_mm)
    assert left.arc.sweep_rad == pytest.approx(
        (1 - fraction) * whole.arc.sweep_rad, abs=2 * NEAR_MM / whole.arc.radius_mm
    )
    rise = whole.end_mm[normal] - whole.start_mm[normal]
    assert done.end_mm[normal] - whole.start_mm[normal] == pytest.approx(fraction * rise, abs=NEAR_MM)
    # half a last place of an E of five decimals, of inches too
    assert done.e_delta_mm == pytest.approx(fraction * whole.e_delta_mm, abs=2e-4)
    assert done.e_delta_mm + left.e_delta_mm == pytest.approx(whole.e_delta_mm, abs=1e-9)
    assert left.feed_mm_min == whole.feed_mm_min


@st.composite
def openings(draw: st.DrawFn) -> tuple[bytes, bytes]:
    """(lines that set the modes and go somewhere, an arc from there), in every spelling."""
    writer, plain = Writer(Dialect()), Spelling()
    codes = [draw(st.sampled_from(pair)) for pair in (("G20", "G21"), ("G90", "G91"), ("M82", "M83"))]
    for code in [*codes, draw(st.sampled_from(["G17", "G18", "G19"]))]:
        writer.account_modes([code])
        writer.add_words([code], [], plain)
    places = {axis: draw(st.integers(60, 200)) for axis in "XYZ"}
    writer.straight({a: Decimal(mm) for a, mm in places.items()}, plain, e_mm=Decimal(3), feed_mm_min=Decimal(900))
    act = draw(arcs(spellings(), laying=True))
    before = len(writer.lines)
    act(writer)
    assume(len(writer.lines) == before + 1)
    data = write_file(writer.lines, Form())
    lines = data.splitlines(keepends=True)
    return b"".join(lines[:-1]), lines[-1]


@given(program=openings(), share=st.floats(0.02, 0.98))
def test_both_parts_make_the_arc(program: tuple[bytes, bytes], share: float) -> None:
    """In every plane, mode, unit and form, full circles and helices too."""
    found = split(*program, share)
    assume(found is not None)
    assert found is not None
    assume(found.whole.arc is not None and found.whole.arc.radius_mm > 0.5)
    check(found, share)


@pytest.mark.parametrize(
    ("arc", "share", "left"),
    [
        # the circle of radius 10 round x 10, y 0, from its left; a quarter of a turn down, up or on
        ("G3 X20 Y0 I10 J0 E2", 0.5, "G3 X20 Y0 I0 J10 E2"),
        ("G2 X20 Y0 I10 J0 E2", 0.5, "G2 X20 Y0 I0 J-10 E2"),
        ("G3 I10 E4", 0.25, "G3 I0 E4 X0 Y0 J10"),
        ("G3 X20 I10 E2", 0.5, "G3 X20 I0 E2 Y0 J10"),
        ("G3 X20 R10 E2", 0.5, "G3 X20  E2 Y0 I0 J10"),
        ("G3 X10 Y10 R-10 E3", 1 / 3, "G3 X10 Y10  E3 I0 J10"),
        ("G3 X20 Y0 Z3 I10 J0 E2", 0.5, "G3 X20 Y0 Z3 I0 J10 E2"),
    ],
)
def test_by_hand(arc: str, share: float, left: str) -> None:
    """What is left names its end and its centre; a radius is not kept."""
    found = split(b"G90\nM82\nG92 X0 Y0 Z0 E0\nG1 F600\n", arc.encode() + b"\n", share)
    assert found is not None
    assert found.line.decode().strip() == left
    check(found, share)


def test_what_counts_from_the_last_place_is_cut_down() -> None:
    """End, height and clay of what is left are the differences."""
    found = split(b"G91\nM83\nG1 F600\n", b"G3 X20 Y0 Z2 I10 J0 E2\n", 0.5)
    assert found is not None
    assert found.line == b"G3 X10 Y10 Z1 I0 J10 E1\n"
    check(found, 0.5)


def test_a_radius_near_half_a_turn() -> None:
    """Where a radius would tell the centre badly it is named itself: half a turn is left of three quarters."""
    found = split(b"G90\nM82\nG1 F600\n", b"G3 X10 Y10 R-10 E3\n", 1 / 3)
    assert found is not None
    assert found.left.arc is not None
    assert found.left.arc.sweep_rad == pytest.approx(math.pi, abs=1e-4)


@pytest.mark.parametrize("line", ["G3 X20 Y0 I10 J0 E2 M106", "G3 G17 X20 I10 E2", "G3 X20 I10 P2 E2"])
def test_what_does_more_is_not_split(line: str) -> None:
    """It is gone on before or after it."""
    assert split(b"G90\nM82\nG1 F600\n", line.encode() + b"\n", 0.5) is None
