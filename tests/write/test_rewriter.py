"""The second pass as a whole: order of insertions, what is refused, what is copied without being read."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.errors import PlanError, SourceError
from gpost.plan.intentions import (
    Command,
    Intention,
    Pause,
    Rehearse,
    Say,
    ScaleFeed,
    ScaleFlow,
    Silence,
    SilencePush,
)
from gpost.plan.plan import Plan
from gpost.read import words
from gpost.read.source import Source
from gpost.spot import Spot
from gpost.survey.build import survey_source
from gpost.write import rewriter
from gpost.write.output import Written
from gpost.write.rewriter import Rewriter
from tests.reference.interpreter import run

RINGS = "".join(
    f"G1 X100 Y140 Z{z} F1500\nG1 X180 E{z}1\nG1 Y180 E{z}2\nG1 X100 E{z}3\n" for z in range(2, 10)
)
POT = f"G28\nM104 S200\n{RINGS}M107\n"


class Job:
    """A file, and what is written of it for some wishes."""

    def __init__(self, path: Path, text: str = POT, *, chunk_bytes: int = 1 << 18) -> None:
        path.write_text(text)
        self.source = Source(path, chunk_bytes=chunk_bytes)
        self.survey = survey_source(self.source, Config())
        self.chunks = len(self.survey.marks)

    def write(self, *wishes: Intention, **how: Any) -> tuple[str, Written]:
        """(output but for its last line, which says where it ends, report)."""
        output, written = self.whole(*wishes, **how)
        if not output.startswith("; gpost wrote this file"):
            return output, written
        end = output.rindex("; gpost wrote this file")
        assert end > 0
        assert output.count("\n", end) <= 1
        return output[:end], written

    def whole(self, *wishes: Intention, **how: Any) -> tuple[str, Written]:
        """(output, report)."""
        plan = Plan(self.survey, Config()).adding("test", wishes)
        file = io.BytesIO()
        written = Rewriter(self.source, plan, "(test)").write(file, **how)
        return file.getvalue().decode(), written


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """A pot of eight rings."""
    return Job(tmp_path / "pot.gcode")


def test_insertions_at_one_spot_come_in_the_order_of_the_wishes(job: Job) -> None:
    """By place first, then as the plan has them; the report says where each came to stand."""
    output, written = job.whole(Say(Spot(6), "c"), Say(Spot(2), "a"), Say(Spot(6), "d"), Say(Spot(2), "b"))
    lines = output.splitlines()
    assert [line for line in lines if line.startswith("M117")] == ["M117 a", "M117 b", "M117 c", "M117 d"]
    found = {index: lines[first - 1] for index, (first, _) in written.places.items()}
    assert found == {0: "M117 c", 1: "M117 a", 2: "M117 d", 3: "M117 b"}
    assert written.lines == len(lines)
    assert written.size_bytes == len(output)


def many_wishes(lines: int) -> st.SearchStrategy[list[Intention]]:
    """Of every kind that a block is written in a way of its own for."""
    places = st.integers(0, lines)
    ranges = st.tuples(places, places).map(sorted)
    return st.lists(
        st.one_of(
            places.map(lambda line: Say(Spot(line), "now")),
            ranges.map(lambda ends: ScaleFeed(*ends, 0.5)),
            ranges.map(lambda ends: ScaleFlow(*ends, 1.5)),
        ),
        max_size=4,
    )


@given(
    waits=st.sets(st.integers(0, len(POT.splitlines())), min_size=1, max_size=6),
    data=st.data(),
    chunk_bytes=st.sampled_from([40, 200, 700, 1 << 18]),
    lead=st.sampled_from(["", "%\n", "\ufeff"]),
)
def test_where_the_file_s_own_pauses_come_to_stand(
    tmp_path_factory: pytest.TempPathFactory,
    waits: set[int],
    data: st.DataObject,
    chunk_bytes: int,
    lead: str,
) -> None:
    """The report gives each its line of the output, whatever is inserted and edited, and wherever it is cut."""
    lines = POT.splitlines(keepends=True)
    for number, at in enumerate(sorted(waits, reverse=True)):
        lines.insert(at, f"M0 S{number}\n")
    job = Job(tmp_path_factory.mktemp("own") / "pot.gcode", lead + "".join(lines), chunk_bytes=chunk_bytes)
    wishes = data.draw(many_wishes(job.survey.lines))
    output, written = job.write(*wishes)
    source, found = (lead + "".join(lines)).splitlines(), output.splitlines()
    assert len(written.own_pauses) == len(waits)
    for line, output_line in written.own_pauses.items():
        assert source[line].lstrip("\ufeff").startswith("M0 S")
        assert found[output_line - 1].lstrip("\ufeff") == source[line].lstrip("\ufeff")


def test_of_a_silenced_pause_no_place_is_kept(tmp_path: Path) -> None:
    """It waits no more."""
    job = Job(tmp_path / "pot.gcode", POT + "M0\nM1\n")
    end = job.survey.lines
    _, written = job.write(Silence(np.array([end - 2]), "no waiting"))
    assert list(written.own_pauses) == [end - 1]


def test_blocks_that_no_wish_touches_are_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the chunk with the insertion is parsed in the second pass; all others are copied as bytes."""
    job = Job(tmp_path / "pot.gcode", chunk_bytes=60)
    assert job.chunks > 5
    read: list[int] = []

    def counting(chunk: Any) -> Any:
        read.append(chunk.first_line)
        return words.read_block(chunk)

    monkeypatch.setattr(rewriter, "read_block", counting)
    output, _ = job.write(Say(Spot(20), "now"))
    assert len(read) == 1
    assert output.replace("M117 now\n", "").split("\n", 1)[1] == POT


