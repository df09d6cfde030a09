"""The summary in plain words."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost import words as pages
from gpost.report.model import (
    CartridgeRecord,
    Change,
    ClayRecord,
    ColourRecord,
    LayerTable,
    LineRecord,
    OutsideRecord,
    PauseRecord,
    PieceRecord,
    Place,
    SlabRecord,
    Summary,
    SureRecord,
    TicksRecord,
)
from gpost.report.text import sheet_text, to_text
from gpost.report.visits import goes_in
from gpost.report.wording import clock
from gpost.words import say

PAUSE = PauseRecord(
    step="swap",
    kind="swap",
    reason="blue is to show from layer 40 on",
    message="Load blue",
    layer=31,
    height_mm=60.0,
    output_line=900,
    clay_ml=300.0,
    clock_s=2460.0,
    new_cartridge=True,
    cartridge=2,
    colour="blue",
    load_ml=None,
    prime_ml=5.0,
    shows_at_layer=40,
    shows_at_height_mm=79.2,
)
PLACE = Place(layer=0, last_layer=0, height_mm=0.0, output_line=None, clock_s=0.0)


def summary(**changed: Any) -> Summary:
    found: dict[str, Any] = {
        "gpost_version": "0.1.0",
        "source": "vase.gcode",
        "output": "vase-print.gcode",
        "steps": ("cold", "swap"),
        "layers": 60,
        "height_mm": 120.0,
        "time_s": 5430.0,
        "clay_ml": 612.4,
        "piece": PieceRecord(
            clay_ml=600,
            wet_g=1100,
            dry_g=825,
            water_g=275,
            fired_height_mm=103.2,
            foot_x_mm=150.2,
            foot_y_mm=140,
            outside_wet=OutsideRecord(x_mm=86.2, y_mm=90, height_mm=123, wall_mm=6),
            outside_fired=OutsideRecord(x_mm=74.1, y_mm=77.4, height_mm=105.8, wall_mm=5.16),
        ),
        "clays": (
            ClayRecord(
                name="white",
                piece_ml=355,
                beside_ml=5,
                left_ml=110,
                slab_ml=98.2,
                waste_ml=0,
                clay_ml=568.2,
                wet_g=1056.9,
            ),
            ClayRecord(
                name="blue",
                piece_ml=252.4,
                beside_ml=0,
                left_ml=120,
                slab_ml=0,
                waste_ml=20.1,
                clay_ml=392.5,
                wet_g=730.1,
                stains_g={"cobalt oxide": 8.214},
                water_g=2.738,
            ),
        ),
        "slab": SlabRecord(
            x_mm=150, y_mm=140, x_size_mm=200, y_size_mm=164, thickness_mm=3, wet_g=182.7, dry_g=137.0
        ),
        "output_lines": 1000,
        "output_bytes": 30000,
        "pauses": (PAUSE,),
        "line": LineRecord(clay_ml=60, at_start="white", at_end={"blue": 42.4, "white": 17.6}),
        "cartridges": (
            CartridgeRecord(
                number=1,
                colour="white",
                clay_ml=300,
                wet_g=558,
                dry_g=418.5,
                usable_ml=950,
                need_ml=300,
                over_ml=0,
                load_ml=350.2,
                load_g=651.4,
            ),
            CartridgeRecord(
                number=2,
                colour="blue",
                clay_ml=312.4,
                wet_g=581,
                dry_g=435.8,
                usable_ml=300,
                need_ml=322.4,
                over_ml=22.4,
            ),
        ),
        "colours": (
            ColourRecord(colour="white", clay_ml=360, wet_g=669.6, piece_ml=355),
            ColourRecord(colour="blue", clay_ml=252.4, wet_g=469.5, piece_ml=252.4),
        ),
        "changes": (
            Change(
                step="cold", kind="silence", what="turned into comments: heating", count=6, where=(PLACE,)
            ),
        ),
        "notes": ("cold: all is cold",),
        "warnings": ("tally: cartridge 2 is too small",),
        "cautions": ("Keep your hands out.",),
    }
    return Summary(**{**found, **changed})


EXPECTED = """\
vase.gcode -> vase-print.gcode
  60 layers, 120.0 mm high, 612 ml of clay, 1:30 h of machine time

Look at this first
  - tally: cartridge 2 is too small

