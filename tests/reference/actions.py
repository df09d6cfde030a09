"""The single actions that generated programs are made of: each writes one line or a few."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import TypeAlias

from hypothesis import strategies as st

from tests.reference.spelling import Spelling, WordPair, Written
from tests.reference.writer import ArcShape, Writer, write_arc

Action: TypeAlias = Callable[[Writer], None]
"""Writes one line or a few."""

MIDDLE_MM = {"X": Decimal(140), "Y": Decimal(140), "Z": Decimal(125)}
COMMENTS = (
    b";",
    b"; G1 X999 E5 F1",
    b";a bottle (open",
    b"; *33 and 50%",
    b"; M117 (no) text",
    "; Größe, 5 µm".encode(),
    b"; not UTF-8: \xff\xfe \xe9",
    b";" + b" clay" * 300,
)
PARENTHESES = (b"()", b"(G0 X999; still a comment)", b"(M0)", b"(*12)", b"(\xc3\xa9\xff X5)")
TEXTS = ("ready", "5 minutes left", "G1 X5 Y5 E3", "M0", "open (paren", "3/9 e-05", "half; full", "Größe", "")
SILENT_COMMANDS: tuple[tuple[str, tuple[WordPair, ...]], ...] = (
    ("M104", (("S", Decimal(200)),)),
    ("M109", (("T", Decimal(1)), ("S", Decimal(0)))),
    ("M140", (("S", Decimal(60)),)),
    ("M302", (("S", Decimal(0)),)),
    ("M73", (("P", Decimal(5)), ("R", Decimal(90)))),
    ("M105", ()),
    ("M92", (("X", Decimal(80)), ("E", Decimal("96.5")))),
    ("M201", (("X", Decimal(500)), ("Y", Decimal(500)))),
    ("G94", ()),
    ("G40", ()),
    ("G29", ()),
    ("M17", ()),
)
MODES = (
    *(("G90",), ("G91",), ("M82",), ("M83",), ("G20",), ("G21",), ("G17",), ("G18",), ("G19",)),
    *(("G21", "G90"), ("G91", "M83"), ("G90", "M83"), ("G91", "M82"), ("G20", "G91"), ("G17", "G21", "G90")),
)


def seldom() -> st.SearchStrategy[bool]:
    """True one time in eight."""
    return st.sampled_from([False] * 7 + [True])


def thousandths(low: int, high: int) -> st.SearchStrategy[Decimal]:
    """Numbers of three decimals, bounds in thousandths."""
    return st.integers(low, high).map(lambda n: Decimal(n) / 1000)


def places(axis: str) -> st.SearchStrategy[Decimal]:
    """Positions, mostly amid the room; some with twelve decimals."""
    edge = 279_900 if axis != "Z" else 249_900
    amid = thousandths(40_000, 240_000) if axis != "Z" else thousandths(200, 200_000)
    fine = st.tuples(amid, st.integers(1, 10**9)).map(lambda pair: pair[0] + Decimal(pair[1]).scaleb(-12))
    return st.one_of(amid, amid, fine, thousandths(100, edge))


def feeds() -> st.SearchStrategy[Decimal | None]:
    """A feed in mm/min, or none said."""
    return st.one_of(st.none(), st.none(), st.integers(1, 9000).map(Decimal), thousandths(30_000, 3_000_000))


def clay_amounts() -> st.SearchStrategy[Decimal]:
    """E that lays clay."""
    return thousandths(1, 20_000)


def all_actions(how: st.SearchStrategy[Spelling], *, several_codes: bool) -> st.SearchStrategy[Action]:
    """Everything a program may hold; moves and arcs more often than the rest."""
    return st.one_of(
        moves(how, several_codes=several_codes),
        moves(how, several_codes=several_codes),
        laying_moves(how),
        laying_moves(how),
        arcs(how),
        arcs(how),
        pushes(how),
        tiny_moves(how),
        hops(how),
        mode_changes(how, several_codes=several_codes),
        positions_set(how),
        homings(how),
        settings(how),
        texts(),
        decorations(),
    )


def laying_actions(how: st.SearchStrategy[Spelling]) -> st.SearchStrategy[Action]:
    """Moves that lay clay, and what neither moves nor meters."""
    return st.one_of(
        laying_moves(how),
        laying_moves(how),
        arcs(how, laying=True),
        mode_changes(how, several_codes=False),
        decorations(),
    )


@st.composite
def moves(draw: st.DrawFn, how: st.SearchStrategy[Spelling], *, several_codes: bool) -> Action:
    """A straight move of any axes, travel or not; or a line that sets motion mode and feed only."""
    spelling = draw(how)
    targets = {axis: draw(places(axis)) for axis in "XYZ" if draw(st.booleans())}
    rapid = draw(st.booleans())
    e_mm = None if rapid else draw(st.one_of(st.none(), thousandths(-5_000, 20_000)))
    feed, modal = draw(feeds()), draw(st.booleans())
    decimals = draw(st.sampled_from([4, 5, 6, 12]))
    modes = draw(st.sampled_from([(), (), (), *MODES])) if several_codes else ()
    machine = draw(st.sampled_from([(), (), (), ("M106",), ("M107",), ("M0",)])) if several_codes else ()
    fan: list[WordPair] = [("S", Decimal(draw(st.integers(0, 255))))] if machine == ("M106",) else []
    clears = draw(seldom()) if several_codes else False

    def act(writer: Writer) -> None:
        writer.straight(
            targets,
            spelling,
            e_mm=e_mm,
            feed_mm_min=feed,
            rapid=rapid,
            modal=modal,
            decimals=decimals,
            modes=modes,
            clears=clears,
            machine=machine,
            machine_words=fan,
        )

    return act


@st.composite
def laying_moves(draw: st.DrawFn, how: st.SearchStrategy[Spelling]) -> Action:
    """A straight move that lays clay."""
    spelling, x, y = draw(how), draw(places("X")), draw(places("Y"))
    z = draw(st.one_of(st.none(), st.none(), places("Z")))
    e_mm, feed, modal = draw(clay_amounts()), draw(feeds()), draw(st.booleans())

    def act(writer: Writer) -> None:
        targets = {"X": x, "Y": y} if z is None else {"X": x, "Y": y, "Z": z}
        writer.straight(targets, spelling, e_mm=e_mm, feed_mm_min=feed, modal=modal)

    return act


@st.composite
def arcs(draw: st.DrawFn, how: st.SearchStrategy[Spelling], *, laying: bool = False) -> Action:
    """An arc or helix, at times in another plane; where there is no room, the middle is gone to first."""
    spelling, feed, modal = draw(how), draw(feeds()), draw(st.booleans())
    shape = ArcShape(
        radius_mm=draw(thousandths(1_000, 40_000)),
        towards_deg=draw(st.integers(0, 359)),
        sweep_deg=draw(st.one_of(st.integers(5, 355), st.sampled_from([90, 180, 270, 360]))),
        clockwise=draw(st.booleans()),
        by_radius=draw(st.booleans()),
        rise_mm=draw(st.one_of(st.just(Decimal(0)), thousandths(-5_000, 5_000))),
        omit=draw(st.booleans()),
    )
    e_mm = draw(clay_amounts() if laying else st.one_of(st.none(), clay_amounts()))
    plane = draw(st.sampled_from(["", "", "", "G17", "G18", "G19"]))

    def act(writer: Writer) -> None:
        if plane:
            writer.account_modes([plane])
            writer.add_words([plane], [], spelling)
        if not write_arc(writer, shape, spelling, e_mm=e_mm, feed_mm_min=feed, modal=modal):
            writer.straight(MIDDLE_MM, spelling, e_mm=e_mm, feed_mm_min=feed, modal=modal)
            write_arc(writer, shape, spelling, e_mm=e_mm, modal=modal)

    return act


@st.composite
def pushes(draw: st.DrawFn, how: st.SearchStrategy[Spelling]) -> Action:
    """E alone: clay drawn back or given again, or a big prime in place."""
    spelling, feed, modal = draw(how), draw(feeds()), draw(st.booleans())
    e_mm = draw(st.one_of(thousandths(-6_000, 6_000), st.just(Decimal(3000))))
    return lambda writer: writer.straight({}, spelling, e_mm=e_mm, feed_mm_min=feed, modal=modal)


@st.composite
def tiny_moves(draw: st.DrawFn, how: st.SearchStrategy[Spelling]) -> Action:
    """A step of a few hundred-thousandths of a mm, as scripts write them."""
    spelling, axis = draw(how), draw(st.sampled_from("XY"))
    step = Decimal(draw(st.integers(-9, 9))).scaleb(-5)

    def act(writer: Writer) -> None:
        target = writer.place(axis) + step
        if writer.in_room(axis, target):
            writer.straight({axis: target}, spelling, decimals=12)
        else:
            writer.straight({axis: MIDDLE_MM[axis]}, spelling)

    return act


@st.composite
def hops(draw: st.DrawFn, how: st.SearchStrategy[Spelling]) -> Action:
    """Draw clay back, lift, travel, come down, give the clay again."""
    spelling, lift, amount = draw(how), draw(thousandths(500, 10_000)), draw(thousandths(100, 5_000))
    by_code, x, y = draw(st.booleans()), draw(places("X")), draw(places("Y"))

    def act(writer: Writer) -> None:
        z = writer.place("Z")
        if not (writer.in_room("Z", z) and writer.in_room("Z", z + lift)):
            z = Decimal(100)
        relieve(writer, spelling, amount, by_code=by_code, back=True)
        writer.straight({"Z": z + lift}, spelling, rapid=True)
        writer.straight({"X": x, "Y": y}, spelling, rapid=True)
        writer.straight({"Z": z}, spelling, rapid=True)
        relieve(writer, spelling, amount, by_code=by_code, back=False)

    return act


def relieve(writer: Writer, how: Spelling, amount_mm: Decimal, *, by_code: bool, back: bool) -> None:
    """Draw clay back or give it again, by G10 and G11 or by E."""
    if by_code:
        writer.add_words(["G10" if back else "G11"], [], how)
    else:
        writer.straight({}, how, e_mm=-amount_mm if back else amount_mm, feed_mm_min=Decimal(1200))


@st.composite
def mode_changes(draw: st.DrawFn, how: st.SearchStrategy[Spelling], *, several_codes: bool) -> Action:
    """Distance, units, plane."""
    spelling = draw(how)
    codes = draw(st.sampled_from([m for m in MODES if several_codes or len(m) == 1]))

    def act(writer: Writer) -> None:
        writer.account_modes(codes)
        writer.add_words(codes, [], spelling)

    return act


@st.composite
def positions_set(draw: st.DrawFn, how: st.SearchStrategy[Spelling]) -> Action:
    """G92 on some axes, on none (all to zero), or G92.1."""
    spelling = draw(how)
    axes = draw(st.sampled_from(["E", "E", "E", "X", "Y", "Z", "XY", "XYZE", "", "clear"]))
    values = {
        a: draw(st.one_of(st.just(Decimal(0)), thousandths(-50_000, 50_000))) for a in axes if a in "XYZE"
    }

    def act(writer: Writer) -> None:
        if axes == "clear":
            writer.clear_offsets()
        elif not axes:
            for axis in "XYZE":
                writer.set_position(axis, Decimal(0))
        for axis, value in values.items():
            writer.set_position(axis, value * writer.scale)
        writer.add_words(["G92.1" if axes == "clear" else "G92"], list(values.items()), spelling)

    return act


@st.composite
def homings(draw: st.DrawFn, how: st.SearchStrategy[Spelling]) -> Action:
    """G28 with flags, with numbers, or bare."""
    spelling = draw(how)
    axes = draw(st.sampled_from(["", "X", "Y", "Z", "XY", "XYZ"]))
    number = draw(st.sampled_from([None, None, Decimal(0)]))

    def act(writer: Writer) -> None:
        writer.home(axes or "XYZ")
        writer.add_words(["G28"], [(axis, number) for axis in axes], spelling)

    return act


@st.composite
def settings(draw: st.DrawFn, how: st.SearchStrategy[Spelling]) -> Action:
    """Feed alone, fan, factors, dwell, clay switch, tool, pause, motors; codes that mean nothing here."""
    spelling = draw(how)
    code, words = draw(
        st.one_of(
            st.sampled_from(SILENT_COMMANDS),
            st.integers(0, 255).map(lambda n: ("M106", (("S", Decimal(n)),))),
            st.integers(50, 150).map(lambda n: ("M220", (("S", Decimal(n)),))),
            st.integers(50, 150).map(lambda n: ("M221", (("S", Decimal(n)),))),
            st.integers(0, 9000).map(lambda n: ("G4", (("P", Decimal(n)),))),
            thousandths(0, 9000).map(lambda s: ("G4", (("S", s),))),
            st.sampled_from([("M107", ()), ("M101", ()), ("M103", ()), ("M0", ()), ("G10", ()), ("G11", ())]),
            st.just(("M84", (("S", Decimal(0)),))),
            st.integers(0, 3).map(lambda n: ("", (("T", Decimal(n)),))),
            st.integers(1, 9000).map(lambda n: ("", (("F", Decimal(n)),))),
        )
    )
    return lambda writer: writer.add_words([code] if code else [], words, spelling)


@st.composite
def texts(draw: st.DrawFn) -> Action:
    """A command whose argument is the rest of the line. On numbered lines it holds no semicolon."""
    code = draw(st.sampled_from(["M117", "M117", "M117", "m117", "M118", "M23", "M30"]))
    text = draw(st.sampled_from(TEXTS))

    def act(writer: Writer) -> None:
        shown = text.replace(";", ",") if writer.numbered else text
        writer.add(Written(f"{code} {shown}".rstrip().encode()))

    return act


@st.composite
def decorations(draw: st.DrawFn) -> Action:
    """Lines that do nothing: blank, a comment, a run of NUL bytes."""
    content = draw(st.sampled_from([b"", b"", b"  \t", b"\0" * 40, *COMMENTS, *PARENTHESES]))
    return lambda writer: writer.add(Written(content, numbered=False))