def test_progress_goes_from_block_to_block(tmp_path: Path) -> None:
    """It ends at the size of the source."""
    job = Job(tmp_path / "pot.gcode", chunk_bytes=100)
    seen: list[tuple[int, int]] = []
    job.write(Say(Spot(20), "now"), progress=lambda done, size: seen.append((done, size)))
    assert [done for done, _ in seen] == sorted({done for done, _ in seen})
    assert len(seen) == job.chunks
    assert seen[-1] == (len(POT), len(POT))


def test_a_silenced_line_is_counted_for_its_wish(job: Job) -> None:
    """The line stays as a comment; the report counts it."""
    output, written = job.write(Silence(np.array([1, 34])))
    assert "\n; gpost silenced: M104 S200\n" in output
    assert output.endswith("; gpost silenced: M107\n")
    assert written.edited == {0: 2}


@pytest.mark.parametrize(
    "line",
    ["G1 X5 M104 S1", "G90 M104 S1", "M82", "M220 S50", "G92 E0", "G28", "M101", "X5", "G1 F900", "G20"],
)
def test_a_line_that_later_lines_depend_on_is_not_silenced(tmp_path: Path, line: str) -> None:
    """The sentence names the step and the line."""
    job = Job(tmp_path / "pot.gcode", POT.replace("M104 S200", line))
    with pytest.raises(PlanError, match="test: line 2 can't be taken out as a whole"):
        job.write(Silence(np.array([1])))


@pytest.mark.parametrize(
    ("line", "rehearsed", "taken"),
    [
        ("M104 S1 M107", False, False),
        ("M3 M107", False, False),
        ("M106 S9 M117 on", False, False),
        ("M107 G4 S5", False, False),
        ("M104 S1 M107", True, True),
        ("M5 M107", True, True),
        ("M107 G4 S5", True, True),
        ("M107 M17", True, False),
    ],
)
def test_what_stands_beside_the_blowers_command_is_not_silenced_along(
    tmp_path: Path, line: str, rehearsed: bool, taken: bool
) -> None:
    """But in a rehearsal heat, dwells and pins, which it takes out anyway."""
    job = Job(tmp_path / "pot.gcode", POT.replace("M104 S200", line))
    wishes = [Silence(np.array([1])), *([Rehearse(5.0)] if rehearsed else [])]
    if taken:
        assert f"\n; gpost silenced: {line}\n" in job.write(*wishes)[0]
    else:
        with pytest.raises(PlanError, match=r"test: line 2 can't be taken out.*put each on a line of its own"):
            job.write(*wishes)


@pytest.mark.parametrize(
    "line", ["M104 S1", "M109 T1 R5", "M106 S9", "M117 X5", "; note", "M301 P1 I2 D3", "G4 P5", ""]
)
def test_other_lines_may_be_silenced(tmp_path: Path, line: str) -> None:
    """Heat, air, messages, comments, dwells."""
    job = Job(tmp_path / "pot.gcode", POT.replace("M104 S200", line))
    assert f"\n; gpost silenced: {line}\n" in job.write(Silence(np.array([1])))[0]


