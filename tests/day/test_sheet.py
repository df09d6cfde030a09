"""The day's sheet: cartridges, the order in each, and the clock."""

from __future__ import annotations

from itertools import pairwise, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.day.pieces import Piece, Printing, Stop
from gpost.day.sheet import Sheet, Wishes, make_sheet, shared
from gpost.errors import PlanError

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


def small(name: str, ml: float, minutes: float = 10, colour: str = "white") -> Piece:
    """A piece out of one cartridge."""
    printing = Printing(((colour, ml),), minutes * 60)
    return Piece(name, printing, printing)


def tall(name: str = "tall", second: str = "white") -> Piece:
    """A piece of two cartridges; the change comes 20 minutes on, or 15 if the first fills the line."""
    uses = ((("white", 900.0), (second, 100.0)), (("white", 840.0), (second, 160.0)))
    full, filling = (
        Printing(use, 30 * 60, (Stop(at * 60, "change", new_cartridge=True),))
        for use, at in zip(uses, (20, 15), strict=True)
    )
    return Piece(name, full, filling)


def clock(sheet: Sheet) -> list[tuple[float, str]]:
    """(minutes after nine, first words) of the events."""
    return [((event.clock_s - NINE_S) / 60, event.text.split(",")[0]) for event in sheet.events]


def test_one_large_and_two_small_share_a_cartridge() -> None:
    """A large vase and two small ones come out of one cartridge, a second large one needs another.

    Common practice, no source: L + 2 S <= C < 2 L. The clay that fills the line counts.
    """
    pieces = [small("large-1", 500), small("large-2", 500), small("small-1", 190), small("small-2", 190)]
    sheet = make_sheet(pieces, studio(), PLAIN)
    assert sorted(len(row.pieces) for row in sheet.cartridges) == [1, 3]
    assert all(sum("large" in name for name in row.pieces) == 1 for row in sheet.cartridges)


def test_the_clock_of_a_plain_day() -> None:
    """Filling takes 3 minutes, each piece its time, and ten minutes lie between two pieces."""
    sheet = make_sheet([small("a", 400, 20), small("b", 400, 10), small("c", 400, 30)], studio(), PLAIN)
    assert clock(sheet) == [
        (0, "load cartridge 1 (white)"),
        (3, "start b"),
        (13, "b is done: take it off"),
        (23, "start a"),
        (43, "a is done: take it off"),
        (53, "load cartridge 2 (white)"),
        (53, "start c"),
        (83, "c is done: take it off"),
    ]
    assert [(row.fill_ml, row.clay_ml, row.load_ml, row.wet_g) for row in sheet.cartridges] == [
        (60, 860, 910, 1820),
        (0, 400, 450, 900),
    ]
    assert [(row.name, row.cartridges, row.before_ml) for row in sheet.pieces] == [
        ("b", (1,), 940),
        ("a", (1,), 540),
        ("c", (2,), 1000),
    ]


def test_waits_put_off_what_follows() -> None:
    """A piece with a pause ends one pause later, and its cartridges change at the pause."""
    sheet = make_sheet([tall()], studio(), PLAIN)
    assert clock(sheet) == [
        (0, "load cartridge 1 (white)"),
        (3, "start tall"),
        (18, "tall waits: load cartridge 2 (white)"),
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
    sheet = make_sheet([Piece("pot", printing, printing)], studio(), PLAIN)
    assert (4.0, "pot waits: Look at the base") in clock(sheet)


def test_the_line_is_filled_once_a_colour() -> None:
    """Each run of a colour fills the line once; a piece of two colours saves the filling between them."""
    pieces = [small("w", 200), small("b", 200, colour="blue"), small("g", 200, colour="grey")]
    sheet = make_sheet(pieces, studio(), PLAIN)
    assert (sheet.colour_changes, [row.fill_ml for row in sheet.cartridges]) == (2, [60, 60, 60])
    sheet = make_sheet([*pieces, tall(second="blue")], studio(), PLAIN)
    assert [row.name for row in sheet.pieces] == ["w", "tall", "b", "g"]
    assert (sheet.colour_changes, [row.fill_ml for row in sheet.cartridges]) == (1, [60, 0, 0, 0, 60])
    assert sheet.pieces[1].before_ml == 1000


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


def test_stiff_clay_is_warned_of() -> None:
    """Past the working time a sentence names the cartridge and the pieces that come too late."""
    sheet = make_sheet([small("a", 200, 30), small("b", 200, 30)], studio(), PLAIN)
    assert len(sheet.warnings) == 1
    assert "cartridge 1 is in it for 73 min" in sheet.warnings[0]
    assert sheet.warnings[0].endswith("may come in b")


def test_fresh_clay_only() -> None:
    """With `fresh` pieces share a cartridge only within the working time; a long piece has one alone."""
    wishes = Wishes(NINE_S, 600, 300, fresh=True)
    pieces = [small("a", 100, 20), small("b", 100, 25), small("c", 100, 30), small("long", 100, 90)]
    sheet = make_sheet(pieces, studio(), wishes)
    assert sorted(len(row.pieces) for row in sheet.cartridges) == [1, 1, 2]
    assert all(row.minutes <= 60 for row in sheet.cartridges if row.pieces != ("long",))
    assert len(make_sheet(pieces, studio(), PLAIN).cartridges) == 1


def test_a_line_larger_than_a_cartridge() -> None:
    """A cartridge that doesn't even fill the line is refused."""
    with pytest.raises(PlanError, match="line takes 999 ml"):
        make_sheet([small("a", 10)], studio(line_ml=999), PLAIN)


def test_an_empty_day() -> None:
    """No pieces, nothing to do."""
    assert make_sheet([], studio(), PLAIN) == Sheet((), (), (), 0, ())


MINUTES = st.lists(st.integers(1, 50), min_size=1, max_size=5)


@given(MINUTES)
def test_most_pieces_come_of_fresh_clay(minutes: list[int]) -> None:
    """No order of a cartridge's pieces lets more of them end within the working time (all tried)."""
    pieces = [small(f"p{number}", 10, m) for number, m in enumerate(minutes)]
    (load,) = shared(pieces, 0.0, studio(), PLAIN)

    def in_time(order: tuple[Piece, ...]) -> int:
        ends, now = [], 0.0
        for piece in order:
            now += piece.full.time_s
            ends.append(now)
            now += PLAIN.between_s
        return sum(end <= 3600 for end in ends)

    assert in_time(load.pieces) == max(map(in_time, permutations(pieces)))


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
