"""The day's sheet: cartridges, the order in each, and the clock."""

from __future__ import annotations

import dataclasses
import math
import re
from functools import cache
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.supply.claylist import ClayNeed
from gpost.supply.slugs import Slug
from gpost.workbook.day.pieces import DayPiece, Printing, Slugs, Stop
from gpost.workbook.day.rest import Left
from gpost.workbook.day.sheet import DaySheet, make_sheet
from gpost.workbook.day.wishes import Wishes

NINE_S = 9 * 3600.0
PLAIN = Wishes(NINE_S, between_s=600, pause_s=300)


def studio(**more: float) -> Config:
    """1000 ml cartridges with 50 in reserve, a line of 60 filled at 20 ml/min (3 minutes), density 2."""
    return Config.model_validate(
        {
            "clay": {"wet_density_g_ml": 2.0, "working_min": 60},
            "cartridge": {"volume_ml": 1000, "reserve_ml": 50, "line_ml": 60, **more},
        }
    )


def small(name: str, ml: float, minutes: float = 10, colour: str = "white") -> DayPiece:
    """A piece out of one cartridge."""
    printing = Printing(((colour, ml),), minutes * 60)
    return DayPiece(name, printing, printing)


def tall(name: str = "tall", second: str = "white") -> DayPiece:
    """A piece of two cartridges; the change comes 20 minutes on, or 15 if the first fills the hose."""
    uses = ((("white", 900.0), (second, 100.0)), (("white", 840.0), (second, 160.0)))
    full, filling = (
        Printing(use, 30 * 60, (Stop(at * 60, "change", new_cartridge=True),))
        for use, at in zip(uses, (20, 15), strict=True)
    )
    return DayPiece(name, full, filling)


def clock(sheet: DaySheet) -> list[tuple[float, str]]:
    """(minutes after nine, first words) of the events."""
    return [((event.clock_s - NINE_S) / 60, re.split(", (?:run out|[0-9]+ ml in)", event.text)[0]) for event in sheet.events]


def test_one_large_and_two_small_share_a_cartridge() -> None:
    """A large vase and two small ones come out of one cartridge, a second large one needs another.

    Common practice, no source: L + 2 S <= C < 2 L. The clay that fills the hose counts.
    """
    pieces = [small("large-1", 500), small("large-2", 500), small("small-1", 190), small("small-2", 190)]
    sheet = make_sheet(pieces, studio(), PLAIN)
    assert sorted(len(row.pieces) for row in sheet.cartridges) == [1, 3]
    assert all(sum("large" in name for name in row.pieces) == 1 for row in sheet.cartridges)


def test_the_clock_of_a_plain_day() -> None:
    """Filling takes 3 minutes, each piece its time, and ten minutes lie between two pieces."""
    sheet = make_sheet([small("a", 400, 20), small("b", 400, 10), small("c", 400, 30)], studio(), PLAIN)
    assert clock(sheet) == [
        (0, "put in cartridge 1, white, 910 ml"),
        (3, "start b"),
        (13, "b is done: take it off"),
        (23, "start a"),
        (43, "a is done: take it off"),
        (53, "put in cartridge 2, white, 450 ml"),
        (53, "start c"),
        (83, "c is done: take it off"),
    ]
    assert [(row.fill_ml, row.clay_ml, row.load_ml, row.wet_g) for row in sheet.cartridges] == [
        (60, 860, 910, 1820),
        (0, 400, 450, 900),
    ]
    assert [(row.name, row.cartridges, row.before_ml) for row in sheet.pieces] == [
        ("b", (1,), 850),
        ("a", (1,), 450),
        ("c", (2,), 450),
    ]


def test_what_a_piece_draws_back_must_be_in_the_cartridge_first() -> None:
    """Each takes 100 ml, but 120 pass before 20 are drawn back: so the last needs 120, all others 100."""
    drawing = Printing((("white", 100.0),), 600, needs_ml=(120.0,))
    sheet = make_sheet([DayPiece(name, drawing, drawing) for name in "abc"], studio(), PLAIN)
    (cartridge,) = sheet.cartridges
    assert (cartridge.clay_ml, cartridge.load_ml) == (60 + 300, 60 + 320 + 50)
    assert [row.before_ml for row in sheet.pieces] == [320 + 50, 220 + 50, 120 + 50]


