"""Law: a moved piece is the source's elsewhere, to half a last place, in every dialect; all else stays."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import pytest
from gpost_plugins.base import Base, BaseSettings
from gpost_plugins.place import Place, PlaceSettings
from gpost_plugins.remind import Remind, RemindSettings
from gpost_plugins.slab import Slab, SlabSettings
from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.errors import PlanError, SourceError
from gpost.pipeline import make_plan
from gpost.plan.intentions import Intention, LayClay, Pause, Say, ScaleFeed, ScaleFlow, Shift, Stroke
from gpost.spot import Spot
from gpost.survey.model import Survey
from tests.reference.outputs import NOT_KEPT, Row, begun, differences, same_feed
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.state import Dialect, Event
from tests.reference.words import LineError, Word, read_line

Point: TypeAlias = tuple[float, float, float]
Rewrite: TypeAlias = Callable[..., Any]
AXES = "XYZ"
NOISE_MM = 1e-8
STILL: Point = (0.0, 0.0, 0.0)
BEADS = (Stroke(((-100.0, -60.0), (-40.0, -60.0)), 8.0, 3.0, 3.0, 1.25),)
BED = {"x_min_mm": -200, "x_max_mm": 500, "y_min_mm": -200, "y_max_mm": 500}
CONFIG = Config.model_validate({"machine": {"bed": BED, "ceiling_mm": 900}})
HOW = st.sampled_from(["message", "pause"])
POT = b"G28\nG1 X50 Y50 Z2 F3000\nG1 X90 E5\nG1 Y90 E10\nG1 X50 E15\nG1 Y50 E20\nG1 Z4\nG1 X90 E25\n"


@dataclass
class Model:
    """How far the nozzle must be from where the source has it, followed word by word from the rules alone.

    An absolute word, or any word in a range that moves its axis, takes its axis to the sum of the ranges it
    stands in; homing takes it back to 0; what is not named stays. A range asks nothing of an axis that it
    does not move, and nothing at all if it moves none.
    """

    shifts: Sequence[Shift]
    by_mm: dict[str, float] = field(default_factory=lambda: dict.fromkeys(AXES, 0.0))
    half_mm: dict[str, float] = field(default_factory=lambda: dict.fromkeys(AXES, 0.0))
    """Half a last place of the word that said so."""
    asked: Point | None = None
    """What was asked of the last move; None: there was none yet."""
    refused: bool = False

    def inside(self, index: int) -> list[Shift]:
        """The ranges that hold a line and move anything."""
        return [s for s in self.shifts if s.first_line <= index < s.end_line and any(s.by_mm)]

    def asked_at(self, index: int) -> Point:
        """What is asked of a line."""
        x, y, z = (sum(s.by_mm[i] for s in self.inside(index)) for i in range(3))
        return x, y, z

    @property
    def place(self) -> Point:
        """The same for all three axes."""
        return self.by_mm["X"], self.by_mm["Y"], self.by_mm["Z"]

    def run(self, index: int, row: Row) -> None:
        """One line of the source."""
        words = words_of(row.raw, index)
        if any(w.letter == "G" and w.value == 28 for w in words):
            named = [w.letter for w in words if w.letter in AXES]
            for axis in named or AXES:
                self.by_mm[axis] = self.half_mm[axis] = 0.0
        if row.event.kind == "move":
            self.move(index, row.event, words)

    def move(self, index: int, own: Event, words: Sequence[Word]) -> None:
        before, asked = self.place, self.asked_at(index)
        for word in words:
            if word.letter not in AXES:
                continue
            axis = AXES.index(word.letter)
            if not own.state.relative or any(s.by_mm[axis] for s in self.inside(index)):
                goal = asked[axis]
                if goal != self.by_mm[word.letter] or not own.state.relative:
                    self.half_mm[word.letter] = half_place_mm(word, float(own.state.scale))
                self.by_mm[word.letter] = goal
        self.refused |= own.arc is not None and before != self.place
        sideways = own.arc is not None or own.start_mm[:2] != own.end_mm[:2]
        if self.inside(index) and sideways and own.e_metered_mm > 0:
            earlier = asked if self.asked is None else self.asked
            starts = all(b in (a, e) for b, a, e in zip(before, asked, earlier, strict=True))
            self.refused |= self.place != asked or not starts
        self.asked = asked


def words_of(raw: bytes, index: int) -> tuple[Word, ...]:
    """The words of a line; none if the line is in error."""
    try:
        return read_line(raw, first=index == 0).words
    except LineError:
        return ()


def half_place_mm(word: Word, scale: float) -> float:
    """Half a last place of a shifted word: with the source's decimals, but 3 at least, or 4 in inches."""
    assert word.value is not None
    exponent = word.value.as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0 ** -min(max(-exponent, 3 if scale == 1 else 4), 12) * scale


