"""Runs code that is anybody's, such as a step: what it raises or prints ends neither gpost nor its output."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout, suppress
from types import FrameType

from gpost.common.signals import STOPS

MOST_CHARS = 500
"""Of what an exception says of itself."""


class Unruly(Exception):
    """Code of others raised what ends a program, a generator or a task, which is not for it to end.

    Its cause is what was raised.
    """


@contextmanager
def foreign() -> Iterator[None]:
    """Run code of others in this block, out of which come Exceptions alone.

    What else it raises, such as SystemExit or KeyboardInterrupt, becomes Unruly. But where a signal told
    gpost to stop, that stops it, even if the code has caught it. What the code prints goes to standard error:
    standard output may be the file to print. If it goes to another folder, gpost does not: names of files are
    meant from where it was started.
    """
    with _same_folder(), _stops() as stops:
        try:
            yield
        except BaseException as error:
            if _closed(error):
                raise  # a signal came before the block began, and goes its way
            if stops:
                raise stops[0] from None
            if isinstance(error, Exception):
                raise
            raise Unruly from error
    if stops:
        raise stops[0]


def _closed(error: BaseException) -> bool:
    """Whether a generator that waits is done away with: what a block raises has come from somewhere."""
    at = error.__traceback__
    return isinstance(error, GeneratorExit) and (at is None or at.tb_next is None)


def told_by(error: BaseException) -> str:
    """The kind of an exception and what it says of itself."""
    if isinstance(error, Unruly) and error.__cause__ is not None:
        error = error.__cause__
    try:
        with foreign():  # its words are anybody's code, too
            text = str(error)[:MOST_CHARS]
    except Exception:
        text = ""
    return type(error).__name__ + (f": {text}" if text else "")


@contextmanager
def _same_folder() -> Iterator[None]:
    """Come back to the current folder, if there is one."""
    try:
        here = os.getcwd()
    except OSError:
        here = None
    try:
        yield
    finally:
        if here is not None:
            with suppress(OSError):
                os.chdir(here)


@contextmanager
def _stops() -> Iterator[list[BaseException]]:
    """Note what is raised at a signal; in the main thread, where signals are heard and streams are ours."""
    stops: list[BaseException] = []
    if threading.current_thread() is not threading.main_thread():
        yield stops
        return
    found = {number: signal.getsignal(number) for number in STOPS}
    before = {number: handler for number, handler in found.items() if callable(handler)}

    def hear(number: int, frame: FrameType | None) -> None:
        try:
            before[signal.Signals(number)](number, frame)
        except BaseException as stop:
            stops.append(stop)
            raise

    try:
        for number in before:
            signal.signal(number, hear)
        with redirect_stdout(sys.stderr):
            yield stops
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