@pytest.mark.parametrize(
    ("line", "left"),
    [
        ("G1 X5 F900 M3 S600", "G1 X5 F900"),
        ("M5 G0 Z20", "G0 Z20"),
        ("N3 M42 P5 S200 G1 X5", "N3 G1 X5"),
        ("G1 X5 M101", "G1 X5"),
        ("G3 X5 Y5 I2.5 J2.5 M3 S600", "G3 X5 Y5 I2.5 J2.5"),
        ("G1 X5 M106 S255", "G1 X5"),
        ("G1 X5 M3 S600 M106", None),
        ("G3 X5 Y5 I2.5 J2.5 M42 P5 S200", None),
        ("G91 M3 S600", None),
        ("G1 X5 M109 R200", None),
        ("G1 X5 M82", None),
    ],
)
def test_a_rehearsal_takes_a_code_out_of_a_line_that_moves(tmp_path: Path, line: str, left: str | None) -> None:
    """The move stays; what may be meant otherwise, such as P on an arc, is refused, and all of it in a print."""
    job = Job(tmp_path / "pot.gcode", POT.replace("M104 S200", line))
    silence, rehearse = Silence(np.array([1])), Rehearse(5.0)
    if left is not None:
        output, written = job.write(silence, rehearse)
        lines = output.splitlines()
        assert " ".join(lines[lines.index("G28") + 1].split()) == left
        assert written.edited[0] == 1
    else:
        with pytest.raises(PlanError, match="test: line 2 can't be taken out as a whole"):
            job.write(silence, rehearse)
    with pytest.raises(PlanError, match="test: line 2 can't be taken out as a whole"):
        job.write(silence)


@pytest.mark.parametrize("line", ["G1 X5 E1", "G92 E0", "G1 E5 M400", "G28", "G1 X0 Y0 E1"])
def test_a_line_that_does_more_than_push_is_not_silenced_as_a_push(tmp_path: Path, line: str) -> None:
    """Nothing could stand for what else it does."""
    job = Job(tmp_path / "pot.gcode", POT.replace("M104 S200", line))
    with pytest.raises(PlanError, match="test: line 2 can't be taken out as a whole"):
        job.write(SilencePush(1))


def test_what_stands_for_a_silenced_push(tmp_path: Path) -> None:
    """E, and the feed with the motion mode, which later lines may rely on."""
    job = Job(tmp_path / "pot.gcode", POT.replace("M104 S200", "G1 E30.5 F900"))
    output, written = job.write(SilencePush(1))
    assert "\n; gpost silenced: G1 E30.5 F900\nG92 E30.5\nG1 F900\n" in output
    assert (written.edited, written.places) == ({0: 1}, {0: (4, 5)})


def test_a_source_that_has_changed_is_noticed(tmp_path: Path) -> None:
    """Between the passes, while it is read, and when it is gone."""
    path = tmp_path / "pot.gcode"
    job = Job(path)
    path.write_text(POT.replace("X180", "X181"))
    with pytest.raises(SourceError, match="changed while it was read"):
        job.write(Say(Spot(2), "now"))
    path.write_text("G28\n")
    with pytest.raises(SourceError, match="changed while it was read"):
        job.write(Say(Spot(2), "now"))
    path.unlink()
    with pytest.raises(SourceError, match=r"pot\.gcode"):
        job.write(Say(Spot(2), "now"))


def test_an_arc_s_mode_is_owed_over_the_border_of_a_block(tmp_path: Path) -> None:
    """A pause before a modal arc gives that arc its code, also when it stands in a later chunk."""
    arcs = (
        "G28\nG1 X100 Y100 Z2 F1500\nG3 X120 Y100 I10 E5\n"
        + "; remark\n" * 30
        + "X100 Y100 I-10 E10\nX120 I10 E15\n"
    )
    for chunk_bytes in (20, 100, 1 << 18):
        job = Job(tmp_path / "arcs.gcode", arcs, chunk_bytes=chunk_bytes)
        output, _ = job.write(Pause(Spot(5), "look", "why", "Look"), Pause(Spot(9), "look", "why", "Look"))
        assert output.splitlines()[-2:] == ["G3 X100 Y100 I-10 E10", "X120 I10 E15"]
        assert [event.error for event in run(output.encode()) if event.error] == []


