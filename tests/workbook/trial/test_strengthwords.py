"""What trials of strength say, in words, and when they give lines for `stand`."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.clay.folds import PLACES, Fold
from gpost.config.model import Config, StepUse
from gpost.report.toload import ToLoad
from gpost.workbook.trial.strength import Coned, Folded, Slumped
from gpost.workbook.trial.strengthwords import (
    cone_json,
    cone_text,
    folded_json,
    folded_text,
    slump_json,
    slump_text,
    tube_text,
)
from gpost.workbook.trial.tube import TubeWishes, tube_of
from tests.config_files import load_files

FAST, SLOW = Fold(216.0397, 648.119), Fold(420.3838, 5044.606)
"""Clay of 2000 Pa that stiffens by 0.5 Pa/s, at 20 and 5 mm/min: see tests/clay/test_strength.py."""


def words(*folds: Fold) -> str:
    """In one line."""
    return " ".join(folded_text(Folded(folds, 1.9)).split())


def stand_of(text: str) -> StepUse:
    """What stands after the empty line, as the one step of a config."""
    (step,) = load_files({"printed": text.partition("\n\n")[2]}).config.steps
    return step


def test_two_tubes_give_the_low_ends_as_lines() -> None:
    """2000 Pa and 0.5 Pa/s are found; the lines are the safe ends, of two digits and never rounded up, and
    the words say what stands behind the range.
    """
    text = words(FAST, SLOW)
    assert (
        "Yield stress 2000 (1800 to 2300) Pa as it is laid, and it stiffens by 0.5 (0.37 to 0.6) Pa/s" in text
    )
    assert "can't be seen from two: print a third. Until then each is taken to be 5 % off" in text
    assert "No modulus can be told from a tube" in text
    settings = stand_of(folded_text(Folded((FAST, SLOW), 1.9))).settings
    assert settings == {"yield_stress_pa": 1700, "stiffening_pa_s": 0.37}


def test_one_tube_gives_strength_at_its_age_and_no_line() -> None:
    """Its clay when fresh has less; two of one rate tell no more."""
    for folds in ([FAST], [FAST, Fold(220, 648.119 * 220 / 216)]):
        text = words(*folds)
        assert "Pa at 10:" in text
        assert "No line is given before" in text
        assert "stand:" not in text


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("wall", "in mid-wall: it buckled"),
        ("leant", "leaning over: it buckled or tipped"),
        ("stood", "it still stood"),
    ],
)
def test_a_tube_that_did_not_yield_is_a_lower_bound(place: str, said: str) -> None:
    """The mechanism is named, the strength is that or more, and there is no line."""
    text = words(Fold(150, 600, place))  # type: ignore[arg-type]
    assert said in text
    assert "Pa or more" in text
    assert "No tube folded at the foot" in text
    assert "stand:" not in text


def test_a_tube_that_bore_more_than_the_others_say_stops_the_line() -> None:
    """300 mm after 15 minutes need 3227 Pa (rho g H / sqrt 3, 1.9 g/ml), and the others say 2450."""
    text = words(FAST, SLOW, Fold(300, 900, "stood"))
    assert "Warning: tube 3 bore more than the others say" in text
    assert "stand:" not in text
    assert "Warning" not in words(FAST, SLOW, Fold(200, 900, "stood"))


def test_no_stiffening_that_is_not_sure() -> None:
    """Tubes that fold at one height: the line counts on none, and says so."""
    found = Folded((Fold(200, 600), Fold(200, 2400)), 1.9)
    assert "no stiffening is sure" in " ".join(folded_text(found).split())
    assert stand_of(folded_text(found)).settings["stiffening_pa_s"] == 0
    assert "stiffening_pa_s: 0  # not sure to be above 0" in folded_text(found)


FOLDS = st.builds(
    Fold, st.floats(1, 10_000), st.integers(1, 100_000).map(float), st.sampled_from(["foot", *PLACES])
)


@given(st.lists(FOLDS, min_size=1, max_size=6))
def test_a_line_is_never_above_what_was_found(folds: list[Fold]) -> None:
    """Whatever folds are told: words, JSON without a number that is none, and lines of the safe side alone."""
    found = Folded(tuple(folds), 1.9)
    values = json.loads(folded_json(found), parse_constant=pytest.fail)
    text = folded_text(found)
    assert max(map(len, text.splitlines())) <= 80
    if "stand:" not in text:
        return
    settings = stand_of(text).settings
    assert 0 < settings["yield_stress_pa"] <= values["yield_stress_pa"]["low"]
    assert 0 <= settings["stiffening_pa_s"] <= max(values["stiffening_pa_s"]["low"], 0)
    assert len({fold.rise_mm_s for fold in folds if fold.yields}) > 1


def test_tubes_that_differ_too_much_give_no_line() -> None:
    """Three of which one is half as strong again: the low end is less than half of the middle."""
    text = words(FAST, Fold(258, 1548), Fold(640, 7680), Fold(120, 360))
    assert "too unsure for a line" in text
    assert "stand:" not in text


def test_tubes_as_json() -> None:
    """Each tube with its bound, and the ends of what they give; null where there is no end."""
    found = json.loads(folded_json(Folded((FAST, SLOW, Fold(100, 900, "wall")), 1.9)))
    assert [tube["at_least"] for tube in found["tubes"]] == [False, False, True]
    assert found["yield_stress_pa"]["middle"] == pytest.approx(2000, rel=1e-4)
    assert found["stiffening_pa_s"]["middle"] == pytest.approx(0.5, rel=1e-4)
    alone = json.loads(folded_json(Folded((Fold(100, 900, "wall"),), 1.9)))
    assert (alone["yield_stress_pa"], alone["at_age_pa"], alone["age_s"]) == (None, None, None)


def test_cylinders() -> None:
    """One may be 10 % off, and its low end is the line, with no stiffening; two that differ much give "
    "none."""
    text = slump_text(Slumped((400.0,), 1.9))
    assert "Yield stress 400 (320 to 480) Pa (95 %), from 1 cylinder" in " ".join(text.split())
    assert stand_of(text).settings == {"yield_stress_pa": 320, "stiffening_pa_s": 0}
    assert "too unsure for a line" in " ".join(slump_text(Slumped((300.0, 500.0), 1.9)).split())
    assert json.loads(slump_json(Slumped((400.0,), 1.9)))["yields_pa"] == [400]


def test_cones() -> None:
    """The range is that of the cone's factor, said to be wide; the line is its low end."""
    text = cone_text(Coned((10.0,), 80, 30))
    assert "Yield stress 6300 (3900 to 10000) Pa" in " ".join(text.split())
    assert "no repeating makes it less" in " ".join(text.split())
    assert stand_of(text).settings == {"yield_stress_pa": 3900, "stiffening_pa_s": 0}
    assert "stand:" not in cone_text(Coned((8.0, 12.0), 80, 30))
    assert json.loads(cone_json(Coned((10.0,), 80, 30)))["high_pa"] == pytest.approx(10434.28)


def test_every_line_fits_a_terminal() -> None:
    """At most 80 characters."""
    texts = [
        folded_text(Folded((FAST, SLOW, Fold(300, 900, "stood")), 1.9)),
        folded_text(Folded((FAST, SLOW), 1.9)),
        folded_text(Folded((FAST,), 1.9)),
        slump_text(Slumped((200.0, 240.0), 1.9)),
        cone_text(Coned((10.0,), 80, 30)),
        tube_text("tube.gcode", tube_of(Config(), TubeWishes()), 3100, ToLoad(90, 170, None, (), False, True)),
    ]
    assert max(len(line) for text in texts for line in text.splitlines()) <= 80
