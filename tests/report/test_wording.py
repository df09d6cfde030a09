"""What several files are warned of, told together."""

from __future__ import annotations

from gpost.report.wording import Warned, warned


def test_each_file_with_its_own_and_how_many_more() -> None:
    """In the order of the files; where the others stand is said."""
    rows = [Warned("a", ["hot", "fast"], 4, "in a.txt"), Warned("b", [], 0, ""), Warned("c", ["odd"], 1, "")]
    assert list(warned(rows)) == ["a: hot", "a: fast", "a: and 2 more, in a.txt", "c: odd"]


def test_what_is_true_of_several_files_is_said_once() -> None:
    """With the names of the first three, and how many others; where the first of them stands."""
    rows = [Warned(name, [f"only {name}", "all"], 2, "") for name in "abcde"]
    told = list(warned(rows))
    assert told[:3] == ["a: only a", "a, b, c and 2 others: all", "b: only b"]
    assert len(told) == 6


def test_nothing_steers_a_terminal() -> None:
    """Neither a name nor a sentence."""
    rows = [Warned("a\x1b[2J", ["b\x1b[2J"], 3, "")]
    assert "\x1b" not in "".join(warned(rows))