def apart(a: Iterable[float], b: Iterable[float]) -> list[float]:
    """How far two places are from each other, axis by axis."""
    return [abs(p - q) for p, q in zip(a, b, strict=True)]


def check(result: Any, shifts: Sequence[Shift], *, scaled: bool = False) -> None:
    """Lines end where the model says, arcs keep their shape; E and F are the source's unless `scaled`."""
    out, source = result.apart, result.before
    assert out.errors == ()
    assert len(out.rows) == len(source.rows)
    model = Model(shifts)
    split = {block.next_row for block in out.blocks if block.events[0].kind == "move"}
    for index, (row, own) in enumerate(zip(out.rows, source.rows, strict=True)):
        before, before_half = model.place, dict(model.half_mm)
        model.run(index, own)
        off = apart(row.event.end_mm, map(sum, zip(own.event.end_mm, model.place, strict=True)))
        assert all(by <= model.half_mm[axis] + NOISE_MM for by, axis in zip(off, AXES, strict=True)), own.raw
        if index not in split:
            off = apart(row.event.start_mm, map(sum, zip(own.event.start_mm, before, strict=True)))
            # homing happens within its line, so that its start is still the line's before
            assert all(by <= before_half[a] + NOISE_MM for by, a in zip(off, AXES, strict=True)), own.raw
            check_arc(row.event, own.event, before, max(before_half.values()) + max(model.half_mm.values()))
        assert (row.event.kind, row.event.motion) == (own.event.kind, own.event.motion)
        if not scaled:
            assert differences(row.event.state, own.event.state, ("register", "offset")) == [], own.raw
            assert abs(row.event.state.register["E"] - own.event.state.register["E"]) <= 1e-9
            assert same_feed(row.event.feed_mm_min, own.event.feed_mm_min)
            if index not in split:
                assert row.event.e_metered_mm == own.event.e_metered_mm
    for block in out.blocks:
        lead = block.events[0].kind == "move"
        is_reset = len(block.lines) == 1 and b"G92 E" in block.lines[0]
        if not is_reset:
            assert differences(block.after, block.events[0].state if lead else block.before) == []


def check_arc(row: Event, own: Event, by_mm: Point, off_mm: float) -> None:
    """The centre has moved with the arc; one given by its radius is known less well than its ends."""
    assert (row.arc is None) == (own.arc is None)
    if row.arc is None or own.arc is None:
        return
    assert row.arc.plane == own.arc.plane
    goal = [a + b for a, b in zip(own.arc.centre_mm, by_mm, strict=True)]
    assert max(apart(row.arc.centre_mm, goal)) <= 20 * off_mm + NOISE_MM
    assert row.arc.sweep_rad == pytest.approx(own.arc.sweep_rad, abs=40 * off_mm + NOISE_MM)


def model_refuses(rewrite: Rewrite, source: bytes, dialect: Dialect, shifts: Sequence[Shift]) -> bool:
    """Whether by the model an arc would be bent or clay left behind."""
    model = Model(shifts)
    for index, row in enumerate(rewrite(source, (), dialect=dialect).before.rows):
        model.run(index, row)
    return model.refused


def count_lines(program: bytes) -> int:
    """Lines of a program."""
    return program.count(b"\n") + (not program.endswith(b"\n"))


def amounts() -> st.SearchStrategy[Point]:
    """How far: along one axis or several, with few decimals or many."""
    one = st.sampled_from([0.0, 0.0, 3.1, -7.25, 12.345, 0.0333333, -0.0004, 100.0 / 3])
    return st.tuples(one, one, one)


def ranges(lines: int) -> st.SearchStrategy[list[Shift]]:
    """All lines, all from the start to somewhere, or one to three ranges anywhere, which may overlap."""
    whole = st.builds(lambda by: [Shift(0, lines, by)], amounts())
    start = st.builds(lambda end, by: [Shift(0, end, by)], st.integers(0, lines), amounts())
    one = st.builds(
        lambda first, length, by: Shift(first, min(first + length, lines), by),
        st.integers(0, lines - 1),
        st.integers(0, lines),
        amounts(),
    )
    return st.one_of(whole, whole, start, st.lists(one, min_size=1, max_size=3))


