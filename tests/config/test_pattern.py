"""A pattern for lines: what is one, and where it fits."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.load import load_text
from gpost.config.pattern import line_pattern, matching_lines
from gpost.config.problem import ConfigProblems

FILE = "; ring 1\nG1 X1 ; ring\n;ring 22 ring\r\n; no\n; čring 3".encode()


@pytest.mark.parametrize(
    ("pattern", "starts"),
    [
        ("ring", [b"ring 1", b"ring\n;", b"ring 22", b"ring 3"]),
        ("^;", [b"; ring 1", b";ring", b"; no", b"; \xc4"]),
        (r"^; *ring \d+$", [b"; ring 1"]),
        (r"ring \d\d", [b"ring 22"]),
        ("1|2", [b"1\n", b"1 X1", b"22"]),
        ("č", ["č".encode()]),
        (r"\d\s+G1", []),
        (r"\n", []),
        (r"[^x]+3", ["; čring".encode()]),
    ],
)
def test_where_it_fits(pattern: str, starts: list[bytes]) -> None:
    """It is found once a line at most, at its first place; `^` and `$` are a line's ends, and no line end fits."""
    places = list(matching_lines(line_pattern(pattern), FILE))
    assert [FILE[place:].startswith(start) for place, start in zip(places, starts, strict=True)] == [
        True
    ] * len(starts)


@given(st.binary(max_size=60), st.integers(0, 60))
def test_where_the_file_is_cut_does_not_matter(data: bytes, place: int) -> None:
    """In parts of whole lines the same lines are found."""
    cut = data.find(b"\n", place) + 1
    whole = list(matching_lines("[a-m].|^.?;", data))
    parts = [
        *matching_lines("[a-m].|^.?;", data[:cut]),
        *(cut + at for at in matching_lines("[a-m].|^.?;", data[cut:])),
    ]
    assert whole == parts


@pytest.mark.parametrize("pattern", ["(", "a)|(b", "[", r"\1", "(?=a)", "(?<=a)b", "a**", "a{2000}", ""])
def test_what_is_no_pattern(pattern: str) -> None:
    """What can't be used, or fits everything, is refused with a reason."""
    with pytest.raises(ValueError, match="pattern"):
        line_pattern(pattern)


def test_without_the_library_no_pattern_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is refused with what to do, and nothing slower matches in its place: also a pattern that would take for ever."""
    monkeypatch.setitem(sys.modules, "re2", None)
    for pattern in ("ring", "(a+)+$"):
        with pytest.raises(ConfigProblems, match=r"comment_pattern: .* a pattern takes .* gpost\[pattern\]"):
            load_text("studio.yaml", f"layers: {{comment_pattern: '{pattern}'}}\n")


def test_no_pattern_takes_long() -> None:
    """One that doubles its time with each letter elsewhere is through a line of 20,000 at once: it can't end otherwise."""
    line = b"a" * 20_000 + b"!\n"
    assert list(matching_lines(line_pattern("^(a+)+$"), line)) == []


def test_the_library_is_an_extra() -> None:
    """gpost can be installed where it can't."""
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text("utf-8"))["project"]
    assert not any("re2" in name for name in project["dependencies"])
    assert any("google-re2" in name for name in project["optional-dependencies"]["pattern"])
