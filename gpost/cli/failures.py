"""The one place that turns what goes wrong into a sentence on standard error and an exit status."""

from __future__ import annotations

import os
import re
import signal
import sys
import threading
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from types import FrameType
from typing import NoReturn

import click

from gpost.errors import GpostError
from gpost.plain import shown

INTERRUPTED = 128 + signal.SIGINT
BROKEN_PIPE = 128 + 13
"""As a shell reports a program that SIGPIPE (13) has ended."""
_EXTRA = re.compile(r"unexpected extra arguments? \((.*)\)")
MOST_WORDS = 8
"""In which a name is looked for that was typed without quotes."""


class Stopped(BaseException):
    """The system told the program to end; like Ctrl-C it passes every `except Exception`."""

    def __init__(self, number: int) -> None:
        self.exit_status = 128 + number
        super().__init__(number)


@contextmanager
def told(typed: Sequence[str] = (), *, trace: bool) -> Iterator[None]:
    """End the program with a sentence, never with a traceback unless `trace` asks for one.

    `typed`: the words of the command line.
    """
    try:
        with _signals():
            yield
            if sys.stdout is not None:  # closed by whoever started the program
                sys.stdout.flush()
    except click.UsageError as error:
        if isinstance(error, click.NoSuchOption) and "--in-place" in (error.possibilities or ()):
            # no slip of the pen may lead to the sliced file's loss
            others = [name for name in error.possibilities or () if name != "--in-place"]
            raise click.NoSuchOption(error.option_name, possibilities=others, ctx=error.ctx) from None
        text = shown(error.format_message() + _quotes_hint(error, typed), keep_newlines=True)
        if text == error.format_message():
            raise
        raise click.UsageError(text, error.ctx) from None
    except GpostError as error:
        _end(str(error), error.exit_status, trace=trace)
    except BrokenPipeError:
        _drop_stdout()
        raise click.exceptions.Exit(BROKEN_PIPE) from None
    except KeyboardInterrupt:
        _end("stopped; no half-written file is left behind", INTERRUPTED, trace=trace)
    except Stopped as stop:
        _end("told to stop; no half-written file is left behind", stop.exit_status, trace=trace)
    except OSError as error:
        _end(f"{error.filename or 'the system'}: {error.strerror or error}", 1, trace=trace)
    except MemoryError:
        _end("there is not enough memory; close other programs and try again", 1, trace=trace)
    except click.exceptions.Exit:
        raise
    except Exception as error:
        _end(_fault(error), 1, trace=trace)


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
    if trace:
        click.echo(shown(traceback.format_exc(), keep_newlines=True), err=True)
    text = shown(text, keep_newlines=True)
    click.echo(f"Error:{chr(10) if chr(10) in text else ' '}{text}", err=True)
    raise click.exceptions.Exit(status)


def _drop_stdout() -> None:
    """Nobody reads any more: keep the interpreter from trying to flush once again at its end."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        return


@contextmanager
def _signals() -> Iterator[None]:
    """While the command runs, SIGTERM and SIGHUP raise Stopped, so that everything is tidied up."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    numbers = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    heeded = [number for number in numbers if signal.getsignal(number) is not signal.SIG_IGN]
    before = {number: signal.signal(number, _stop) for number in heeded}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _stop(number: int, _frame: FrameType | None) -> NoReturn:
    raise Stopped(number)