def test_a_cartridge_is_shared_by_what_the_pieces_need_of_it() -> None:
    """Two that take 440 ml each fit into 950 beside the line's 60, but not if 480 pass in each."""
    for need_ml, cartridges in ((440.0, 1), (480.0, 2)):
        printing = Printing((("white", 440.0),), 600, needs_ml=(need_ml,))
        pieces = [DayPiece(name, printing, printing) for name in "ab"]
        assert len(make_sheet(pieces, studio(), PLAIN).cartridges) == cartridges


def test_waits_put_off_what_follows() -> None:
    """A piece with a pause ends one pause later, and its cartridges change at the pause."""
    sheet = make_sheet([tall()], studio(), PLAIN)
    assert clock(sheet) == [
        (0, "put in cartridge 1, white, 950 ml"),
        (3, "start tall"),
        (18, "tall waits: put in cartridge 2, white, 210 ml"),
        (38, "tall is done: take it off"),
    ]
    assert [(row.number, row.clay_ml, row.minutes) for row in sheet.cartridges] == [
        (1, 900, 18),
        (2, 160, 20),
    ]
    assert sheet.pieces[0].cartridges == (1, 2)


def test_a_pause_without_a_cartridge_is_told_too() -> None:
    """A piece that waits for the potter for another reason says for what."""
    printing = Printing((("white", 100.0),), 600, (Stop(60, "Look at the base", new_cartridge=False),))
    sheet = make_sheet([DayPiece("pot", printing, printing)], studio(), PLAIN)
    assert (4.0, "pot waits: Look at the base") in clock(sheet)


def test_the_line_is_filled_once_a_colour() -> None:
    """Each run of a colour fills the hose once; a piece of two colours saves the filling between them."""
    pieces = [small("w", 200), small("b", 200, colour="blue"), small("g", 200, colour="grey")]
    sheet = make_sheet(pieces, studio(), PLAIN)
    assert (sheet.colour_changes, [row.fill_ml for row in sheet.cartridges]) == (2, [60, 60, 60])
    sheet = make_sheet([*pieces, tall(second="blue")], studio(), PLAIN)
    assert [row.name for row in sheet.pieces] == ["w", "tall", "b", "g"]
    assert (sheet.colour_changes, [row.fill_ml for row in sheet.cartridges]) == (1, [60, 0, 0, 60])
    assert (sheet.changes_within, [row.cartridges for row in sheet.pieces]) == (1, [(1,), (2, 3), (3,), (4,)])


def test_light_to_dark() -> None:
    """Colours come in the potter's order where the number of changes leaves it open."""
    pieces = [small("b", 200, colour="black"), small("w", 200), small("g", 200, colour="grey")]
    wishes = Wishes(NINE_S, 600, 300, light_first=("white", "grey", "black"))
    assert [row.name for row in make_sheet(pieces, studio(), wishes).pieces] == ["w", "g", "b"]


def test_filling_may_need_a_cartridge_of_its_own() -> None:
    """A piece that takes a whole cartridge leaves none for the line: another one fills it first."""
    sheet = make_sheet([small("big", 950)], studio(), PLAIN)
    assert [(row.fill_ml, row.pieces) for row in sheet.cartridges] == [(60, ()), (0, ("big",))]
    assert sheet.pieces[0].cartridges == (2,)


def test_clay_keeps_in_a_cartridge() -> None:
    """Without a limit of its own a cartridge serves all day: it is neither warned of nor one more packed."""
    pieces = [small(name, 200, 100) for name in "abc"]
    for wishes in (PLAIN, Wishes(NINE_S, 600, 300, fresh=True)):
        sheet = make_sheet(pieces, studio(line_ml=0), wishes)
        assert [row.pieces for row in sheet.cartridges] == [("a", "b", "c")]
        assert not [warning for warning in sheet.warnings if "--fresh" not in warning]
        assert bool(sheet.warnings) == wishes.fresh