Prepare
  wedge white: 1.06 kg, 0.57 l (ml: 355 in the piece, 5 beside it, 110 stay in
        hose and cartridges, 98 for the slab)
  wedge blue: 731 g, 0.39 l (ml: 252 in the piece, 120 stay in hose and
        cartridges, 20 waste), with 8.2 g cobalt oxide and 2.7 g of water
  a slab of 200 x 164 mm, 3 mm thick (183 g), its middle at x 150, y 140 mm;
        that of the foot at x 150, y 140 mm

Load
  the hose (60 ml) must be full of white before the start; it ends with 42 ml of
        blue, 18 ml of white
  cartridge 1, white: load at least 351 ml (652 g wet)
  cartridge 2, blue: the job takes 322 ml, of which 10 ml are drawn back again,
        of the 300 ml that can be counted on; that is 22 ml TOO LITTLE
  of each, 50 ml stay behind as reserve
  how far off E, wet density and hose may be is not known, and nothing is added
        for it

When to be at the machine (h:mm from the start)
   0:41  layer 31, 60.0 mm: swap, blue is to show from layer 40 on
         cartridge 2, blue, goes in; 5.0 ml are run out at the park; it shows
         from 79.2 mm on (layer 40)
  Times are estimates, and the time it waits for you is not counted: every wait
  puts off what comes after it.

Take off (1:30 from the start), dry, fire
  Lift it off with its slab and board, never by the wall; dry it slowly, covered
    at first, air all round. It is dry when it gets no lighter: with the slab,
    but without the board, 1283 g wet, about 962 g dry; weigh it to know.
  outside, wet: 86 x 90 x 123 mm, wall 6.0; dry: not known (clay:
    drying_percent); fired: 74 x 77 x 106 mm, wall 5.2

What was changed
  cold: turned into comments: heating (6 lines)
  all places, 1 note and the layers: --long, or the JSON

Take care: the machine moves again when a pause ends, so reach in only while it
stands still. Keep clay dust and stains damp and wipe up wet; keep water off
plugs and boards. As printed the piece is not food-safe. Local codes and the
sheets of your machine and materials come first.
"""


def test_whole_summary() -> None:
    """The words come in the order in which a potter needs them."""
    assert to_text(summary()) == EXPECTED


def test_the_file_s_own_pauses_are_visits_too() -> None:
    """They stand among the others, in the order of time, in the clock's words."""
    swap = summary().pauses[0]
    changed = {"step": "", "kind": "own", "reason": "the file's own M600", "new_cartridge": False}
    own = swap.model_copy(update={**changed, "clock_s": 120.0, "layer": 2, "height_mm": 4.0})
    text = to_text(summary(pauses=(own, swap)))
    visits = text.partition("from the start)\n")[2]
    assert visits.startswith(
        "   0:02  layer 2, 4.0 mm: it waits for you, the file's own M600\n   0:41  layer 31"
    )


def test_nothing_to_tell_is_told() -> None:
    """Without steps, pauses or changes the summary says so; empty lists have no heading."""
    nothing = summary(steps=(), pauses=(), changes=(), warnings=(), notes=(), cartridges=(), clays=())
    text = to_text(nothing, long=True)
    assert "steps, in this order: none; the file is as it was" in text
    assert "it never waits for you" in text
    assert "What was changed\n  nothing\n" in text
    assert not any(f"{word}\n" in text for word in ("Look at this first", "Notes", "Load", "Prepare"))


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"colour": None}, "cartridge 2 goes in; 5.0 ml are run out at the park\n"),
        ({"prime_ml": 0.0}, "cartridge 2, blue, goes in; it shows from 79.2 mm on (layer 40)"),
        ({"shows_at_layer": None, "shows_at_height_mm": None}, "it never reaches the nozzle in this piece"),
        (
            {"lay_ml": 20.0},
            "5.0 ml are run out at the park, then 20.0 ml are laid beside the piece; it shows",
        ),
        ({"layer": 0}, "0:41  before the first layer: swap"),
    ],
)
def test_pause_in_words(changed: dict[str, Any], words: str) -> None:
    """A pause says where it is, what is loaded and where it shows; how much, is said with what to load."""
    text = to_text(summary(pauses=(PAUSE.model_copy(update=changed),)))
    assert words in text.replace("\n         ", " ")


