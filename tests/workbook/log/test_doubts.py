"""What the potter is asked about before a print is trusted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gpost.config.model import Config
from gpost.workbook.log.doubts import asked_again, config_doubts, print_doubts, rest_doubts, same_before
from gpost.workbook.log.model import Found, Predicted, PrintRow

SAID = Predicted("vase.gcode", 300, 520, 90, 2.0, 0.0024)


def config(metering: dict[str, object], density: float = 2.0) -> Config:
    """A config with that clay."""
    return Config.model_validate({"clay": {"metering": metering, "wet_density_g_ml": density}})


@pytest.mark.parametrize(
    ("metering", "density", "words"),
    [
        ({"unit": "ml", "ml_per_unit": 0.0024}, 2.0, []),
        ({"unit": "ml", "ml_per_unit": 0.00245}, 2.05, []),
        ({"unit": "ml", "ml_per_unit": 0.0026}, 2.0, ["0.0024 ml per unit of E, but the config says 0.0026"]),
        ({"unit": "ml", "ml_per_unit": 0.0024}, 1.86, ["2 g per ml of wet clay, but the config says 1.86"]),
        ({"unit": "path"}, 2.0, ["0.0024 ml per unit of E, but the config says no"]),
    ],
)
def test_a_config_that_is_another(metering: dict[str, object], density: float, words: list[str]) -> None:
    """More than 3 % off is told, with both figures; metering by path is another one than by E."""
    found = list(config_doubts(SAID, config(metering, density)))
    assert len(found) == len(words)
    assert all(word in sentence for word, sentence in zip(words, found, strict=True))


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (Found(softness=3, notes="soft"), "neither grams nor minutes nor what was left"),
        (Found(260, 45, 500), None),
        (Found(1500, 260), None),
        (Found(190, 32), None),
        (Found(1370), None),  # E of a strand of 2.85 mm counted as one of 1.75
        (Found(5200), "5200 g is far from the 520 g that were predicted, 10 times as much"),  # a decimal slipped
        (Found(52), "52 g is far from the 520 g that were predicted, 0.1 times as much"),
        (Found(minutes=900), "900 min is far from the 90 min"),
        (Found(1900, turned="flow=400@1", flow_share=4), None),
        (Found(520, turned="flow=400@1", flow_share=4), "520 g is far from the 2080 g"),
        (Found(minutes=360, turned="speed=25@1", time_share=4), None),
        (Found(0.52), "0.52 g is far from the 520 g"),
        (Found(18.3), "18.3 g is far from"),  # ounces
        (Found(52_000), "52000 g is far from"),
        (Found(1.04e9), "2000000 times as much"),
        (Found(minutes=1.5), "1.5 min is far from the 90 min"),
        (Found(left_g=2001), "2001 g left are 1000 ml, more than the cartridge of 1000 ml holds"),
    ],
)
def test_findings_that_can_hardly_be_meant(found: Found, words: str | None) -> None:
    """Another unit is told from a piece that went wrong, and how to take it back."""
    doubts = list(print_doubts(4, SAID, found, Config()))
    if words is None:
        assert doubts == []
    else:
        (doubt,) = doubts
        assert words in doubt
        assert "gpost log drop 4" in doubt


@pytest.mark.parametrize(
    ("cartridge", "left_g", "words"),
    [
        ({}, 400, None),  # the reserve is gpost's own then
        ({"reserve_ml": 20}, 40, None),
        ({"reserve_ml": 20}, 119, None),
        ({"reserve_ml": 20}, 400, "400 g left are 200 ml, and the config's reserve is 20"),
        ({"reserve_ml": 20}, 4, None),  # it is a limit: most leave less
        ({"reserve_ml": 20, "reserve_spread_ml": 3}, 4, "4 g left are 2 ml, and the config's reserve is 20"),
        ({"reserve_ml": 20, "reserve_spread_ml": 3}, 34, None),
        ({"reserve_ml": 0}, 4, None),
    ],
)
def test_what_was_left_against_a_known_reserve(
    cartridge: dict[str, object], left_g: float, words: str | None
) -> None:
    """Three times as much, or a third where it is an average, is asked about."""
    given = Config.model_validate({"cartridge": {"volume_ml": 300, **cartridge}})
    doubts = list(print_doubts(4, SAID, Found(left_g=left_g), given))
    assert [words in doubt for doubt in doubts if words] == [True] * (words is not None)
    assert len(doubts) == (words is not None)


def test_the_same_print_twice() -> None:
    """All the same but the notes; a dropped print, other findings or another piece are no doubt."""
    earlier = PrintRow(1, "", SAID, Found(500, 90, notes="first"))
    (doubt,) = same_before(2, SAID, Found(500, 90), [earlier, earlier])
    assert doubt.startswith("print 2 says the same as print 1")
    assert list(same_before(2, SAID, Found(501, 90), [earlier])) == []
    assert list(same_before(2, SAID, Found(500, 90), [PrintRow(1, "", SAID, earlier.found, "2026")])) == []
    other = Predicted("bowl.gcode", 300, 520, 90, 2.0, 0.0024)
    assert list(same_before(2, other, Found(500, 90), [earlier])) == []


@pytest.mark.parametrize(
    ("weighed_g", "slab_g", "asked"),
    [
        (820, 300, True),  # 520 of piece and 300 of slab
        (750, 300, True),  # the slab has dried and was trimmed
        (540, 300, False),
        (690, 300, False),  # a third more clay, and half a slab
        (820, 0, False),
        (545, 25, False),  # prints differ by as much as such a slab weighs
        (3000, 2500, True),  # six times as much, and the slab explains it
    ],
)
def test_a_piece_weighed_with_its_slab(weighed_g: float, slab_g: float, asked: bool) -> None:
    """Too heavy by about what its slab weighs is asked about, once."""
    doubts = list(print_doubts(4, replace(SAID, slab_g=slab_g), Found(weighed_g), Config()))
    assert [("weighed with its slab?" in doubt, "log drop 4" in doubt) for doubt in doubts] == [
        (True, True)
    ] * asked


@pytest.mark.parametrize(
    ("weighed_g", "flow_share", "words"),
    [
        (320, 1, "about the 320 g that this rest alone lays"),
        (300, 1, "about the 320 g that this rest alone lays"),
        (200, 1, "about the 200 g that were laid before it stopped: was it weighed without its rest?"),
        (384, 1.1231, "about the 384 g that this rest alone lays"),  # its flow was turned to 120 %
        (520, 1, None),
        (450, 1, None),
        (255, 1, None),  # near to neither, and E may never have been weighed
    ],
)
def test_a_part_of_a_stopped_piece_weighed_alone(weighed_g: float, flow_share: float, words: str | None) -> None:
    """Of 520 g in all a rest lays 320: what is as heavy as one of the two parts is asked about."""
    found = Found(weighed_g, turned="flow=120@20" if flow_share > 1 else "", flow_share=flow_share)
    doubts = list(print_doubts(4, replace(SAID, rest_g=320), found, Config()))
    assert len(doubts) == (words is not None)
    for doubt in doubts:
        assert words is not None
        assert words in doubt
        assert "The mass asked for is the whole piece's" in doubt
        assert "log drop 4" in doubt


@pytest.mark.parametrize(
    ("weighed_g", "known", "asked"),
    [(260, True, True), (260, False, False), (430, True, True), (450, True, False), (196, True, True)],
)
def test_a_light_piece(weighed_g: float, known: bool, asked: bool) -> None:
    """By the run's summary: where E was weighed once, it is no other clay; where not, it may be a wrong metering."""
    doubts = list(print_doubts(4, SAID, Found(weighed_g), Config(), known=known))
    assert ["did it stop, and is that a part of it" in doubt for doubt in doubts] == [True] * asked