@given(draft=drafts(min_lines=6), data=st.data(), chunk_bytes=st.sampled_from([40, 333, 1 << 18]))
def test_any_program_is_moved(rewrite: Rewrite, draft: Draft, data: st.DataObject, chunk_bytes: int) -> None:
    """Axes absolute and relative, inches, arcs in all planes, G92, homing; ranges anywhere in the file."""
    program = begun(draft.program, b"G1 X0 Y0 Z0 F1200")
    shifts = data.draw(ranges(count_lines(program)))
    try:
        refused = model_refuses(rewrite, program, draft.dialect, shifts)
    except SourceError:
        assume(False)
    event(f"refused: {refused}")
    if refused:
        with pytest.raises(PlanError, match="the piece can't be moved"):
            rewrite(program, shifts, dialect=draft.dialect, chunk_bytes=chunk_bytes)
        return
    result = rewrite(program, shifts, dialect=draft.dialect, chunk_bytes=chunk_bytes)
    event(f"changed: {result.output != program}")
    check(result, shifts)


RELATIVE_END = b"G1 X0 Y0 Z0 F1200\nG1 X140 Y140 Z125\nG1 X150 E1\nG91 G0 X-4 Z-124.8\nG0 X1\n"


@pytest.mark.parametrize("aside", [(0.0, 0.0, 0.0), (5.0, 0.0, 0.0), (5.0, -1.0, 0.0)])
def test_a_range_takes_nothing_back_of_an_axis_that_it_does_not_move(rewrite: Rewrite, aside: Point) -> None:
    """One range raises up to the last clay, another goes on to the end: a relative end stays as it is in Z."""
    shifts = [Shift(0, 3, (0.0, 0.0, 3.1)), Shift(0, 5, aside)]
    result = rewrite(RELATIVE_END, shifts, dialect=Dialect())
    check(result, shifts)
    assert b"G91 G0 X-4 Z-124.8\n" in result.output


@given(
    draft=drafts(min_lines=6, laying_only=True), by_mm=amounts(), chunk_bytes=st.sampled_from([40, 1 << 18])
)
def test_every_bead_of_a_program_that_only_lays_is_moved(
    rewrite: Rewrite, draft: Draft, by_mm: Point, chunk_bytes: int
) -> None:
    """With one shift over all lines every laying position is the source's plus the shift."""
    program = begun(begun(draft.program, b"G1 X0 Y0 Z0 F1200"), b"G90")
    lines = count_lines(program)
    try:
        result = rewrite(program, [Shift(0, lines, by_mm)], dialect=draft.dialect, chunk_bytes=chunk_bytes)
    except SourceError:
        assume(False)
    check(result, [Shift(0, lines, by_mm)])
    for row, own in zip(result.apart.rows[2:], result.before.rows[2:], strict=True):
        off = apart(row.event.end_mm, map(sum, zip(own.event.end_mm, by_mm, strict=True)))
        assert max(off) <= 0.5e-4 * 25.4 + NOISE_MM


def insertions(spots: st.SearchStrategy[Spot]) -> st.SearchStrategy[Any]:
    """Pauses with a prime and beads beside the piece, beads alone, messages."""
    lays = st.builds(LayClay, spots, st.just(BEADS), st.just(900.0))
    pauses = st.builds(
        Pause,
        spot=spots,
        kind=st.sampled_from(["swap", "refill"]),
        reason=st.just("because"),
        message=st.just("Load blue"),
        prime_ml=st.sampled_from([0.0, 3.3]),
        lay=st.one_of(st.none(), lays),
    )
    return st.one_of(pauses, pauses, lays, st.builds(Say, spots, st.just("half way")))