def test_two_insertions_among_modal_arcs_each_give_the_code_back(tmp_path: Path) -> None:
    """Each pause is followed by an arc with its code; the arcs between rely on it again."""
    circles = "X100 I-10 E10\nX120 I10 E15\nX100 I-10 E20\nX120 I10 E25\n"
    arcs = "G28\nG1 X100 Y100 Z2 F1500\nG3 X120 Y100 I10 E5\n" + circles
    job = Job(tmp_path / "arcs.gcode", arcs)
    output, _ = job.write(Pause(Spot(3), "look", "", "Look"), Pause(Spot(5), "look", "", "Look"))
    coded = [line for line in output.splitlines() if " I" in line]
    assert coded == [
        "G3 X120 Y100 I10 E5",
        "G3 X100 I-10 E10",
        "X120 I10 E15",
        "G3 X100 I-10 E20",
        "X120 I10 E25",
    ]


def test_a_pause_before_the_first_feed_is_refused_where_it_matters(tmp_path: Path) -> None:
    """If the next move says its F, all is well; if it relies on the machine's own, it can't be given back."""
    moves = "G28\nG1 X100 Y100 Z2\nG1 X180 E5 F1500\nG1 Y180 E10\n"
    job = Job(tmp_path / "pot.gcode", moves)
    assert "M0\n" in job.write(Pause(Spot(2), "look", "", "Look"))[0]
    with pytest.raises(PlanError, match="the file has not said a feed"):
        job.write(Pause(Spot(1), "look", "", "Look"))


def test_what_comes_at_the_end_follows_the_last_line(job: Job) -> None:
    """In the state that holds there, scaled feed and clay included."""
    output, _ = job.write(
        ScaleFeed(0, 99, 0.5), ScaleFlow(0, 99, 2.0), Pause(Spot(35), "look", "", "Look", prime_ml=1.0)
    )
    lines = output.splitlines()
    assert lines[-1] == "; gpost: look ends"
    assert lines[-2] == "G1 F750"
    register = float(run(output.encode())[-1].state.register["E"])
    before = next(e for e, line in zip(run(output.encode()), lines, strict=True) if line == "M107")
    assert register == pytest.approx(float(before.state.register["E"]))


def test_commands_of_a_step_are_checked_too(job: Job) -> None:
    """A step that would have a move inserted as a command is named."""
    with pytest.raises(PlanError, match="test: the command 'G91' can't be sent"):
        job.write(Command(Spot(2), ("G91",)))


def test_a_line_that_can_t_be_split_is_left_whole_and_said_so(tmp_path: Path) -> None:
    """Inside an arc the insertion comes before it, with a remark."""
    job = Job(tmp_path / "arcs.gcode", "G28\nG1 X100 Y100 Z2 F1500\nG3 X120 Y100 I10 E5\n")
    output, written = job.write(Say(Spot(2, 0.5), "now"))
    assert output.splitlines()[3:] == ["; gpost: this line is not split", "M117 now", "G3 X120 Y100 I10 E5"]
    assert written.places == {0: (4, 5)}


WALL_LINES = st.sampled_from(
    [
        *(f"G1 X{x % 7 + 1} Y{x % 5} E{{e:.1f}}" for x in range(12)),
        *("G1 X9 Y9 E{e:.1f} F1500", "X3 Y8 E{e:.1f}", "G0 X1 Y1 F3000", "G0 X4 Y2", "G1 X5 F800", "G1 E1"),
        *("G1 F1000", "G92 E{e:.1f}", "M106 S20", "G4 P10", "; a ring", "", "G1", "(X3) ; X2", "M220 S90"),
        *("M220 S100", "G20", "G21", "G1 X2 F1500.0 E{e:.1f} ; wall", "F700 X6", "T1"),
    ]
)
SLOWER = st.lists(
    st.tuples(
        st.integers(0, 130), st.integers(1, 60), st.sampled_from([0.1, 0.5, 0.75, 1.0, 1.5]),
        st.sampled_from([0.0, 700.0]),
    ),
    min_size=1, max_size=6,
)  # fmt: skip


RING_WITH_FAN = [
    *("M106 S20", *["G1 X1 Y1 E{e:.1f}"] * 3),
    *("G1 X9 Y9 E{e:.1f} F1500", *["G1 X2 Y2 E{e:.1f}"] * 3),
]
SAID = st.lists(st.builds(Say, st.builds(Spot, st.integers(0, 130)), st.just("look")), max_size=4)


