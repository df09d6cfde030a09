"""A pattern that is compiled when it is first used answers as one that `re.compile` has made."""

from __future__ import annotations

import re

import pytest

from gpost.common.later import later

TEXTS = ("G1 X10 E2", "", "n10 g1", "; a comment")


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("flags", [0, re.IGNORECASE])
def test_answers_as_re_does(text: str, flags: int) -> None:
    """Each method gives what the library's own pattern gives, the first time and after it."""
    ours, own = later(r"(?P<code>[GN])(\d+)", flags), re.compile(r"(?P<code>[GN])(\d+)", flags)
    for _ in range(2):
        assert ours.findall(text) == own.findall(text)
        assert ours.sub(r"\2", text) == own.sub(r"\2", text)
        for found, known in ((ours.match(text), own.match(text)), (ours.search(text), own.search(text))):
            assert (found and (found.groupdict(), found.span())) == (
                known and (known.groupdict(), known.span())
            )
    assert ours.groups == own.groups


def test_nothing_is_compiled_before_it_is_asked() -> None:
    """A pattern that is wrong shows when it is used, and its text is known before."""
    wrong = later(r"(")
    assert wrong.pattern == "("
    with pytest.raises(re.error):
        wrong.match("(")


def test_asked_for_what_no_pattern_has() -> None:
    """What no pattern has, this hasn't either."""
    with pytest.raises(AttributeError, match="begins"):
        later(rb"G").begins  # type: ignore[attr-defined]  # noqa: B018