def test_stiff_clay_is_warned_of() -> None:
    """Past the time that it keeps a sentence names the cartridge and the pieces that come too late."""
    sheet = make_sheet([small("a", 200, 30), small("b", 200, 30)], studio(keeps_min=60), PLAIN)
    assert len(sheet.warnings) == 1
    assert "cartridge 1 is in it for 73 min, longer than the 60 min that it keeps there" in sheet.warnings[0]
    assert sheet.warnings[0].endswith("may come in b")


def test_fresh_clay_only() -> None:
    """With `fresh` pieces share a cartridge only while its clay keeps; a long piece has one alone."""
    wishes = Wishes(NINE_S, 600, 300, fresh=True)
    pieces = [small("a", 100, 20), small("b", 100, 25), small("c", 100, 30), small("long", 100, 90)]
    sheet = make_sheet(pieces, studio(keeps_min=60), wishes)
    assert sorted(len(row.pieces) for row in sheet.cartridges) == [1, 1, 2]
    assert all(row.minutes <= 60 for row in sheet.cartridges if row.pieces != ("long",))
    assert len(make_sheet(pieces, studio(keeps_min=60), PLAIN).cartridges) == 1


def long(name: str, uses: list[tuple[str, float]], minutes: float = 30) -> DayPiece:
    """A piece that changes its cartridge at equal times, and can begin on a part-used one."""
    stops = [Stop(minutes * 60 * k / len(uses), "change", new_cartridge=True) for k in range(1, len(uses))]
    printing = Printing(tuple(uses), minutes * 60, tuple(stops))
    return DayPiece(name, printing, printing)


def test_the_rest_of_a_long_piece_is_shared() -> None:
    """Two pieces of 997 ml and two of 778 go on four cartridges of 940 usable: 122 + 778 <= 940.

    The first long piece begins on what the hose's filling leaves (computed by hand: 60 + 880, then 122 + 778).
    """
    first = Printing((("white", 880.0), ("white", 122.0)), 3600, (Stop(3000, "change", new_cartridge=True),))
    full = Printing((("white", 940.0), ("white", 62.0)), 3600, (Stop(3200, "change", new_cartridge=True),))
    pieces = [DayPiece(name, full, first) for name in ("big-1", "big-2")]
    pieces += [small("mid-1", 778), small("mid-2", 778)]
    sheet = make_sheet(pieces, studio(reserve_ml=60), PLAIN)
    assert len(sheet.cartridges) == 4
    assert [row.pieces for row in sheet.cartridges if len(row.pieces) == 2] == [
        ("big-1", "mid-1"),
        ("big-2", "mid-2"),
    ]
    assert [(row.name, row.cartridges) for row in sheet.pieces] == [
        ("big-1", (1, 2)),
        ("mid-1", (2,)),
        ("big-2", (3, 4)),
        ("mid-2", (4,)),
    ]


def test_a_long_piece_begins_on_a_part_used_cartridge() -> None:
    """White, white, white to blue and blue (463 ml white, 333 ml blue) take one cartridge of each.

    `first_ml` is what the white one holds then: its own 200 ml and the reserve of 50.
    """
    pieces = [small("w1", 130), small("w2", 133), long("wb", [("white", 200.0), ("blue", 133.0)])]
    sheet = make_sheet([*pieces, small("b", 200, colour="blue")], studio(), PLAIN)
    assert [(row.colour, row.pieces) for row in sheet.cartridges] == [
        ("white", ("w1", "w2", "wb")),
        ("blue", ("wb", "b")),
    ]
    assert (sheet.colour_changes, sheet.changes_within) == (0, 1)
    assert {row.name: row.first_ml for row in sheet.pieces} == {"w1": 513, "w2": 383, "wb": 250, "b": 250}
    assert [row.load_ml for row in sheet.cartridges] == [573, 383]