@settings(deadline=None)
@given(
    st.lists(WALL_LINES, min_size=30, max_size=120),
    SLOWER,
    SAID,
    st.lists(st.integers(0, 130), max_size=3, unique=True),
    st.booleans(),
    st.sampled_from([40, 120, 250, 400]),
)
@example([], [(0, 4, 0.1, 0.0)], [], [], False, 40)  # ended a last line that has no newline
@example(RING_WITH_FAN * 5, [(5, 35, 0.5, 0.0)], [], [0, 8, 16, 24], False, 250)  # lost an F
def test_blocks_changed_by_their_marks_come_out_as_if_read_as_a_whole(
    tmp_path_factory: pytest.TempPathFactory,
    lines: list[str],
    slower: list[tuple[int, int, float, float]],
    said: list[Say],
    silenced: list[int],
    more_clay: bool,
    chunk_bytes: int,
) -> None:
    """A block's marks do as well for its feeds as its lines, whether or not it is read for other changes."""
    source = tmp_path_factory.mktemp("sparse") / "pot.gcode"
    rows = [line.format(e=100 + number / 10) for number, line in enumerate(lines)]
    source.write_text("\n".join(["G21", "G90", "G1 X0 Y0 F1200", "G1 X1 E100", *rows]))
    wishes: list[Intention] = [ScaleFeed(a, a + more, factor, floor) for a, more, factor, floor in slower]
    wishes += [ScaleFlow(20, 60, 1.1)] if more_clay else []
    opened = Source(source, chunk_bytes=chunk_bytes)
    survey = survey_source(opened, Config())
    passing = [at for at in silenced if at < len(rows) and rows[at] in ("M106 S20", "G4 P10")]
    wishes += [*said, Silence(np.array([at + 4 for at in passing], np.int64))]
    found = []
    for marks in (survey.marks, tuple(replace(mark, feeds=None) for mark in survey.marks)):
        plan = Plan(replace(survey, marks=marks), Config()).adding("taper", wishes)
        out = io.BytesIO()
        written = Rewriter(opened, plan, "x").write(out)
        found.append((out.getvalue(), written.edited, written.places, written.lines))
    assert found[0] == found[1]


def test_most_blocks_of_a_wall_have_feed_marks(tmp_path: Path) -> None:
    """Rings with a travel and a feed of their own need not be read again to be slowed."""
    ring = ["G0 X0 Y0 F3000", "G1 F1200 X1 E{}", *["G1 X3 Y3 E{}"] * 9, "G92 E0", "M106 S20"]
    rows = [line.format(number) for number, line in enumerate(ring * 20)]
    source = tmp_path / "pot.gcode"
    source.write_text("\n".join(rows))
    survey = survey_source(Source(source, chunk_bytes=500), Config())
    assert len(survey.marks) > 5
    assert all(mark.feeds is not None for mark in survey.marks)


def test_where_what_is_sent_first_stands(job: Job) -> None:
    """The line of the output, counted from 1, on which each command stands for the first time."""
    output, written = job.write(
        Command(Spot(4), ("M300 S1", "M300 S2")), Pause(Spot(9), "look", "", "Look"), Command(Spot(20), ("M300 S1",))
    )
    lines = output.splitlines()
    assert len(written.sent) >= 3
    for sent in written.sent:
        command = sent.command.partition("<")[0]
        assert lines[sent.first_line - 1].startswith(command)
        assert [line for line in lines[: sent.first_line - 1] if line.startswith(command)] == []
    assert {sent.command: sent.times for sent in written.sent}["M300 S1"] == 2


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
@pytest.mark.parametrize(("lead", "source"), [("%\n", "%\n"), ("\ufeff", "\ufeff"), ("", "")])
def test_what_is_inserted_first_comes_after_what_must_be_first(
    tmp_path: Path, lead: str, source: str, chunk_bytes: int
) -> None:
    """After a byte order mark, and the line that opens a program (NIST RS274/NGC report, section 3.1)."""
    job = Job(tmp_path / "pot.gcode", source + POT, chunk_bytes=chunk_bytes)
    output, _ = job.whole(Say(Spot(0), "first"))
    assert output.startswith(lead)
    lines = output.removeprefix(lead).splitlines()
    assert lines[0].startswith("; gpost wrote this file")
    assert lines[1:3] == ["M117 first", "G28"]