def test_a_slip_of_the_decimal_is_no_part() -> None:
    """As light as no part that anybody would go on with, it is told as a slip."""
    (doubt,) = print_doubts(4, SAID, Found(52), Config(), known=True)
    assert "52 g is far from the 520 g" in doubt


def test_a_print_and_its_rest() -> None:
    """Both with the mass of the whole piece: it is one record. Without grams, or of another file, it is not asked."""
    run = PrintRow(3, "", SAID, Found(500, 60))
    rest = replace(SAID, minutes=30, rest_g=260)
    (doubt,) = rest_doubts(4, rest, Found(510, 30), [run])
    assert "print 4 is the rest of a stopped print" in doubt
    assert "log drop 3" in doubt
    assert not [*rest_doubts(4, rest, Found(minutes=30), [run])]
    assert not [*rest_doubts(4, rest, Found(510), [replace(run, dropped="2026-01-01")])]
    assert not [*rest_doubts(4, replace(rest, source="cup.gcode"), Found(510), [run])]
    assert not [*rest_doubts(4, SAID, Found(510, 90), [run])], "the piece once more"


def test_a_rest_and_then_its_run() -> None:
    """The other way round, the same grams for another time are asked about; a piece printed again weighs another gram."""
    rest = PrintRow(3, "", replace(SAID, minutes=30, rest_g=260), Found(500, 30))
    (doubt,) = rest_doubts(4, SAID, Found(500, 60), [rest])
    assert "as many grams as print 3" in doubt
    assert not [*rest_doubts(4, SAID, Found(501, 60), [rest])]


def test_what_was_asked_is_asked_again() -> None:
    """By the rows alone: with its slab, three times over, a part once another came out whole, the same twice."""
    said = replace(SAID, slab_g=300)
    rows = [
        PrintRow(1, "", said, Found(520)),
        PrintRow(2, "", said, Found(820)),
        PrintRow(3, "", said, Found(minutes=5400)),
        PrintRow(4, "", said, Found(260)),
        PrintRow(5, "", said, Found(520)),
        PrintRow(6, "", said, Found(notes="fine")),
    ]
    asked = dict(asked_again(rows, Config()))
    assert list(asked) == [2, 3, 4, 5]
    assert asked[2].startswith("print 2: 820 g are 300 g more")
    assert asked[3].startswith("print 3: 5400 min is far from the 90 min")
    assert "did it stop" in asked[4]
    assert asked[5].startswith("print 5 says the same as print 1")