def test_a_piece_that_only_goes_from_a_full_one() -> None:
    """Where less in the first cartridge would put the pauses elsewhere, it is loaded full and not shared."""
    whole = Printing(
        (("white", 500.0), ("white", 100.0)), 1800, (Stop(900, "change", new_cartridge=True),), 1000.0
    )
    sheet = make_sheet([DayPiece("big", whole, whole), small("w", 200)], studio(), PLAIN)
    assert [(row.cartridges, row.first_ml) for row in sheet.pieces if row.name == "big"] == [((2, 3), 1000)]
    assert (sheet.cartridges[1].load_ml, sheet.cartridges[1].pieces) == (1000, ("big",))


def test_first_ml_is_full_ml_and_never_too_little() -> None:
    """Shown rounded up, so that the piece's own run finds enough; at most a whole cartridge."""
    sheet = make_sheet([small("a", 100.2), small("b", 949.7)], studio(line_ml=0, volume_ml=999.9), PLAIN)
    assert {row.name: row.first_ml for row in sheet.pieces} == {"a": 151, "b": 999.9}


def test_fresh_counts_pauses() -> None:
    """A piece that waits twice for 15 minutes is 50 minutes on its cartridge: a second one is not fresh then."""
    stops = tuple(Stop(at, "look", new_cartridge=False) for at in (60.0, 120.0))
    printing = Printing((("white", 100.0),), 20 * 60, stops)
    pieces = [DayPiece("waits", printing, printing), small("b", 100, 20)]
    for pause_s, cartridges in ((60, 1), (15 * 60, 2)):
        sheet = make_sheet(pieces, studio(keeps_min=60), Wishes(NINE_S, 600, pause_s, fresh=True))
        assert len(sheet.cartridges) == cartridges


def test_clay_that_stands_in_the_line_is_warned_of() -> None:
    """After a break of two hours a piece begins with what the hose has held since the one before.

    Filled till 3, printed till 33, 600 ml in 30 minutes; the next begins at 153. What it lays first came into
    the hose of 60 ml at 30, and what it lays at 156 at 33: 123 minutes, 63 too many.
    """
    pieces = [small("a", 600, 30), small("b", 600, 30)]
    sheet = make_sheet(pieces, studio(), Wishes(NINE_S, 7200, 300))
    (warning,) = sheet.warnings
    assert warning.startswith(
        "b lays clay that has been in the hose for 123 min, longer than the 60 min it stays"
    )
    assert "run 60 ml out before b begins, and load as much more into cartridge 2" in warning
    assert "or break for at most 57 min" in warning
    assert not make_sheet(pieces, studio(), Wishes(NINE_S, 57 * 60, 300)).warnings
    assert not make_sheet(pieces, studio(line_ml=0), Wishes(NINE_S, 7200, 300)).warnings


@pytest.mark.parametrize("new_cartridge", [True, False])
def test_clay_that_waits_in_the_line_at_a_pause_is_warned_of(new_cartridge: bool) -> None:
    """A wait of an hour, half way through 400 ml in 40 minutes: 6 minutes more, whatever the pause is for."""
    uses = (("white", 200.0), ("white", 200.0)) if new_cartridge else (("white", 400.0),)
    printing = Printing(uses, 2400, (Stop(1200, "wait", new_cartridge=new_cartridge),))
    (warning,) = make_sheet([DayPiece("w", printing, printing)], studio(), Wishes(NINE_S, 600, 3600)).warnings
    assert warning.startswith("w lays clay that has been in the hose for 66 min")
    assert "wait less at its pauses" in warning


def test_equal_minutes_get_a_decimal() -> None:
    """60.2 minutes are not called 60 where that is the limit."""
    (warning,) = make_sheet([small("a", 500, 57.2)], studio(keeps_min=60), PLAIN).warnings
    assert "is in it for 60.2 min, longer than the 60 min" in warning


