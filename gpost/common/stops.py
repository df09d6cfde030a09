"""What is said when the program is told to stop, and the status that it ends with."""

from __future__ import annotations

import signal

STOPPED = "stopped; no half-written file is left behind"
TOLD_TO_STOP = "told to stop; no half-written file is left behind"


def words(number: int) -> str:
    """What is said at a signal."""
    return STOPPED if number == signal.SIGINT else TOLD_TO_STOP


def status(number: int) -> int:
    """The exit status at a signal, as a shell gives it."""
    return 128 + number
