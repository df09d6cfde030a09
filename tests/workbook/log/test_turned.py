"""What was turned by hand: how it is written, and what it makes of clay and time."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.api import Config, Plan
from gpost.errors import ConfigError
from gpost.report.model import Summary
from gpost.report.summary import summarise
from gpost.supply.turned import read_turn
from gpost.testing import make_survey
from gpost.workbook.log.fit import fit_prints
from gpost.workbook.log.model import Found, PrintRow, predicted
from gpost.workbook.log.store import VERSIONS, open_log
from gpost.workbook.log.turned import effect
from gpost.write.output import Written

CONFIG = Config.model_validate({"clay": {"metering": {"unit": "ml", "ml_per_unit": 0.002}}})
"""Its prints are of clay that gives 0.0022 ml a unit."""


def summary(layers: int = 40) -> Summary:
    """A pot of layers of 2 mm, 10 ml and 30 s each."""
    survey = make_survey(layers=layers, ml_per_layer=10, time_per_layer_s=30)
    return summarise(Plan(survey, CONFIG), Written(1, 1), source="pot.gcode", output="b")


@pytest.mark.parametrize(
    ("given", "flow", "time"),
    [
        (["flow=110@1"], 1.1, 1),
        (["flow=110@21"], 1.05, 1),
        (["flow=110@40mm"], 1.05, 1),
        (["flow=110@11", "flow=90@31"], 0.25 + 0.5 * 1.1 + 0.25 * 0.9, 1),
        (["flow=90@31", "flow=110@11"], 0.25 + 0.5 * 1.1 + 0.25 * 0.9, 1),
        (["flow=150@21", "flow=110@21"], 1.05, 1),
        (["speed=80@21"], 1, 0.5 + 0.5 / 0.8),
        (["speed=125@1", "flow=80@39mm"], 1 - 0.2 * 41 / 80, 0.8),
        (["flow=100@7"], 1, 1),
        ([], 1, 1),
    ],
)
def test_by_hand(given: list[str], flow: float, time: float) -> None:
    """40 even layers: the sum of each one's clay times its factor, and of its time by its factor."""
    assert effect(summary(), [read_turn(text) for text in given]) == pytest.approx((flow, time))


def test_of_thousands_of_layers() -> None:
    """Where the table has not all layers, it is in proportion between its rows."""
    share = effect(summary(4000), [read_turn("flow=120@1334")])
    assert share.flow_share == pytest.approx(1 + 0.2 * (4000 - 1333) / 4000)


@pytest.mark.parametrize("text", ["flow=110@40", "speed=92.5@3mm", "flow=110%@12.5 mm"])
def test_what_is_written_can_be_read_again(text: str) -> None:
    """As it is kept in the log."""
    turn = read_turn(text)
    assert read_turn(str(turn)) == turn


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("110", "write what, to how many percent"),
        ("flow=110", "flow=110@40"),
        ("heat=110@4", "can't be read"),
        ("flow=1.1@4", "100 is as the file says"),
        ("flow=1000@4", "is not from 10 to 400"),
        ("flow=110@0", "counted from 1"),
        ("flow=110@2.5", "for a height write mm behind it"),
        ("flow=-5@4", "can't be read"),
    ],
)
def test_what_can_t_be_read(text: str, words: str) -> None:
    """A sentence that says how to write it."""
    with pytest.raises(ValueError, match=words):
        read_turn(text)


@pytest.mark.parametrize(
    ("text", "words"), [("flow=110@41", "has 40 layers"), ("flow=110@81mm", "80 mm high")]
)
def test_a_place_that_the_piece_has_not(text: str, words: str) -> None:
    """It is a slip, and would count as nothing."""
    with pytest.raises(ConfigError, match=words):
        effect(summary(), [read_turn(text)])


def test_a_summary_of_before() -> None:
    """It doesn't say how much clay is in each layer; without --turned it does as before."""
    found = summary()
    assert found.layer_table is not None
    old = found.model_copy(update={"layer_table": found.layer_table.model_copy(update={"clay_ml": None})})
    assert effect(old, []) == (1, 1)
    with pytest.raises(ConfigError, match="run the piece again"):
        effect(old, [read_turn("flow=110@4")])


def test_flow_is_learnt_whatever_was_turned() -> None:
    """Three prints of clay that gives a tenth more, each with other knobs: 0.0022 ml a unit, and no spread.

    Not said, they would teach 0.00221 with a spread of a tenth.
    """
    rows, silent = [], []
    for number, knob in enumerate(("flow=80@21", "flow=120@11", "flow=105@1"), 1):
        said, share = predicted(summary(), CONFIG), effect(summary(), [read_turn(knob)])
        grams = said.piece_g * 1.1 * share.flow_share
        rows.append(PrintRow(number, "", said, Found(grams, None, None, None, "", knob, *share)))
        silent.append(PrintRow(number, "", said, Found(grams)))
    found, unsaid = fit_prints(rows).ml_per_unit, fit_prints(silent).ml_per_unit
    assert found is not None
    assert unsaid is not None
    assert (found.mean, found.deviation) == (pytest.approx(0.0022), pytest.approx(0, abs=1e-5))
    assert unsaid.deviation > 2e-4


def test_in_and_out_of_the_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A log of before turning keeps its prints, of which nothing is known to have been turned; a new one is kept."""
    path, said = tmp_path / "log.sqlite", predicted(summary(), CONFIG)
    with monkeypatch.context() as earlier:
        earlier.setattr("gpost.workbook.log.store.VERSIONS", VERSIONS[:2])
        earlier.setattr("gpost.workbook.log.store._ADDED", _BEFORE)
        with open_log(path, create=True) as log:
            log._connection.execute(
                f"INSERT INTO prints ({_BEFORE}) VALUES ('2026-03-01', 'a', 1, 2, 3, 4, 5, 6, 7, 8, 3, 'soft')"
            )
    new = Found(480.0, turned="flow=110@21", flow_share=1.05)
    with open_log(path) as log:
        log.add(said, new)
        old, row = log.prints()
    assert (old.found.notes, old.found.turned, old.found.flow_share, old.found.time_share) == (
        "soft",
        "",
        1,
        1,
    )
    assert (row.predicted, row.found) == (said, new)
    assert row.mass_ratio == pytest.approx(480 / (said.piece_g * 1.05))


_BEFORE = (
    "added, source, clay_ml, piece_g, predicted_min, density_g_ml, ml_per_unit, weighed_g, found_min, left_g, "
    "softness, notes"
)
