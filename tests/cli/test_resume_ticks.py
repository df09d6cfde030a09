"""`gpost resume`: what to tick off round a rest fits a piece that stands, and an earlier summary goes on with it."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from gpost.config.sheet import AFTER, BEFORE, DURING, DURING_REST
from gpost.steps.recipe import read_recipe
from gpost.words import say
from tests.cli.test_resume_checks import CONFIG, ok, rings, tower
from tests.cli.test_resume_page import plain
from tests.resuming import resume, summary

OF_A_START = [*BEFORE, say("ticks.first_layer")]
"""What is done where nothing stands yet: the slab rolled, the hose filled, the nozzle over the slab."""
SLAB = CONFIG.replace("steps: [", "steps: [{slab: {thickness_mm: 8, x_size_mm: 90, y_size_mm: 90}}, ")
OWN = """
sheet:
  before: [roll the slab]
  rest: {before: [the pressure is up], during: [the joint is closed], after: [cover the joint]}
"""


def written(folder: Path) -> tuple[str, str]:
    """(text, page) of a rest from layer 5 on, of which more is wedged than is loaded."""
    beside = ("--summary", folder / "rest.txt", "--page", folder / "rest.html", "--overwrite")
    ok(resume(folder, "--from-layer", 5, *beside))
    html = (folder / "rest.html").read_text("utf-8")
    text = " ".join((folder / "rest.txt").read_text("utf-8").split())
    return text, plain(html[html.index("<body>") : html.index('<script type="application/json"')])


def test_a_rest_has_ticks_of_its_own(tmp_path: Path) -> None:
    """Nothing of a first start stands in text, page or JSON; what is still so does. The run's own are as ever."""
    folder = tower(tmp_path, rings(), SLAB)
    for said in written(folder):
        assert [words for words in OF_A_START if words in said] == []
        assert say("ticks.first_turn") in said
        assert all(words in said for words in AFTER)
    first, rest = (summary(folder, name)["ticks"] for name in ("print", "rest"))
    assert first == {"before": list(BEFORE), "during": list(DURING), "after": list(AFTER)}
    assert (rest["before"], rest["during"][0]) == ([], say("ticks.first_turn"))


def test_no_slab_is_laid_for_a_rest(tmp_path: Path) -> None:
    """It lies there, with the piece on it: its size and place are told of a first start alone."""
    folder = tower(tmp_path, rings(), SLAB)
    for said in written(folder):
        assert "90 x 90 mm" not in said
        assert "he middle of the foot falls" not in said


def test_the_studio_says_its_own_of_a_rest(tmp_path: Path) -> None:
    """Before what gpost says itself, each with its box; said once the print has stopped, too."""
    folder = tower(tmp_path, rings())
    (folder / "studio.yaml").write_text(CONFIG + OWN)
    text, page = written(folder)
    assert summary(folder)["ticks"] == {
        "before": ["the pressure is up"], "during": ["the joint is closed"], "after": ["cover the joint"],
    }  # fmt: skip
    for words in ("the pressure is up", "the joint is closed", "cover the joint"):
        assert f"[ ] {words}" in text
        assert words in page
    assert page.index("the pressure is up") < page.index("Check the foot against its mark")
    assert "roll the slab" not in text + page


@pytest.mark.parametrize(
    ("sheet", "during", "after"),
    [
        ("{before: [a], during: [b], after: [c]}", ["b"], ["c"]),
        ("{during: [b], rest: {during: [rb], before: [ra]}}", ["rb"], list(AFTER)),
        ("{during: [b], after: [c], rest: {after: []}}", ["b"], []),
        ("{after: []}", list(DURING_REST), []),
    ],
)
def test_what_the_studio_does_meanwhile_holds_in_a_rest(
    tmp_path: Path, sheet: str, during: list[str], after: list[str]
) -> None:
    """A piece is covered and slid off in one way, stopped or not; only what comes before a first start isn't done."""
    folder = tower(tmp_path, rings(), f"{CONFIG}\nsheet: {sheet}\n")
    text, page = written(folder)
    ticks = summary(folder)["ticks"]
    assert (ticks["during"], ticks["after"]) == (during, after)
    assert ticks["before"] == (["ra"] if "ra" in sheet else [])
    for said in (text, page):
        assert all(words in said for words in [*during, *after])


@pytest.mark.parametrize("with_rest", [False, True])
def test_a_summary_from_before_there_were_ticks_of_a_rest_goes_on(tmp_path: Path, with_rest: bool) -> None:
    """Its print was told by a sheet of three lists, by hand: such a hash is found again, whatever a rest's are."""
    folder = tower(tmp_path, rings())
    recipe, said = read_recipe([], studio=[folder / "studio.yaml"]), summary(folder, "print")
    said["ticks"]["before"] = ["the board is clamped tight"]
    for name, left_out in (("recipe_sha256", {"steps"}), ("rest_sha256", {"steps": True, "machine": {"home_with_piece"}})):
        config = recipe.config.model_dump(mode="json", exclude=left_out)
        config["sheet"] = said["ticks"]
        lines = [json.dumps(config, sort_keys=True), *recipe.config.origin.loosened, *recipe._identities]
        said["origin"][name] = hashlib.sha256("\n".join(lines).encode()).hexdigest()
    (folder / "print.json").write_text(json.dumps(said))
    if with_rest:
        (folder / "studio.yaml").write_text(CONFIG + "sheet: {rest: {before: [the pressure is up]}}\n")
    ok(resume(folder, "--from-layer", 5))
    assert summary(folder)["origin"]["rest_sha256"] == recipe.for_a_rest
    ok(resume(folder, "--from-layer", 7, of="rest", name="second"))
