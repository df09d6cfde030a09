"""Clays whose names are cut to the same letters stay told apart on the display, alone and in a day."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.preflight.supply import Supply
from gpost.supply.display import Messages
from gpost.supply.names import Names
from gpost.supply.shortnames import short_words, told_apart
from gpost.testing import layer_start, make_survey

NAMES = st.lists(st.text("abst 1", min_size=1, max_size=14).filter(str.strip), max_size=6, unique=True)


@pytest.mark.parametrize(
    ("names", "calls"),
    [
        (["stoneware white", "blue"], {}),
        (["stoneware white", "stoneware warm grey"], ["ston white", "stone grey"]),
        (["stoneware white", "stoneware wet white"], ["stoneware1", "stoneware2"]),
        (["porcelain-white", "porcelain-warm", "porcelain1"], ["porcelain2", "porcelain3"]),
        (["stoneware ", "stoneware white"], ["stoneware", "ston white"]),
    ],
)
def test_how_they_are_cut(names: list[str], calls: Any) -> None:
    """To ten letters: middle words go first; names that end in the same word end with a number."""
    found = told_apart(names, 10)
    assert found == (dict(zip(names, calls, strict=False)) if isinstance(calls, list) else calls)


@given(NAMES, st.integers(2, 12))
def test_no_two_are_the_same(names: list[str], letters: int) -> None:
    """Cut or not, all names differ, and none is longer than there is room."""
    found = told_apart(names, letters)
    shown = [found.get(name, name[:letters].rstrip()) for name in names]
    assert len(set(shown)) == len(names)
    assert all(len(name) <= letters for name in shown)


def messages(clays: list[str], used: str, others: tuple[Names, ...] = ()) -> Messages:
    """Those of a pot that changes its clay, on a display of 20 letters."""
    config = {
        "machine": {"display_letters": 20, "pause": {"relieve_ml": 0}},
        "clay": {"colour": "grey"},
        "cartridge": {"reserve_ml": 50},
        "clays": [{"name": name} for name in clays],
    }
    pot = make_survey(layers=50, ml_per_layer=10)
    pause = Pause(layer_start(pot, 21), "swap", "", new_cartridge=True, colour=used)
    plan = Plan(pot, Config.model_validate(config)).adding("test", [pause])
    return Messages(plan, others)


def said(found: Messages, number: int | None = None) -> str:
    """What is to be put on."""
    return found.to_load(found._plan.pauses[0], number)


def test_run_and_day_call_a_clay_the_same() -> None:
    """By the studio's list; a day counts its other pieces' names too. A note says what it calls them."""
    both = ["stoneware white porcelain", "stoneware white ball"]
    run, day = messages(both, both[0]), messages([], both[0], (Names((), (both[1],)),))
    assert said(messages(["grey"], both[0])) == "stoneware whit 350ml"
    short = said(run).rpartition(" ")[0]
    assert said(messages(both, both[1])).rpartition(" ")[0] != short
    assert said(run, 3) == f"3: {short} 350ml"
    assert said(run, 3) != said(messages(both, both[1]), 3)
    assert said(day, 3) != said(messages([], both[1], (Names((), (both[0],)),)), 3)
    note = f"where the display has no room for a clay's whole name, it calls {both[0]} '{short}'"
    assert run.note() == note
    assert messages(["grey"], "blue").note() == ""
    assert short_words({"a": "a"}, ["a"]) == ""
    plan = run._plan
    assert note in [found.text for found in Supply(plan.config).findings(plan)]
