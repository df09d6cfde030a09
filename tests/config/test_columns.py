"""Problems of a config point at the very word: line, column, and a caret where a line has several."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.load import load_text
from gpost.config.problem import ConfigProblems, FilePlace, Problem
from gpost.config.yamltree import read_tree


def problems(text: str) -> ConfigProblems:
    """What is wrong with a config."""
    with pytest.raises(ConfigProblems) as caught:
        load_text("f.yaml", text)
    return caught.value


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("machine: {bed: {x_max_mm: far}}", "far"),
        ("machine:\n  celing_mm: 3", "celing_mm"),
        ("clay:\n  water_percent: 200", "200"),
        ("machine:\n  pause:\n    commands: [M0, '']", "''"),
        ("steps:\n  - fan\n  - [cold]", "[cold]"),
        ("clay: {colour: !!binary white}", "!!binary"),
        ("clay:\n  colour: a\n  colour: b", "colour: b"),
        ("machine: {ceiling_mm: 1,75}", "75"),
        ("machine: @", "@"),
        ("machine: {pause: {wipe_mm: 3}, park: {x_mm: 3, y_mm: no}}", "no}"),
        ("schön: 3", "schön"),
        ("{größe: {}, clay: {colour: *a}}", "*a"),
    ],
)
def test_the_column_is_that_of_the_word(text: str, word: str) -> None:
    """Counted from 1, in letters: what stands there in the file is the word that is meant."""
    wrong = [p for p in problems(text).problems if p.line and p.column]
    assert any(text.splitlines()[p.line - 1][p.column - 1 :].startswith(word) for p in wrong), wrong


def test_a_caret_stands_under_the_word() -> None:
    """Where a line holds several keys, the line is shown with a caret; a line with one key speaks for itself."""
    said = str(problems("machine:\n  bed: {x_min_mm: 0, x_max_mm: far}\n  celing_mm: 3\n"))
    assert said == (
        'f.yaml:2:32: machine.bed.x_max_mm: "far" is not a number; expected a number\n'
        "    bed: {x_min_mm: 0, x_max_mm: far}\n"
        "                                 ^\n"
        "f.yaml:3:3: machine.celing_mm: unknown key; did you mean ceiling_mm?"
    )


@pytest.mark.parametrize("breaks", ["\n", "\r\n", "\r", "\x85", "\u2028"])
def test_lines_end_as_yaml_says(breaks: str) -> None:
    """The line that is shown is the one that is meant, whichever way lines end (YAML 1.1, 4.2)."""
    text = breaks.join(("clay:", "  colour: white", "machine: {ceiling_mm: high}"))
    (problem,) = problems(text).problems
    assert (problem.line, problem.text) == (3, "machine: {ceiling_mm: high}")


def test_a_long_line_is_cut_and_the_caret_still_stands_right() -> None:
    """Of a line that is too long for a message the part with the word is shown."""
    text = "machine: {pause: {commands: [" + ", ".join(["M0"] * 18) + "]}, ceiling_mm: high, nozzle_mm: 4}"
    shown, caret = str(problems(text)).splitlines()[-2:]
    assert len(shown) <= 94
    assert shown[caret.index("^") :].startswith("high")


def test_letters_that_are_wide_or_can_t_be_shown_move_the_caret() -> None:
    """The caret stands under the word on a terminal: a wide letter takes two places, an escape all of its own."""
    wide = Problem.at(FilePlace("f", 1, 9, "{青い: 2, x: 1}")).pointed.splitlines()
    assert wide[1].index("^") == 4 + 8 + 2
    hidden = Problem.at(FilePlace("f", 1, 9, "{a\u202e: 2, x: 1}")).pointed.splitlines()
    assert hidden[0][hidden[1].index("^")] == "x"


LETTERS = "ab:,{}[]- '\"#&*!\n\t1.é\u2028\r青"


@given(st.text(LETTERS, max_size=60))
def test_every_place_is_in_the_text(text: str) -> None:
    """Whatever the text: a problem's line and column lie in it, or right behind its end."""
    found: list[Problem] = []
    read_tree("f.yaml", text, found)
    for problem in found:
        assert problem.line is not None
        if problem.column is not None:
            assert 1 <= problem.column <= len(problem.text) + 1
        assert "\n" not in str(problem)
        assert problem.pointed == "" or problem.pointed.count("\n") == 1
