"""A list that a later config replaces is told, with both places; what is lost by it is a warning."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gpost.demo.gcode import Piece
from gpost.pipeline import check_file
from gpost.steps.recipe import read_recipe
from tests.config_files import load_files
from tests.sliced import write_piece

STUDIO = "machine:\n  ceiling_mm: 300\nsteps: [cold, purge, tally]\nclays: [{name: white}, {name: blue}]\n"
PIECE = "steps:\n  - cold\n  - purge: {volume_ml: 20}\n  - swap: {at_height_mm: 20, colour: blue}\n  - tally\n"


def replaced(*texts: str) -> list[tuple[str, bool]]:
    """Of the files of these texts, a.yaml, b.yaml and so on."""
    files = {f"{name}.yaml": text for name, text in zip("abcd", texts, strict=False)}
    found = load_files(files).config.origin.replaced
    return [(one.text, one.loses) for one in found]


def test_what_is_left_out_is_named() -> None:
    """The studio's config behind the piece's takes its swap away."""
    assert replaced(PIECE, STUDIO) == [
        (
            "steps: the list in line 3 of b.yaml stands in place of the one in line 1 of a.yaml: swap is left out. If "
            "that is not meant, write all of steps into b.yaml, or, if that is the studio's, name it first (-c)",
            True,
        )
    ]


def test_in_the_right_order_nothing_is_lost() -> None:
    """It is told all the same."""
    said = "steps: the list in line 1 of b.yaml stands in place of the one in line 3 of a.yaml"
    assert replaced(STUDIO, PIECE) == [(said, False)]


@pytest.mark.parametrize(
    ("first", "later", "words"),
    [
        ("steps: [cold, tally]", "steps: []", "cold and tally are left out"),
        ("steps: [cold, tally]", "steps:", "cold and tally are left out"),
        ("steps: [cold, remind: {text: a}, remind: {text: b}]", "steps: [cold, remind: {text: b}]", "remind is left out"),
        ("clays: [{name: white}, {name: blue}]", "clays: [{name: white}]", "clays: the list in line 1 of b.yaml .*: blue is left out"),
        ("machine: {air: {on: M106}, pause: {commands: [M0]}}", "machine: {pause: {commands: [M1]}}", "machine.pause.commands: the list in line 1 of b.yaml"),
    ],
)  # fmt: skip
def test_lists_of_each_kind(first: str, later: str, words: str) -> None:
    """Emptied ones, one of two steps of a name, clays, and lists without names, of which nothing is said to be lost."""

    [(text, loses)] = replaced(first, later)
    assert re.search(words, text)
    assert loses == ("left out" in text)


@pytest.mark.parametrize(
    ("first", "later"),
    [
        (STUDIO, STUDIO),
        (STUDIO, "machine: {ceiling_mm: 200}"),
        ("steps: []", PIECE),
        ("machine: {ceiling_mm: 300}", PIECE),
        (STUDIO, ""),
    ],
)
def test_the_same_list_or_none(first: str, later: str) -> None:
    """Nothing is said where nothing is replaced."""
    assert replaced(first, later) == []


def test_of_three_files_each_is_told() -> None:
    """Against what the ones before it come to."""
    found = replaced("steps: [cold, tally]", "machine: {ceiling_mm: 300}", "steps: [tally]", "steps: [cold]")
    assert [text.split(": ")[2].split(".")[0] for text, _ in found] == ["cold is left out", "tally is left out"]
    assert ["a.yaml" in text for text, _ in found] == [True, False]


def test_it_is_a_finding_of_the_job(tmp_path: Path) -> None:
    """A warning where something is lost, else a note."""
    pot = tmp_path / "pot.gcode"
    write_piece(pot, Piece(height_mm=40, radius_mm=25, segments=36, base_layers=1))
    for name, text in (("studio", STUDIO), ("piece", PIECE)):
        (tmp_path / f"{name}.yaml").write_text(text)
    for order, severity in ((("piece", "studio"), "warning"), (("studio", "piece"), "note")):
        recipe = read_recipe([tmp_path / f"{name}.yaml" for name in order])
        found = [one for one in check_file(pot, recipe.config, recipe.steps) if one.name == "replaced"]
        assert [one.severity for one in found] == [severity]
