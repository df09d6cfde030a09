"""The day's sheet in words and as JSON."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from gpost.report.summary import CAUTIONS
from gpost.workbook.day.clock import Event
from gpost.workbook.day.pieces import LeftOut
from gpost.workbook.day.sheet import CartridgeRow, DaySheet, PieceRow
from gpost.workbook.day.words import day_json, day_text, time_of_day

SHEET = DaySheet(
    cartridges=(CartridgeRow(1, "white", 60, ("a", "b"), 500, 550, 1000, 32400, 36000),),
    pieces=(
        PieceRow("a", (1,), 200, 489.2, 490, 32580, 33000),
        PieceRow("b" * 60, (1, 2), 240, 289.2, 290, 33600, 36000),
    ),
    events=(Event(32400, "load cartridge 1 (white)"), Event(36000, "b\x1b[31m is done")),
    colour_changes=1,
    warnings=("the clay is stiff",),
)


@pytest.mark.parametrize(
    ("clock_s", "text"),
    [(0, " 0:00"), (32429, " 9:00"), (32431, " 9:01"), (86340, "23:59"), (86400, " 0:00+1")],
)
def test_time_of_day(clock_s: float, text: str) -> None:
    """Hours and minutes to the nearest minute; the next day is marked."""
    assert time_of_day(clock_s) == text


def test_text() -> None:
    """Everything is said, in lines of at most 80 characters, and nothing can steer the terminal."""
    text = day_text(SHEET, [LeftOut("c", "it is empty")])
    lines = text.splitlines()
    assert lines[0] == "2 pieces, 1 cartridge, 1 change of colour, 9:00 to 10:00"
    assert "load at least 550 ml (1000 g wet), 60 min in use" in " ".join(text.split())
    assert any(line.split() == ["a", "1", "200", "490", "9:03", "9:10", "0"] for line in lines)
    assert any("bb...bb" in line and "1-2" in line for line in lines)
    assert "  - the clay is stiff" in lines
    assert "  - c: it is empty" in lines
    assert "More in it does no harm." in " ".join(text.split())
    assert all(caution in " ".join(text.partition("Take care")[2].split()) for caution in CAUTIONS)
    assert "\x1b" not in text
    assert max(map(len, lines)) <= 80


def test_what_rests_on_our_own_numbers_is_marked() -> None:
    """Grams by a density that the studio hasn't said have a star as in each summary, and it is told."""
    marked = replace(SHEET, defaults={"cartridges.load_g": ("clay.wet_density_g_ml",)})
    text = " ".join(day_text(marked, []).split())
    assert "load at least 550 ml (1000 g* wet), 60 min in use" in text
    assert "* by gpost's own numbers, which are not your clay's: clay.wet_density_g_ml" in text
    assert "*" not in day_text(SHEET, [])


def test_sure_is_said() -> None:
    """Where spreads are known, a load is enough for so many of 100."""
    text = " ".join(day_text(replace(SHEET, sure_percent=95.0), []).split())
    assert "load at least 550 ml (1000 g wet) to be 95 % sure, 60 min in use" in text


def test_both_kinds_of_changes_are_said() -> None:
    """A change inside a piece is no change between pieces, but one all the same."""
    text = " ".join(day_text(replace(SHEET, changes_within=2), []).split())
    assert "1 change of colour between pieces and 2 inside them, 9:00 to 10:00" in text


def test_an_empty_day() -> None:
    """No piece, no table."""
    lines = day_text(DaySheet((), (), (), 0, ()), []).splitlines()
    assert lines[0] == "No piece can be printed."
    assert len(lines) == 3


def test_json() -> None:
    """The same as JSON, times in seconds."""
    found = json.loads(day_json(SHEET, [LeftOut("c", "it is empty")]))
    assert found["version"] == 1
    assert found["cartridges"][0]["load_ml"] == 550
    assert found["cartridges"][0]["loaded_s"] == 32400
    assert found["cartridges"][0]["minutes"] == 60
    assert [piece["first_ml"] for piece in found["pieces"]] == [490, 290]
    assert found["colour_changes_within"] == 0
    assert found["cautions"] == list(CAUTIONS)
    assert [piece["before_ml"] for piece in found["pieces"]] == [489.2, 289.2]
    assert found["events"][0] == {"clock_s": 32400, "text": "load cartridge 1 (white)"}
    assert (found["colour_changes"], found["warnings"]) == (1, ["the clay is stiff"])
    assert found["left_out"] == [{"name": "c", "reason": "it is empty"}]