def test_a_mixing_line_is_filled_until_it_is_full() -> None:
    """With one well-mixed tank of 60 ml the new clay is 95 % after -ln(0.05) x 60 = 179.7 ml (Levenspiel ch. 14).

    It shows, at 5 %, from -ln(0.95) x 60 = 3.1 ml on.
    """
    sheet = make_sheet([small("a", 500)], studio(mixing_stages=1), PLAIN)
    assert sheet.cartridges[0].fill_ml == pytest.approx(179.744, abs=1e-3)
    assert "run out 180 ml until the hose is full of it (it shows from about 3 ml on)" in sheet.events[0].text


def test_a_colour_that_no_piece_has() -> None:
    """A wrong name in the order of colours is told, with the colour that may be meant."""
    pieces = [small("w", 200, colour="white stoneware"), small("b", 200, colour="blue")]
    wishes = Wishes(NINE_S, 600, 300, light_first=("blue", "wihte"))
    (warning,) = make_sheet(pieces, studio(), wishes).warnings
    assert warning == "no piece of the day is in wihte, which --colours names; did you mean white stoneware?"


def test_an_order_of_colours_that_cannot_be_kept() -> None:
    """Fewest changes come first: white is printed before blue if a piece goes from white to blue."""
    pieces = [
        small("w", 200),
        small("b", 200, colour="blue"),
        long("wb", [("white", 200.0), ("blue", 200.0)]),
    ]
    wishes = Wishes(NINE_S, 600, 300, light_first=("blue", "white"))
    (warning,) = make_sheet(pieces, studio(), wishes).warnings
    assert warning.startswith("blue can't come before white: wb goes from white to blue")
    assert not make_sheet(pieces[:2], studio(), wishes).warnings


def test_a_colour_that_has_not_filled_the_line() -> None:
    """A piece that ends 20 ml after its swap leaves a line of 60 ml that is not all blue."""
    pieces = [long("wb", [("white", 200.0), ("blue", 20.0)]), small("b", 200, colour="blue")]
    (warning,) = make_sheet(pieces, studio(), PLAIN).warnings
    assert warning.startswith("the hose is not full of blue yet when wb ends; run 40 ml out before b begins")


def test_doubt_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """When the search for fewer cartridges is given up, the sheet says that there may be fewer."""
    sizes = [3.0, 3, 2, 2, 2, 2]  # first-fit decreasing takes 3 bins of 7, two do (computed by hand)
    pieces = [small(f"p{k}", size) for k, size in enumerate(sizes)]
    config = studio(volume_ml=8, reserve_ml=1, line_ml=0)
    assert not make_sheet(pieces, config, PLAIN).warnings
    monkeypatch.setattr("gpost.workbook.day.shared.MOST_NODES", 0)
    (warning,) = make_sheet(pieces, config, PLAIN).warnings
    assert warning.startswith("the 3 cartridges of white may not be the fewest, 2 might do")


def test_a_line_larger_than_a_cartridge() -> None:
    """A cartridge that doesn't even fill the hose is refused."""
    with pytest.raises(PlanError, match="hose takes 999 ml"):
        make_sheet([small("a", 10)], studio(line_ml=999), PLAIN)


def test_an_empty_day() -> None:
    """No pieces, nothing to do."""
    assert make_sheet([], studio(), PLAIN) == DaySheet((), (), (), 0, ())


MINUTES = st.lists(st.integers(1, 50), min_size=1, max_size=5)


@given(MINUTES)
def test_most_pieces_come_of_fresh_clay(minutes: list[int]) -> None:
    """No order of a cartridge's pieces lets more of them end within the working time (all tried)."""
    pieces = [small(f"p{number}", 10, m) for number, m in enumerate(minutes)]
    sheet = make_sheet(pieces, studio(line_ml=0), PLAIN)
    printed = tuple(next(p for p in pieces if p.name == row.name) for row in sheet.pieces)

    def in_time(order: tuple[DayPiece, ...]) -> int:
        ends, now = [], 0.0
        for piece in order:
            now += piece.full.time_s
            ends.append(now)
            now += PLAIN.between_s
        return sum(end <= 3600 for end in ends)

    assert in_time(printed) == max(map(in_time, permutations(pieces)))


