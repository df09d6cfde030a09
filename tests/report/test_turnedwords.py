"""What is weighed and turned by hand, in words: a small table for each cartridge."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.common.layout import laid_out
from gpost.report.byhand import (
    FlowRecord,
    KnobRecord,
    RemedyRecord,
    SafeRecord,
    ShownRecord,
    SpeedRecord,
    WeighingRecord,
)
from gpost.report.turnedwords import turned_by_hand, weigh_as_you_go

SAFE = SafeRecord(layer=47, height_mm=94.2, clock_s=2820)


def remedy(came_percent: float, weighs_g: float, more_ml: float, **more: Any) -> RemedyRecord:
    """One row, of clay of 2 g per ml."""
    said = {"safe": None, "dry": False, **more}
    return RemedyRecord(
        came_percent=came_percent,
        clay_g=weighs_g - 400,
        weighs_g=weighs_g,
        more_ml=more_ml,
        more_g=2 * more_ml,
        **said,
    )


def weighing(*remedies: RemedyRecord, **changed: Any) -> str:
    """The words for one cartridge that is taken off, in one line."""
    record = WeighingRecord(
        **{
            "cartridge": 1,
            "held_ml": 230,
            "held_g": 460,
            "left_g": 60,
            "low_g": 44.2,
            "high_g": 75.8,
            "empty_g": 400,
            "remedies": remedies,
            **changed,
        }
    )
    return " ".join(laid_out(weigh_as_you_go((record,))).split())


def test_a_weight_and_what_it_means() -> None:
    """All with the cartridge; the range is rounded inwards, what to add upwards."""
    said = weighing(remedy(95, 480, -15), remedy(105, 440, 15.2))
    assert "put on with 230 ml it weighed 860 g, now 460 g; from 445 to 475 g do nothing" in said
    assert "480 g, 95 % came: 15 ml (30 g) less will do in 2" in said
    assert "440 g, 105 % came: load 16 ml (31 g) more into 2" in said


def test_a_weight_that_a_full_one_cannot_help() -> None:
    """The layer by which to pause is the last one that is safe."""
    said = weighing(remedy(110, 420, 10, safe=SAFE))
    assert "110 % came: fill 2 to the brim, and pause by hand after layer 47 (94 mm), at 0:47" in said
    low = SafeRecord(layer=0, height_mm=0, clock_s=9)
    assert "pause by hand before the first layer is done" in weighing(remedy(110, 420, 10, safe=low))


def test_a_cartridge_that_ran_dry() -> None:
    """It can hardly weigh less, so that as much came or more."""
    said = weighing(remedy(104, 428, 12, dry=True))
    assert (
        "428 g or less, 104 % came or more (it may have run dry): load at least 12 ml (24 g) more into 2"
        in said
    )


def test_no_spread_no_range() -> None:
    """Where no spread is known, no difference is called none."""
    assert "do nothing" not in weighing(remedy(95, 480, -15), low_g=None, high_g=None)


def test_without_an_empty_cartridge_nothing_is_said() -> None:
    """The sheet is short."""
    assert weighing(remedy(95, 480, -15), empty_g=None) == ""


def knob(*flows: FlowRecord, **changed: Any) -> str:
    """The words for one cartridge, in one line."""
    record = KnobRecord(
        **{
            "cartridge": 2,
            "from_layer": 21,
            "from_height_mm": 42,
            "from_s": 1200,
            "visit_s": 3600,
            "flows": flows,
            "speeds": (SpeedRecord(percent=90, visit_s=3867), SpeedRecord(percent=110, visit_s=3382)),
            **changed,
        }
    )
    return " ".join(laid_out(turned_by_hand((record,))).split())


def test_a_cartridge_s_table() -> None:
    """Where clay ends or a colour moves there is a line; only if nothing does it is said that all is as planned."""
    blue = (ShownRecord(colour="blue", height_mm=52.4),)
    said = knob(
        FlowRecord(percent=90, safe=None, visit_s=3600),
        FlowRecord(percent=110, safe=SAFE, visit_s=2820),
        FlowRecord(percent=120, safe=None, visit_s=2600, shows=blue),
    )
    assert "cartridge 2, turned from layer 21 on; next visit as planned 1:00" in said
    assert "flow 90" not in said
    assert "flow 90 %: as planned" in knob(FlowRecord(percent=90, safe=None, visit_s=3600))
    assert "flow 110 %: safe to layer 47 (94 mm), 0:47" in said
    assert "flow 120 %: does to its end; blue from 52 mm on" in said
    assert "speed 90, 110 %: next visit 1:04, 0:56" in said


@pytest.mark.parametrize(
    ("low_mm", "high_mm", "words"),
    [
        (30.8, 48.7, "blue from the turn on that goes from 31 to 49 mm"),
        (52.1, 52.4, "blue from 52 mm on"),  # to whole mm there is nothing to tell
    ],
)
def test_where_a_turn_goes_up_and_down_its_heights_are_told(low_mm: float, high_mm: float, words: str) -> None:
    """That of its one place where the colour comes would seem to jump up and down from knob to knob."""
    blue = (ShownRecord(colour="blue", height_mm=52.4, low_mm=low_mm, high_mm=high_mm),)
    said = knob(FlowRecord(percent=120, safe=None, visit_s=2600, shows=blue))
    assert f"flow 120 %: does to its end; {words} " in said


def test_what_never_shows_and_what_is_never_safe() -> None:
    """Both are said; of many colours the first two."""
    shows = tuple(ShownRecord(colour=colour, height_mm=None) for colour in ("blue", "red", "grey"))
    nothing = SafeRecord(layer=0, height_mm=0, clock_s=0)
    said = knob(FlowRecord(percent=120, safe=nothing, visit_s=1, shows=shows), from_layer=0)
    assert "turned from the start on" in said
    assert "not even layer 1 is safe; blue never shows; red never shows" in said
    assert "grey" not in said


@pytest.mark.parametrize("words", [weigh_as_you_go, turned_by_hand])
def test_nothing_to_say(words: Any) -> None:
    """No cartridge taken off, no layers."""
    assert list(words(())) == []
