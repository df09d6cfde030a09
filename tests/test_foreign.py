"""Code of others ends neither the program nor its output."""

from __future__ import annotations

import asyncio
import signal
import threading
from collections.abc import Iterator
from types import FrameType
from typing import NoReturn

import pytest

from gpost.common.foreign import Unruly, foreign, told_by
from gpost.common.signals import STOPS


class Told(BaseException):
    """What a handler of ours raises."""


@pytest.fixture
def handlers() -> Iterator[None]:
    """Handlers that raise Told, for all signals that tell a program to end."""

    def stop(_number: int, _frame: FrameType | None) -> NoReturn:
        raise Told

    before = {number: signal.signal(number, stop) for number in STOPS}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.mark.parametrize("error", [ValueError, StopIteration, MemoryError, RecursionError, AssertionError])
def test_exceptions_come_out_as_they_are(error: type[Exception]) -> None:
    """They are what code may raise."""
    with pytest.raises(error), foreign():
        raise error("no clay")


@pytest.mark.parametrize(
    "error", [KeyboardInterrupt, SystemExit, GeneratorExit, asyncio.CancelledError, Told]
)
@pytest.mark.parametrize("in_thread", [False, True])
def test_what_else_is_raised_becomes_an_exception(error: type[BaseException], in_thread: bool) -> None:
    """In the main thread and in others; its cause is kept."""
    found: list[BaseException | None] = []

    def run() -> None:
        try:
            with foreign():
                raise error("no clay")
        except Unruly as unruly:
            found.append(unruly.__cause__)
            assert told_by(unruly) == f"{error.__name__}: no clay"

    if in_thread:
        thread = threading.Thread(target=run)
        thread.start()
        thread.join()
    else:
        run()
    assert [type(cause) for cause in found] == [error]


@pytest.mark.parametrize("number", STOPS)
@pytest.mark.parametrize("after", ["lets it pass", "goes on", "raises something else", "exits"])
def test_a_signal_stops_it_whatever_it_does(handlers: None, number: signal.Signals, after: str) -> None:
    """What the handler raised comes out, and the handlers are as before."""
    before = [signal.getsignal(number) for number in STOPS]

    def code() -> None:
        try:
            signal.raise_signal(number)
        except BaseException as error:
            if after == "lets it pass":
                raise
            if after == "raises something else":
                raise ValueError("no clay") from error
            if after == "exits":
                raise SystemExit(0) from error

    with pytest.raises(Told), foreign():
        code()
    assert [signal.getsignal(number) for number in STOPS] == before


@pytest.mark.parametrize("heard", [False, True])
def test_a_signal_before_the_block_begins_stops_it_without_a_word(handlers: None, heard: bool) -> None:
    """Python does away with what has been entered and never begun: that says nothing, and the handlers are as before."""
    before = [signal.getsignal(number) for number in STOPS]
    entered = foreign()
    entered.__enter__()
    if heard:
        with pytest.raises(Told):
            signal.raise_signal(signal.SIGTERM)
    del entered  # what is raised here pytest counts as an error
    assert [signal.getsignal(number) for number in STOPS] == before


def test_handlers_that_it_puts_in_are_taken_out(handlers: None) -> None:
    """Signals are gpost's affair again when it is done."""
    before = signal.getsignal(signal.SIGTERM)
    with foreign():
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
    assert signal.getsignal(signal.SIGTERM) is before


def test_what_it_prints_goes_to_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    """And what is printed afterwards to standard output."""
    with foreign():
        print("G28")
    print("done")
    assert capsys.readouterr() == ("done\n", "G28\n")


class Wordless(Exception):
    """An error that can't say what it is."""

    def __str__(self) -> str:
        raise SystemExit(0)


def test_what_an_error_says_is_short_and_safe() -> None:
    """Its kind, and no more than 500 characters; nothing where even its words fail."""
    assert told_by(ValueError()) == "ValueError"
    assert told_by(Wordless()) == "Wordless"
    assert told_by(ValueError("x" * 1000)) == "ValueError: " + "x" * 500