DAY = st.lists(
    st.tuples(st.floats(1, 950), st.floats(1, 120), st.sampled_from(["white", "grey", "blue"])), max_size=9
)


@given(DAY, st.booleans())
def test_nothing_is_lost_and_nothing_overlaps(day: list[tuple[float, float, str]], fresh: bool) -> None:
    """Every piece is printed once, one after the other, and no cartridge gives more than it can."""
    pieces = [small(f"p{number}", *piece) for number, piece in enumerate(day)]
    sheet = make_sheet([*pieces, tall(second="grey")], studio(), Wishes(NINE_S, 600, 300, fresh=fresh))
    assert sorted(row.name for row in sheet.pieces) == sorted(["tall", *(p.name for p in pieces)])
    assert all(before.end_s + 600 <= after.start_s + 1e-6 for before, after in pairwise(sheet.pieces))
    assert [row.number for row in sheet.cartridges] == list(range(1, len(sheet.cartridges) + 1))
    assert all(row.clay_ml <= 950 + 1e-6 for row in sheet.cartridges)
    assert all(row.loaded_s <= row.done_s for row in sheet.cartridges)
    times = [event.clock_s for event in sheet.events]
    assert times == sorted(times)
    clay_ml = sum(row.clay_ml - row.fill_ml for row in sheet.cartridges)
    assert clay_ml == pytest.approx(sum(row.clay_ml for row in sheet.pieces))


@st.composite
def days(draw: st.DrawFn) -> list[DayPiece]:
    """Up to five pieces in two colours, of one cartridge or two."""
    colours = st.sampled_from(["white", "blue"])
    uses = st.lists(
        st.tuples(colours, st.integers(1, 19).map(lambda part: 50.0 * part)), min_size=1, max_size=2
    )
    return [long(f"p{k}", found) for k, found in enumerate(draw(st.lists(uses, min_size=1, max_size=5)))]


def best_day(
    pieces: list[DayPiece], usable_ml: float, fill_ml: float, colour: str = "", room_ml: float = 0.0
) -> tuple[int, int]:
    """Fewest changes of colour between pieces, and then cartridges: every order, and every time to load tried.

    It begins with so much in a cartridge of that colour, or with none.
    """

    @cache
    def rest(left: frozenset[DayPiece], colour: str, room_ml: float) -> tuple[int, int]:
        """From here on, with so much in the cartridge that is on."""
        if not left:
            return 0, 0
        found = []
        for piece in left:
            (_, first_ml), (_, last_ml) = piece.full.uses[0], piece.full.uses[-1]
            (first, last), own = piece.full.hose, piece.full.slugs is not None
            new = len(piece.full.uses) - 1
            change = first != colour
            starts = [] if change else [(0, 0, 0.0 if own else room_ml), (0, 1, usable_ml)]
            # where the colour changes a cartridge fills the hose, and the piece is on that or on one more
            starts += [(1, 1, usable_ml - fill_ml), (1, 2, usable_ml)] if change else []
            for changes, loads, have_ml in starts:
                if have_ml >= first_ml:
                    room = 0.0 if own else usable_ml - last_ml if new else have_ml - first_ml
                    more = rest(left - {piece}, last, room)
                    found.append((changes + more[0], loads + new + more[1]))
        return min(found)

    changes, cartridges = rest(frozenset(pieces), colour, room_ml)
    return changes - (not colour), cartridges + bool(colour)


@given(days())
@settings(deadline=None)
def test_a_day_against_every_order(pieces: list[DayPiece]) -> None:
    """No order of the pieces, and no way to load cartridges, has fewer changes, or as few on fewer cartridges."""
    sheet = make_sheet(pieces, studio(), PLAIN)
    assert (sheet.colour_changes, len(sheet.cartridges)) == best_day(pieces, 950, 60)
    assert all(row.clay_ml <= 950 + 1e-6 for row in sheet.cartridges)


