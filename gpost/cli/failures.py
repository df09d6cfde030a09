"""The one place that turns what goes wrong into a sentence on standard error and an exit status."""

from __future__ import annotations

import errno
import os
import re
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, NoReturn

import click

from gpost.cli.terminal import width
from gpost.common.plain import shown
from gpost.common.signals import STOPS
from gpost.common.stops import status, words
from gpost.errors import GpostError

INTERRUPTED = status(signal.SIGINT)
BROKEN_PIPE = 128 + 13
"""As a shell reports a program that SIGPIPE (13) has ended."""
_EXTRA = re.compile(r"unexpected extra arguments? \((.*)\)")
MOST_WORDS = 8
"""In which a name is looked for that was typed without quotes."""


AGAIN_S = 0.01
"""After so long a signal comes once more that Python has dropped."""


class Stopped(BaseException):
    """The system told the program to end; like Ctrl-C it passes every `except Exception`."""


@contextmanager
def told(typed: Sequence[str] = (), *, trace: bool) -> Iterator[None]:
    """End the program with a sentence, never with a traceback unless `trace` asks for one.

    `typed`: the words of the command line.
    """
    came: list[int] = []
    try:
        with _signals(came):
            yield
            if sys.stdout is not None:  # closed by whoever started the program
                sys.stdout.flush()
    except (click.exceptions.Exit, SystemExit):
        raise
    except BaseException as error:
        if came:  # whatever has become of what was raised then
            _end(words(came[0]), status(came[0]), trace=trace)
        _tell(error, typed, trace=trace)


def _tell(error: BaseException, typed: Sequence[str], *, trace: bool) -> NoReturn:
    """The sentence and the status for what went wrong."""
    match error:
        case click.UsageError():
            _show(error, typed)
        case GpostError():
            _end(str(error), error.exit_status, trace=trace)
        case BrokenPipeError():
            _drop_stdout()
            raise click.exceptions.Exit(BROKEN_PIPE) from None
        case KeyboardInterrupt():
            _end(words(signal.SIGINT), INTERRUPTED, trace=trace)
        case OSError():
            _end(f"{error.filename or _unnamed(error)}: {error.strerror or error}", 1, trace=trace)
        case MemoryError():
            _end("there is not enough memory; close other programs and try again", 1, trace=trace)
        case Exception():
            _end(_fault(error), 1, trace=trace)
        case _:
            raise error


def _show(error: click.UsageError, typed: Sequence[str]) -> NoReturn:
    """How the command is used, and what is wrong."""
    if isinstance(error, click.NoSuchOption) and "--in-place" in (error.possibilities or ()):
        # no slip of the pen may lead to the sliced file's loss
        others = [name for name in error.possibilities or () if name != "--in-place"]
        error = click.NoSuchOption(error.option_name, possibilities=others, ctx=error.ctx)
    else:
        text = shown(error.format_message() + _quotes_hint(error, typed), keep_newlines=True)
        if text != error.format_message():
            error = click.UsageError(text, error.ctx)
    said = _lines(f"Error: {error.format_message()}").removeprefix("Error: ")
    if said != error.format_message():
        error = click.UsageError(said, error.ctx)
    with suppress(OSError):  # standard error may be full, too
        error.show()
    raise click.exceptions.Exit(error.exit_code) from None


def _quotes_hint(error: click.UsageError, typed: Sequence[str]) -> str:
    """What to do about a name with a blank in it, which the shell has taken for two words; or nothing."""
    ends = range(2, len(typed) + 1)
    named = (" ".join(typed[first:end]) for end in ends for first in range(max(end - MOST_WORDS, 0), end - 1))
    found = next((name for name in named if os.path.exists(name)), None)
    if found is not None:
        return f'\nA name with a blank in it must stand in quotes: "{found}"'
    extra = _EXTRA.search(error.format_message())
    if extra is None or all(os.path.exists(word) for word in extra[1].split()):
        return ""
    return "\nA name with a blank in it must stand in quotes"


def _fault(error: Exception) -> str:
    return (
        f"this is a fault of gpost, not yours ({type(error).__name__}: {error}); nothing was written. "
        "Please report it with what `gpost --trace ...` shows for the same command"
    )


def _end(text: str, status: int, *, trace: bool) -> NoReturn:
    text = shown(text, keep_newlines=True)
    with suppress(OSError):
        if trace:
            import traceback  # for 1.5 ms of each run

            click.echo(shown(traceback.format_exc(), keep_newlines=True), err=True)
        click.echo(_lines(f"Error:{chr(10) if chr(10) in text else ' '}{text}"), err=True)
    raise click.exceptions.Exit(status)


def _lines(text: str) -> str:
    """A message in lines that fit standard error, if that is a terminal."""
    columns = width(err=True)
    if columns is None:
        return text
    from gpost.common.layout import laid_out, of_message

    return laid_out(of_message(text), columns).removesuffix("\n")


def _drop_stdout() -> None:
    """Nobody reads any more: keep the interpreter from trying to flush once again at its end."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        return


def _unnamed(error: OSError) -> str:
    """What an error is about that names no file: files of ours name themselves where a disk is full."""
    return "standard output can't be written" if error.errno == errno.ENOSPC else "the system"


@contextmanager
def _signals(came: list[int]) -> Iterator[None]:
    """While the command runs, what tells the program to end is raised in it, so that everything is tidied up.

    `came` takes the numbers of the signals that come.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(number: int, _frame: FrameType | None) -> NoReturn:
        came.append(number)
        raise KeyboardInterrupt if number == signal.SIGINT else Stopped

    def dropped(found: Any) -> None:
        """Where an object is destroyed Python drops whatever is raised."""
        if isinstance(found.exc_value, KeyboardInterrupt | Stopped):
            threading.Timer(AGAIN_S, os.kill, (os.getpid(), came[-1])).start()
        else:
            sys.__unraisablehook__(found)

    heeded = [number for number in STOPS if signal.getsignal(number) is not signal.SIG_IGN]
    before, sys.unraisablehook = sys.unraisablehook, dropped
    handlers = {number: signal.signal(number, stop) for number in heeded}
    try:
        yield
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
        sys.unraisablehook = before
