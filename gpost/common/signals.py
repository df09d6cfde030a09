"""Signals that wait while something is done that must not be done by half."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

STOPS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Signals that tell a program to end, and that it can hear."""


@contextmanager
def held(*numbers: signal.Signals) -> Iterator[None]:
    """Let these signals wait until the end of the block; in the main thread, where they are heard."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    before = {number: signal.signal(number, lambda found, _frame: came.append(found)) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        for found in dict.fromkeys(came):
            signal.raise_signal(found)