@given(days(), st.lists(st.tuples(st.integers(1, 9), st.integers(1, 9)), min_size=1, max_size=3))
@settings(deadline=None)
def test_a_day_with_slugs_against_every_order(pieces: list[DayPiece], slugs: list[tuple[int, int]]) -> None:
    """The same where some pieces begin in white, end in blue, and share a cartridge with nothing but a filling."""
    own = [in_slugs(f"s{k}", 50.0 * white, 50.0 * blue) for k, (white, blue) in enumerate(slugs)]
    day = [*pieces[: 5 - len(own)], *own]
    sheet = make_sheet(day, studio(), PLAIN)
    assert (sheet.colour_changes, len(sheet.cartridges)) == best_day(day, 950, 60)
    for row in sheet.cartridges:
        assert row.clay_ml <= 950 + 1e-6
        assert len(row.pieces) == 1 or not any(name.startswith("s") for name in row.pieces)
        assert sum(slug.clay_ml for slug in row.slugs) == pytest.approx(row.load_ml if row.slugs else 0)


@given(days(), st.sampled_from(["white", "blue"]), st.integers(2, 20))
@settings(deadline=None)
def test_the_rest_of_a_day_against_every_order(pieces: list[DayPiece], colour: str, left: int) -> None:
    """The same where a cartridge is on, and its clay in the hose: it is the first, and gives what is left in it."""
    held_ml = 50.0 * left
    sheet = make_sheet(pieces, studio(), PLAIN, Left(colour, held_ml))
    assert (sheet.colour_changes, len(sheet.cartridges)) == best_day(pieces, 950, 60, colour, held_ml - 50)
    first = sheet.cartridges[0]
    assert (first.colour, first.held_ml, first.load_ml, first.fill_ml) == (colour, held_ml, held_ml, 0)
    assert first.clay_ml <= held_ml - 50 + 1e-6
    assert all(row.held_ml is None and row.clay_ml <= 950 + 1e-6 for row in sheet.cartridges[1:])


def test_a_day_that_goes_on_with_a_cartridge() -> None:
    """300 ml are on, 50 of them reserve: a of 200 goes on it, with no filling; b of 100 takes another."""
    sheet = make_sheet([small("a", 200), small("b", 100)], studio(), PLAIN, Left("white", 300.0))
    assert [(row.held_ml, row.pieces, row.load_ml) for row in sheet.cartridges] == [
        (300, ("a",), 300),
        (None, ("b",), 150),
    ]
    assert [(row.name, row.cartridges, row.first_ml) for row in sheet.pieces] == [
        ("a", (1,), 300),
        ("b", (2,), 150),
    ]
    assert clock(sheet)[0] == (0, "cartridge 1 (white) is on")
    assert [row.start_s - NINE_S for row in sheet.pieces] == [0, 20 * 60]
    assert not sheet.warnings


def in_slugs(name: str, white_ml: float, blue_ml: float) -> DayPiece:
    """A piece out of one cartridge with white first, then blue; the hose is blue at its end."""
    found = [Slug(1, {"white": 1.0}, white_ml, 0.0, None), Slug(1, {"blue": 1.0}, blue_ml, 0.0, None)]
    slugs = Slugs({"white": 1.0}, "blue", (tuple(found),), "outlet")
    printing = Printing((("white, blue", white_ml + blue_ml),), 600.0, slugs=slugs)
    return DayPiece(name, printing, printing)


def test_slugs_have_a_cartridge_of_their_own() -> None:
    """White before it and blue after it need no filling, and share nothing with it, though there is room."""
    pieces = [small("w", 100), in_slugs("s", 100, 150), small("b", 100, colour="blue")]
    sheet = make_sheet(pieces, studio(), PLAIN)
    assert [(row.colour, row.pieces, row.fill_ml, row.load_ml) for row in sheet.cartridges] == [
        ("white", ("w",), 60, 210),
        ("white, blue", ("s",), 0, 300),
        ("blue", ("b",), 0, 150),
    ]
    assert (sheet.colour_changes, sheet.changes_within, sheet.warnings) == (0, 0, ())


