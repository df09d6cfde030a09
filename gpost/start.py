"""Where the program starts: it hears signals before the rest of it is loaded, which takes longest."""

from __future__ import annotations

import atexit
import os
import signal

from gpost.common.stops import status, words

TYPE_CHECKING = False
if TYPE_CHECKING:  # typing itself takes longer to load than all of this
    from types import FrameType
    from typing import NoReturn

NAMES = ("SIGINT", "SIGTERM", "SIGHUP")


def main() -> None:
    """Run the command line."""
    listen()
    from gpost.cli import main as run

    run()


def listen() -> None:
    """End the program at once, in words, at signals that tell it to end, but not at those it is to ignore.

    So it is while it starts and at its end, when there is nothing to tidy up: while a command runs they are
    heard by `gpost.cli.failures`. When all is done they change nothing any more.
    """
    numbers = [getattr(signal, name) for name in NAMES if hasattr(signal, name)]
    heeded = [number for number in numbers if signal.getsignal(number) is not signal.SIG_IGN]
    for number in heeded:
        signal.signal(number, _end)
    atexit.register(_deafen, heeded)  # the first to be registered, it is the last to be done


def _end(number: int, _frame: FrameType | None) -> NoReturn:
    try:
        os.write(2, f"Error: {words(number)}\n".encode())
    finally:
        os._exit(status(number))


def _deafen(numbers: list[int]) -> None:
    for number in numbers:
        signal.signal(number, signal.SIG_IGN)
