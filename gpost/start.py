"""Where the program starts and ends: it hears signals before the rest is loaded, which takes longest."""

from __future__ import annotations

import atexit
import os
import signal
import sys

from gpost.common.process import prepare_process
from gpost.common.stops import status, words

TYPE_CHECKING = False
if TYPE_CHECKING:  # typing itself takes longer to load than all of this
    from types import FrameType
    from typing import NoReturn

NAMES = ("SIGINT", "SIGTERM", "SIGHUP")


def main() -> None:
    """Run the command line."""
    ended: list[int] = []
    if not atexit._ncallbacks():  # or somebody else's come last, such as those of what watches a program
        atexit.register(_leave, ended)  # the first to be registered is the last to be done
    listen()
    prepare_process()
    from gpost.cli import main as run

    try:
        run()
    except SystemExit as end:
        if isinstance(end.code, int):
            ended.append(end.code)
        raise


def listen() -> None:
    """End the program at once, in words, at signals that tell it to end, but not at those it is to ignore.

    So it is while it starts and at its end, when there is nothing to tidy up: while a command runs they are
    heard by `gpost.cli.failures`. When all is done they change nothing any more.
    """
    numbers = [getattr(signal, name) for name in NAMES if hasattr(signal, name)]
    heeded = [number for number in numbers if signal.getsignal(number) is not signal.SIG_IGN]
    for number in heeded:
        signal.signal(number, _end)
    atexit.register(_deafen, heeded)  # after all that commands leave to be done


def _end(number: int, _frame: FrameType | None) -> NoReturn:
    try:
        os.write(2, f"Error: {words(number)}\n".encode())
    finally:
        os._exit(status(number))


def _leave(ended: list[int]) -> None:
    """End with the status of a command that has come to its end.

    Threads have ended by now, and all else that was to be done at the end is done. Python would go on to take
    every module to pieces, which takes a twelfth of a short run.
    """
    try:
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
    except (OSError, ValueError):
        return  # Python says what it says
    if ended:
        os._exit(ended[0])


def _deafen(numbers: list[int]) -> None:
    for number in numbers:
        signal.signal(number, signal.SIG_IGN)