def test_slugs_fill_the_hose_themselves() -> None:
    """60 ml more of the first clay leave first; filled from the outlet's end, they go in last."""
    (row,) = make_sheet([in_slugs("s", 100, 150)], studio(), PLAIN).cartridges
    assert [(slug.mix, slug.clay_ml, slug.reserve) for slug in row.slugs] == [
        ({"blue": 1.0}, 50, True),
        ({"blue": 1.0}, 150, False),
        ({"white": 1.0}, 160, False),
    ]
    assert (row.fill_ml, row.clay_ml, row.load_ml, row.loaded_from) == (60, 310, 360, "outlet")
    assert row.wet_g == pytest.approx(720)


def test_many_pieces_that_change_colour_do_not_take_for_ever() -> None:
    """Forty pieces between two colours have more orders than can be tried: some are, and the sheet says so."""
    pieces = [long(f"p{k}", [("white", 400.0 + k), ("blue", 300.0 + k)]) for k in range(20)]
    pieces += [long(f"q{k}", [("blue", 350.0 + k), ("white", 250.0 + k)]) for k in range(20)]
    sheet = make_sheet(pieces, studio(), PLAIN)
    assert len(sheet.pieces) == 40
    assert any("not every order of them was tried" in warning for warning in sheet.warnings)


SPREAD = {"reserve_spread_ml": 10.0}


def test_what_is_shared_out_is_what_is_sure() -> None:
    """With 10 ml as the reserve's spread 16.4 ml less of each cartridge can be counted on: 933, not 950."""
    pieces = [small("one", 470), small("two", 415)]
    assert len(make_sheet(pieces, studio(), PLAIN).cartridges) == 1
    assert len(make_sheet(pieces, studio(**SPREAD), PLAIN).cartridges) == 2
    fits = [small("one", 470), small("two", 400)]
    [cartridge] = make_sheet(fits, studio(**SPREAD), PLAIN).cartridges
    assert cartridge.load_ml == math.ceil(60 + 870 + 50 + 1.6449 * 10)


def test_what_a_piece_begins_with_has_the_margin_in_it() -> None:
    """Its cartridge holds what is left of the sure load, so that its own run needs no refill."""
    sheet = make_sheet([small("one", 300), small("two", 200)], studio(**SPREAD), PLAIN)
    assert sheet.sure_percent == 95
    assert make_sheet([small("one", 300)], studio(), PLAIN).sure_percent is None
    for row, used_ml in zip(sheet.pieces, (60, 60 + sheet.pieces[0].clay_ml), strict=True):
        assert row.before_ml == pytest.approx(math.ceil(560 + 50 + 1.6449 * 10) - used_ml)


def test_what_to_wedge_is_what_is_loaded_and_the_slabs() -> None:
    """Two pieces in white and one in blue: pieces, what is run out, slab, and the rest, which stays somewhere.

    Loaded are 60 ml for the hose, the pieces, and 50 of reserve: twice, for two cartridges.
    """

    def piece(name: str, ml: float, colour: str) -> DayPiece:
        needs = (ClayNeed(colour, piece_ml=ml - 10, beside_ml=10, left_ml=77, slab_ml=30),)
        return dataclasses.replace(small(name, ml, colour=colour), needs=needs)

    sheet = make_sheet(
        [piece("a", 200, "white"), piece("b", 100, "white"), piece("c", 80, "blue")], studio(), PLAIN
    )
    found = {row.need.name: row.need for row in sheet.clays}
    assert found["white"] == ClayNeed("white", 280, 20, 60 + 300 + 50 - 300, 60)
    assert found["blue"] == ClayNeed("blue", 70, 10, 60 + 80 + 50 - 80, 30)
    assert sum(row.load_ml for row in sheet.cartridges) + 90 == sum(need.clay_ml for need in found.values())
    assert [row.wet_g for row in sheet.clays] == [2.0 * need.clay_ml for need in found.values()]
