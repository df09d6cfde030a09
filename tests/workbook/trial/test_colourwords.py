"""What changes of colour say, in words: how the heights were taken, and lines only where they are sure."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.clay.mixing import fit_line
from gpost.config.model import Config
from gpost.workbook.trial.colour import Changes, Measured, Pair
from gpost.workbook.trial.colourwords import colour_text
from tests.config_files import load_files

AGREEING = [(40, 95), (40.5, 94.5), (40.2, 95.2)]


def changes(
    trials: list[Pair], measured: Measured | None = None, plug_part: float = 0.0, **config: Any
) -> Changes:
    """What they say of the hose, under a config."""
    found = fit_line(trials, plug_part=plug_part)
    return Changes(found, tuple(trials), Config.model_validate(config), measured)


def said(*args: Any, **config: Any) -> str:
    """In one line of words."""
    return " ".join(colour_text(changes(*args, **config)).split())


def test_the_lines_are_a_config_with_a_spread() -> None:
    """Three changes that agree give volume, spread and stages, and the words give the interval of the "
    "volume."""
    text = colour_text(changes(AGREEING))
    cartridge = load_files({"printed": text.partition("\n\n")[2]}).config.cartridge
    fit = fit_line(AGREEING)
    assert cartridge.line_ml == round(fit.line.holdup_ml, 1)
    assert cartridge.mixing_stages == round(fit.line.stages or 0, 1)
    assert cartridge.line_spread_ml == pytest.approx(fit.spread_ml, rel=0.05)
    assert f"(+-{1.96 * (fit.spread_ml or 0):.2g} ml, 95 %)" in text


def test_no_lines_from_one_change_or_from_unlike_ones() -> None:
    """One says nothing of its error; two that lie 5.9 ml apart are known to more than 5 %; or the config
    knows better.
    """
    for trials, words in [
        ([(40, 95)], "nothing of its own error"),
        ([(40, 95), (42, 90)], "5 % of what the hose"),
    ]:
        text = said(trials)
        assert f"No lines for the config: {words}" in text or words in text
        assert "line_ml:" not in text
    assert "the config knows better" in said(AGREEING, cartridge={"line_spread_ml": 0.05})


def test_a_trial_that_the_line_cannot_do_says_so() -> None:
    """30 to 85 ml is too long a change for a line of which 95 % is a plug; without the plug it fits."""
    assert fit_line([(30, 85)], plug_part=0.95).off_ml > 5
    text = said([(30, 85)], None, 0.95)
    assert "the trial misses that by" in text
    assert "take a smaller plug_part" in text
    assert "miss" not in said([(30, 85)])


def test_trials_that_disagree_say_by_how_much() -> None:
    """That they do needs no fault of the line's."""
    text = said([(40, 95), (50, 80)], None, 0.2)
    assert "the trials miss that by" in text
    assert "Warning" not in text


@pytest.mark.parametrize(
    ("measured", "clay", "words"),
    [
        (Measured(), {}, "taken as wet, as printed; off a dry or fired piece"),
        (Measured("wet"), {}, "the heights are taken as wet, as printed"),
        (Measured("dry", 6.0), {}, "the piece lost 6 % of its height in drying"),
        (Measured("fired"), {"shrinkage_percent": 13}, "shrank by 13 % upwards (clay: shrinkage_percent)"),
        (
            Measured("fired"),
            {"shrinkage_z_percent": 15},
            "shrank by 15 % upwards (clay: shrinkage_z_percent)",
        ),
        (Measured("fired"), {}, "by 14 % upwards (clay: shrinkage_percent, which your config doesn't say"),
    ],
)
def test_how_the_heights_were_taken_is_said(measured: Measured, clay: dict[str, float], words: str) -> None:
    """Wet unless said otherwise; with the shrinkage that was used, and whether it was the potter's own."""
    assert words in said(AGREEING, measured, clay=clay)


def test_a_hose_that_is_a_third_too_small_makes_one_ask() -> None:
    """65 ml are found where the config has 95: the piece had likely shrunk. Not if it was said to be wet."""
    small = {"cartridge": {"line_ml": 95}}
    text = said(AGREEING, Measured(), **small)
    assert "The likeliest cause is that the piece was dry or fired" in text
    assert "line_ml:" not in text
    for other in (
        said(AGREEING, Measured("wet"), **small),
        said(AGREEING, Measured()),
        said(AGREEING, None, **small),
    ):
        assert "likeliest" not in other
        assert "line_ml:" in other


def test_every_line_fits_a_terminal() -> None:
    """At most 80 characters."""
    texts = [
        colour_text(changes([(40, 95), (42, 90)], Measured(), cartridge={"line_ml": 95})),
        colour_text(changes([(30, 85)], None, 0.95)),
        colour_text(changes(AGREEING, Measured("fired"))),
    ]
    assert max(len(line) for text in texts for line in text.splitlines()) <= 80