@given(piece=piece_programs(), data=st.data(), chunk_bytes=st.sampled_from([400, 1 << 18]))
def test_a_pot_is_moved_with_blocks_in_it(
    rewrite: Rewrite, piece: Piece, data: st.DataObject, chunk_bytes: int
) -> None:
    """Moved onto a slab and along the bed, with pauses and beads between its moves and inside them."""
    lines = count_lines(piece.program)
    along, up = data.draw(amounts()), data.draw(st.sampled_from([0.0, 3.1, 25.0]))
    last = max(i for i, row in enumerate(events_of(rewrite, piece)) if row.lays_clay) + 1
    shifts = [Shift(0, last, (along[0], along[1], 0.0)), Shift(0, lines, (0.0, 0.0, up))]
    at = st.integers(piece.layer_lines[0], lines - 1)
    spots = st.one_of(
        at.map(Spot), at.map(lambda line: Spot(line, 0.5)), st.sampled_from(piece.layer_lines).map(Spot)
    )
    wishes: list[Intention] = [*shifts, *data.draw(st.lists(insertions(spots), max_size=4))]
    result = rewrite(piece.program, wishes, dialect=piece.dialect, chunk_bytes=chunk_bytes)
    check(result, shifts)
    for row, own in zip(result.apart.rows, result.before.rows, strict=True):
        if own.event.lays_clay:
            goal = [a + b for a, b in zip(own.event.end_mm, (along[0], along[1], up), strict=True)]
            assert max(apart(row.event.end_mm, goal)) <= 0.5e-4 * 25.4 + NOISE_MM


def pushed(result: Any, index: int) -> float:
    """E in mm that a source line pushes in the output, with the parts split off from it."""
    blocks = [block for block in result.apart.blocks if block.next_row == index]
    parts = sum(block.events[0].e_delta_mm for block in blocks if block.events[0].kind == "move")
    return float(result.apart.rows[index].event.e_delta_mm + parts)


def events_of(rewrite: Rewrite, piece: Piece) -> list[Event]:
    """What each line of a piece's program does."""
    return [row.event for row in rewrite(piece.program, (), dialect=piece.dialect).before.rows]