@pytest.mark.parametrize(
    ("reason", "named"),
    [("cartridge 2 follows", False), ("cartridge 21 is next", True), ("it is used up", True)],
)
def test_a_cartridge_is_named_once_in_any_language(
    reason: str, named: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reason of a step is English; what is told beside it hangs on that, and not on the words."""
    english = pages.written()
    names = {**english["names"], "cartridge": "Kartusche {number}"}  # type: ignore[dict-item]
    pause = PAUSE.model_copy(update={"reason": reason, "colour": None})
    for lang in ("en", "de"):
        assert (say("waits.goes_in", number=2) in goes_in(pause)) is named, lang
        monkeypatch.setattr(pages, "written", lambda: {**english, "lang": "de", "names": names})


@pytest.mark.parametrize(
    ("layers", "words"),
    [
        ([(0, 0)], "before the first layer"),
        ([(3, 3)], "layer 3"),
        ([(3, 5), (9, 12)], "layers 3 to 12"),
        ([(0, 4)], "from before the first layer to layer 4"),
    ],
)
def test_where_a_change_is(layers: list[tuple[int, int]], words: str) -> None:
    """A change tells the layers it reaches over."""
    where = tuple(PLACE.model_copy(update={"layer": low, "last_layer": high}) for low, high in layers)
    change = Change(step="fan", kind="air", what="blower set", count=1, where=where)
    assert f"fan: blower set; 1 time, {words}\n" in to_text(summary(changes=(change,)), long=True)
    assert "fan: blower set (1 time)\n" in to_text(summary(changes=(change,)))


TABLE = LayerTable(
    layer=(1, 2, 3, 4),
    height_mm=(2.0, 4.0, 6.0, 8.0),
    clock_s=(60, 120, 180, 240),
    age_min=(1.0, 2.0, 33.4, 4.0),
    margin=(3.0, 1.2, 1.5, 1.4),
    layers_left_out=96,
)


def test_the_oldest_clay_and_the_weakest_layers() -> None:
    """The three least margins, the worst first; what is left out of the table is told."""
    text = " ".join(to_text(summary(layer_table=TABLE), long=True).split())
    assert "the oldest clay is 33 min old when it is laid, in layer 3 (up to 6.0 mm)" in text
    assert "1.20 times in layer 2 (up to 4.0 mm), 1.40 times in layer 4" in text
    assert "3.00 times" not in text
    assert "an estimate" in text
    assert "the JSON has 4 of the 100 layers" in text


def test_without_margins_and_without_a_table() -> None:
    """No step says what the clay bears: no margin is told. No clay: no heading."""
    without = TABLE.model_copy(update={"margin": None, "layers_left_out": 0})
    text = to_text(summary(layer_table=without), long=True)
    assert "oldest clay" in text
    assert not any(words in text for words in ("margin", "the JSON has"))
    assert "Layer by layer" not in to_text(summary(), long=True)


@pytest.mark.parametrize(
    ("seconds", "words"), [(0, "0:00"), (29, "0:00"), (31, "0:01"), (3599, "1:00"), (36_000, "10:00")]
)
def test_clock(seconds: float, words: str) -> None:
    """Times are hours and minutes, to the nearest minute."""
    assert clock(seconds) == words


NASTY = st.text(max_size=200)


@given(name=NASTY, note=NASTY)
def test_text_fits_and_is_harmless(name: str, note: str) -> None:
    """Whatever names and notes hold, every line is printable and at most 80 characters long."""
    told = summary(source=name, notes=(note,), steps=(note,), warnings=(note,))
    text = to_text(told) + sheet_text(told)
    assert all(len(line) <= 80 and line.isprintable() for line in text.split("\n"))


def joined(found: Summary) -> str:
    """The text without line breaks."""
    return " ".join(to_text(found).split())


def test_a_pause_says_how_long_it_may_last_and_what_to_do_then() -> None:
    """The shorter time first; a time that is not known is told once, with what to do."""
    known = joined(
        summary(pauses=(PAUSE.model_copy(update={"rim_min": 7.9, "hose_min": 38.2, "joins": True}),))
    )
    assert (
        "it may last 7 min for the rim (longer: score it and mist it before it goes on), 38 min for the clay in the "
        "hose (longer: run it out beside the piece)"
    ) in known
    assert "not known (clay: rim_min)" not in known
    unknown = joined(summary(pauses=(PAUSE.model_copy(update={"hose_min": 3.9, "joins": True}),) * 2))
    assert "it may last 3.5 min for the clay in the hose" in unknown
    assert (
        unknown.count(
            "is not known (clay: rim_min); common practice says minutes. If it waited longer, score"
        )
        == 1
    )
    assert "may last" not in joined(summary())
    late = joined(summary(pauses=(PAUSE.model_copy(update={"hose_min": 0.0}),)))
    assert "it may last no time at all for the clay in the hose" in late


def test_a_pause_says_where_air_arrives() -> None:
    """After a refill of the same clay too."""
    refill = PAUSE.model_copy(update={"colour": None, "air_at_layer": 41, "air_at_height_mm": 83.25})
    assert "air that comes in with it arrives at 83.2 mm (layer 41): look for gaps there" in joined(
        summary(pauses=(refill,))
    )
    assert "air that comes in" not in joined(summary())


def test_how_sure_the_loads_are() -> None:
    """With spreads: what to load to be sure, what could run dry how early, and where a colour may show."""
    [first, second] = summary().cartridges
    first = first.model_copy(update={"sure_load_ml": 370.2, "sure_load_g": 688.6, "dry_percent": 0.4})
    second = second.model_copy(
        update={"over_ml": 0.0, "load_ml": 350.0, "load_g": 651.0, "sure_load_ml": 371.0}
        | {"sure_load_g": 690.0, "dry_percent": 41.0, "early_layers": 4}
    )
    [pause] = summary().pauses
    said = to_text(
        summary(
            cartridges=(first, second),
            pauses=(pause.model_copy(update={"shows_low_mm": 71.32, "shows_high_mm": 88.1}),),
            sure=SureRecord(metered_percent=3.0, reserve_ml=6.0, taken_percent=5.0, dry_percent=41.2),
        )
    )
    flat = " ".join(said.split())
    assert "load at least 371 ml (689 g wet) to be 95 % sure" in flat
    assert "it could run dry, up to 4 layers early, in 41 % of all prints" in flat
    assert flat.count("could run dry") == 1
    assert "it shows from about 79 mm on (layer 40), in 95 prints of 100 between 71 and 89 mm" in flat
    assert "50 ml stay behind as reserve on average" in flat
    assert "counted in, each as a standard deviation: E 3 %, reserve 6 ml" in flat
    assert "how far off wet density and hose may be is not known, and nothing is added for it" in flat
    assert "in 41 % of all prints a cartridge runs dry before its end, each full or as the config says" in flat


def test_figures_by_default_are_marked() -> None:
    """What rests on gpost's own numbers has a star, and the keys that would take it away are named."""
    defaults = {"piece.dry_g": ("clay.water_percent",), "cartridges.load_ml": ("cartridge.reserve_ml",)}
    flat = " ".join(to_text(summary(sure=SureRecord(defaults=defaults))).split())
    assert "1283 g wet, about 962 g* dry" in flat
    assert "load at least 351 ml* (652 g wet)" in flat
    assert (
        "* by gpost's own numbers, which are not your clay's: clay.water_percent, cartridge.reserve_ml"
        in flat
    )
    assert "*" not in to_text(summary())


def test_ticks_stand_where_the_work_is() -> None:
    """In the long text each list to tick off stands at its time, with boxes; in the short one none does."""
    ticks = TicksRecord(
        before=("the board \x1b[31m is clamped",), during=("the rim is damp",), after=("all is clean",)
    )
    text = to_text(summary(pauses=(PAUSE,), ticks=ticks), long=True)
    heads = (
        "Load",
        "Before you start",
        "When to be at the machine",
        "While it prints",
        "When it is done",
        "What was changed",
    )
    places = [text.index(f"{head}") for head in heads]
    assert places == sorted(places)
    assert [line for line in text.splitlines() if "[ ]" in line] == [
        "  [ ] the board \\x1b[31m is clamped",
        "  [ ] the rim is damp",
        "  [ ] all is clean",
    ]
    short = to_text(summary(pauses=(PAUSE,), ticks=ticks))
    assert "[ ]" not in short
    assert "Before you start" not in short


def test_no_ticks_no_heading() -> None:
    """An empty list leaves its heading out."""
    text = to_text(summary(ticks=TicksRecord(during=("the rim is damp",))), long=True)
    assert "While it prints\n  [ ] the rim is damp\n" in text
    assert "Before you start" not in text
    assert "When it is done" not in text
