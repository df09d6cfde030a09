"""Things are made one ahead of their use, and nothing of it stays: no thread, no error's frames."""

from __future__ import annotations

import gc
import threading
import weakref
from collections.abc import Iterator

import pytest

from gpost.read.ahead import ahead


class Thing:
    """Something that can be watched."""


@pytest.fixture(autouse=True)
def _cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("gpost.read.ahead._cores", lambda: 2)


def _threads() -> list[str]:
    return [thread.name for thread in threading.enumerate() if thread.name == "gpost-ahead"]


def test_one_ahead_and_no_more() -> None:
    """While one is used the next is made, and the one after that is not begun."""
    made: list[int] = []
    second = threading.Event()

    def items() -> Iterator[int]:
        for number in range(4):
            made.append(number)
            if number:
                second.set()
            yield number

    coming = ahead(items(), helper=True)
    assert next(coming) == 0
    assert second.wait(10)
    assert made == [0, 1]
    assert list(coming) == [1, 2, 3]
    assert _threads() == []


def test_what_is_raised_comes_after_the_things_before_it() -> None:
    """An error of the iterator is raised here, behind the things that it had made."""

    def items() -> Iterator[int]:
        yield 1
        raise OSError("the card was pulled out")

    coming = ahead(items(), helper=True)
    assert next(coming) == 1
    with pytest.raises(OSError, match="pulled out"):
        next(coming)
    assert _threads() == []


def test_left_early() -> None:
    """Who asks for no more leaves no thread behind, and what was made in vain is let go."""
    things = [Thing() for _ in range(3)]
    watched = [weakref.ref(thing) for thing in things]
    coming = ahead(iter(things), helper=True)
    next(coming)
    coming.close()  # type: ignore[attr-defined]
    assert _threads() == []
    del things, coming
    assert [thing() for thing in watched] == [None] * 3


def test_an_error_holds_nothing() -> None:
    """Once it is told, an error's frames are let go without a look for garbage: they hold a whole survey."""
    watched = []

    def items() -> Iterator[int]:
        held = Thing()
        watched.append(weakref.ref(held))
        yield 1
        raise OSError("the card was pulled out")

    gc.disable()
    try:
        with pytest.raises(OSError, match="pulled out") as told:
            list(ahead(items(), helper=True))
        del told
        assert watched[0]() is None
    finally:
        gc.enable()
