"""A problem is one printable line that says where, what, what was expected, and what helps."""

from hypothesis import given
from hypothesis import strategies as st

from gpost.config.problem import ConfigProblems, Problem, shown_path
from gpost.errors import ConfigError


def test_a_wrong_value_reads_as_one_sentence() -> None:
    """All parts of a problem come in a fixed order, in one line."""
    problem = Problem(
        "studio.yaml", 12, "cartridge.volume_ml", '"1,5"', "is not a number", "a number", "write a point"
    )
    assert str(problem) == (
        'studio.yaml:12: cartridge.volume_ml: "1,5" is not a number; expected a number; write a point'
    )


def test_a_problem_of_a_whole_file_has_neither_line_nor_key() -> None:
    """Parts that are not known leave no trace in the line."""
    assert str(Problem("studio.yaml", wrong="there is no such file")) == "studio.yaml: there is no such file"


def test_list_positions_are_shown_counted_from_one() -> None:
    """People count from 1."""
    assert shown_path(("steps", 1, "purge", "volume_ml")) == "steps[2].purge.volume_ml"


@given(st.text(), st.lists(st.text() | st.integers(0, 9)), st.text())
def test_a_problem_is_always_one_printable_line(file: str, path: list[str | int], key: str) -> None:
    """No file name and no key can break the line, hide text, or turn its direction."""
    assert str(Problem(file, 1, shown_path((*path, key)), wrong="unknown key")).isprintable()


def test_one_line_and_key_are_named_once() -> None:
    """Of several problems at one place only the first is told."""
    first, second = Problem("a.yaml", 1, "x", wrong="first"), Problem("a.yaml", 1, "x", wrong="second")
    assert ConfigProblems([first, second]).problems == (first,)


def test_a_flood_of_problems_is_cut() -> None:
    """After 200 lines the text says only that there are more; `problems` still has them all."""
    error = ConfigProblems(Problem("a.yaml", line, "x", wrong="unknown key") for line in range(1000))
    lines = str(error).splitlines()
    assert len(lines) == 201
    assert len(error.problems) == 1000
    assert lines[-1] == "and more; fix these first"
    assert isinstance(error, ConfigError)