@given(piece=piece_programs(), data=st.data())
def test_a_pot_is_moved_with_its_clay_and_feed_scaled(
    rewrite: Rewrite, piece: Piece, data: st.DataObject
) -> None:
    """On the same lines X Y Z, E and F are edited: each is what it would be alone."""
    lines = count_lines(piece.program)
    shifts = [Shift(0, lines, data.draw(amounts()))]
    first, end = sorted((data.draw(st.integers(0, lines)), data.draw(st.integers(0, lines))))
    factor = data.draw(st.sampled_from([0.9, 1.05, 1.333]))
    edits = [ScaleFlow(first, end, factor), ScaleFeed(end // 2, lines, 0.7)]
    spots = st.builds(Spot, st.integers(piece.layer_lines[0], lines - 1), st.sampled_from([0.0, 0.5]))
    blocks = data.draw(st.lists(insertions(spots), max_size=3))
    moved = rewrite(piece.program, [*shifts, *edits, *blocks], dialect=piece.dialect)
    check(moved, shifts, scaled=True)
    alone = rewrite(piece.program, [*edits, *blocks], dialect=piece.dialect)
    for row, own in zip(moved.apart.rows, alone.apart.rows, strict=True):
        assert row.event.e_delta_mm == pytest.approx(own.event.e_delta_mm, abs=1e-4)
        assert same_feed(row.event.feed_mm_min, own.event.feed_mm_min)
        assert abs(row.event.state.register["E"] - own.event.state.register["E"]) <= 1e-9
    ignore = NOT_KEPT | {"register", "offset"}
    assert moved.apart.rows[-1].event.state.differences(alone.apart.rows[-1].event.state, ignore=ignore) == []


@given(piece=piece_programs(), to_mm=st.tuples(st.integers(80, 200), st.integers(80, 200)), data=st.data())
def test_the_steps_that_edit_in_bulk(
    rewrite: Rewrite, piece: Piece, to_mm: tuple[int, int], data: st.DataObject
) -> None:
    """The four steps together: the foot stands on its mark, raised, with more clay; all else is as before."""
    steps = [
        Base(BaseSettings(layers=1, flow_percent=120)),
        Place(PlaceSettings(x_mm=to_mm[0], y_mm=to_mm[1])),
        Slab(SlabSettings(thickness_mm=3, diameter_mm=400)),
        Remind(
            RemindSettings(every_min=data.draw(st.sampled_from([1, 3, 10])), how=data.draw(HOW), clear_mm=5)
        ),
    ]

    def wishes(survey: Survey) -> list[Intention]:
        return [entry.intention for entry in make_plan(survey, steps, CONFIG).entries]

    result = rewrite(piece.program, wishes, dialect=piece.dialect)
    shifts = result.plan.of(Shift)
    check(result, shifts, scaled=True)
    begin, end = result.survey.layers["first_line"][:2].tolist()
    foot = []
    for index, (row, own) in enumerate(zip(result.apart.rows[:end], result.before.rows, strict=False)):
        laid = index >= begin and own.event.lays_clay
        assert pushed(result, index) == pytest.approx(own.event.e_delta_mm * (1.2 if laid else 1.0), abs=2e-4)
        foot += [row.event.end_mm] if laid else []
    for axis, mark_mm in enumerate(to_mm):
        places = [place[axis] for place in foot]
        assert (min(places) + max(places)) / 2 == pytest.approx(mark_mm, abs=0.003)
    assert min(place[2] for place in foot) == pytest.approx(result.survey.bounds_mm[2][0] + 3.1, abs=0.003)


@given(piece=piece_programs(), data=st.data())
def test_the_blocks_of_the_file_can_t_be_seen(rewrite: Rewrite, piece: Piece, data: st.DataObject) -> None:
    """Shifts, clay and feeds come out byte for byte alike, however the file is cut."""
    lines = count_lines(piece.program)
    first, end = sorted((data.draw(st.integers(0, lines)), data.draw(st.integers(0, lines))))
    factor = data.draw(st.sampled_from([0.5, 1.5, 1.05, 1.333]))
    wishes = [Shift(0, end, data.draw(amounts())), ScaleFlow(first, end, factor), ScaleFeed(first, end, 0.7)]
    cut = [rewrite(piece.program, wishes, dialect=piece.dialect, chunk_bytes=n) for n in (100, 777, 1 << 18)]
    assert cut[0].output == cut[1].output == cut[2].output
    assert cut[0].written.edited == cut[1].written.edited == cut[2].written.edited


@given(
    steps=st.lists(st.integers(-4000, 4000), min_size=2, max_size=60).filter(any),
    decimals=st.integers(3, 5),
    factor=st.sampled_from([0.5, 0.937, 1.0001, 1.5, 2.25]),
    units=st.sampled_from([b"G20", b"G21"]),
)
def test_relative_words_never_drift(
    rewrite: Rewrite, steps: list[int], decimals: int, factor: float, units: bytes
) -> None:
    """The sum of any number of relative words is within half a last place of what is wanted at every line."""
    scale = 25.4 if units == b"G20" else 1.0
    start = b"G1 X%.*f Y%.*f Z%.*f F1200" % ((decimals, 0.0) * 3)
    lines = [units, b"G28", b"M83", b"G91", start]
    for number, step in enumerate(steps):
        e_mm = abs(step) / 10**decimals
        lines.append(
            b"G1 X%.*f Y%.*f E%.*f" % (decimals, step / 10**decimals, decimals, number % 7, decimals, e_mm)
        )
    program = b"\n".join(lines) + b"\n"
    by_mm = (3.14159, -2.71828, 0.1)
    wishes = [Shift(0, len(lines), by_mm), ScaleFlow(0, len(lines), factor)]
    config = {"machine": {"ceiling_mm": 1e5}}
    result = rewrite(program, wishes, config=config)
    least, least_e = (3, 5) if scale == 1 else (4, 6)
    half_mm, half_e = (
        0.5 * 10.0 ** -max(decimals, least) * scale,
        0.5 * 10.0 ** -max(decimals, least_e) * scale,
    )
    off_mm = goal_mm = written_mm = 0.0
    for row, own in zip(result.apart.rows[5:], result.before.rows[5:], strict=True):
        off = apart(row.event.end_mm, map(sum, zip(own.event.end_mm, by_mm, strict=True)))
        assert max(off) <= half_mm + NOISE_MM
        lays = own.event.start_mm[:2] != own.event.end_mm[:2]
        goal_mm += own.event.e_delta_mm * (factor if lays else 1)
        written_mm += row.event.e_delta_mm
        off_mm = max(off_mm, abs(goal_mm - written_mm))
    assert off_mm <= half_e * 1.0001 + NOISE_MM


def test_absolute_words_get_the_shift_and_later_ones_do_not(rewrite: Rewrite) -> None:
    """Words of the range are rounded as the source rounds; after it each axis goes back when it is named."""
    result = rewrite(POT, [Shift(0, 5, (10.5, -3.25, 0.0))])
    assert [row.raw for row in result.apart.rows] == [
        b"G28",
        b"G1 X60.5 Y46.75 Z2 F3000",
        b"G1 X100.5 E5",
        b"G1 Y86.75 E10",
        b"G1 X60.5 E15",
        b"G1 Y50 E20",
        b"G1 Z4",
        b"G1 X90 E25",
    ]
    assert dict(result.written.edited) == {0: 4}


def test_in_relative_mode_one_move_carries_the_piece(rewrite: Rewrite) -> None:
    """The first move of the range gets the shift, all others stay; it holds until an absolute word."""
    program = b"G28\nG91\nG1 X50 Y50 Z2 F3000\nG1 X40 E5\nG1 Y40 E10\nG1 Z5\nG90\nG1 X0 Y0\n"
    result = rewrite(program, [Shift(0, 5, (1.5, 2.0, 3.0))])
    assert [row.raw for row in result.apart.rows][2:] == [
        b"G1 X51.5 Y52 Z5 F3000",
        b"G1 X40 E5",
        b"G1 Y40 E10",
        b"G1 Z5",
        b"G90",
        b"G1 X0 Y0",
    ]
    ends = [row.event.end_mm for row in result.apart.rows]
    assert ends[5:] == [(91.5, 92.0, 10.0), (91.5, 92.0, 10.0), (0.0, 0.0, 10.0)]


def test_a_g92_on_an_axis_keeps_the_shift(rewrite: Rewrite) -> None:
    """After it the source's numbers mean shifted places, and past the range they are moved back."""
    program = POT + b"G92 X0 Y0 Z0\nG1 X10 E30\nG1 Y10 E35\nG1 X-90 Y-50 Z20\n"
    result = rewrite(program, [Shift(0, 11, (10.0, 5.0, 3.0))])
    assert [row.raw for row in result.apart.rows][8:] == [
        b"G92 X0 Y0 Z0",
        b"G1 X10 E30",
        b"G1 Y10 E35",
        b"G1 X-100 Y-55 Z17",
    ]
    assert result.apart.rows[-1].event.end_mm == (0.0, 0.0, 24.0)


def test_homing_inside_the_range_takes_the_shift_away_until_the_next_move(rewrite: Rewrite) -> None:
    """An axis that was homed is brought back to its shifted place by the first word that names it."""
    program = POT + b"G28 X\nG91\nG0 X20\nG1 X10 E5\n"
    result = rewrite(program, [Shift(0, 99, (4.0, 0.0, 1.0))])
    assert [row.raw for row in result.apart.rows][8:] == [b"G28 X", b"G91", b"G0 X24", b"G1 X10 E5"]


def test_a_bead_whose_start_no_word_has_moved_is_refused(rewrite: Rewrite) -> None:
    """Where an axis is not named before clay is laid the piece would be torn; the line is told."""
    for start in (b"G28\n", b"G91\n", b"G28\nG91\n"):
        program = start + b"G0 X10 F900\nG1 X20 E1\n"
        with pytest.raises(PlanError, match=f"on line {program.count(10)} clay is laid before"):
            rewrite(program, [Shift(0, 9, (0.0, 5.0, 0.0))])


def test_a_range_may_begin_between_two_beads(rewrite: Rewrite) -> None:
    """A bead leads from where the piece stood to where it is to stand: a wall that leans is a wish."""
    result = rewrite(POT, [Shift(5, 99, (0.0, 1.0, 0.0))])
    assert [row.event.end_mm[:2] for row in result.apart.rows][3:6] == [(90, 90), (50, 90), (50, 51)]


@pytest.mark.parametrize("shift", [Shift(0, 3, (5.0, 0.0, 0.0)), Shift(3, 9, (5.0, 0.0, 0.0))])
def test_an_arc_is_moved_as_a_whole_or_not_at_all(rewrite: Rewrite, shift: Shift) -> None:
    """A range that begins or ends at an absolute arc would bend it, and is refused with the line."""
    program = b"G28\nG90\nG1 X50 Y50 Z2 F900\nG2 X90 Y50 I20 J0 E5\nG1 X10 E6\n"
    with pytest.raises(PlanError, match="the arc on line 4 would start in one place"):
        rewrite(program, [shift])
    result = rewrite(program, [Shift(0, 4, (5.0, 0.0, 0.0))])
    assert result.apart.rows[3].raw == b"G2 X95 Y50 I20 J0 E5"


def test_nothing_is_changed_by_a_shift_of_nothing(rewrite: Rewrite) -> None:
    """A shift by 0 leaves the file byte for byte."""
    assert rewrite(POT, [Shift(0, 99, STILL)]).output == POT


def test_a_shift_that_is_less_than_a_last_place_changes_no_word(rewrite: Rewrite) -> None:
    """What would be rounded away is not written, and never adds up."""
    result = rewrite(POT, [Shift(0, 99, (0.0004, 0.0, 0.0))])
    assert [row.raw + b"\n" for row in result.apart.rows] == POT.splitlines(keepends=True)
