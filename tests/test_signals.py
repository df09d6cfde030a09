"""Signals wait while something is done that must not be done by half."""

from __future__ import annotations

import os
import signal
import threading

import pytest

from gpost.common.signals import STOPS, held


def test_held_signal_comes_at_the_end_of_the_block() -> None:
    """A signal that is held back arrives when the block is over, not in it and not never."""
    steps: list[str] = []
    before = signal.signal(signal.SIGUSR1, lambda *_: steps.append("signal"))
    try:
        with held(signal.SIGUSR1):
            os.kill(os.getpid(), signal.SIGUSR1)
            steps.append("block")
    finally:
        signal.signal(signal.SIGUSR1, before)
    assert steps == ["block", "signal"]


def test_every_signal_comes_once() -> None:
    """Ctrl-C pressed twice in the block comes once, after it."""
    came: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _frame: came.append(number))
    try:
        with held(*STOPS):
            os.kill(os.getpid(), signal.SIGINT)
            os.kill(os.getpid(), signal.SIGINT)
            assert came == []
    finally:
        signal.signal(signal.SIGINT, before)
    assert came == [signal.SIGINT]


def test_without_a_signal_nothing_happens() -> None:
    """The block's own exception passes on, and the handlers are as before."""
    before = [signal.getsignal(number) for number in STOPS]
    with pytest.raises(ZeroDivisionError), held(*STOPS):
        raise ZeroDivisionError
    assert [signal.getsignal(number) for number in STOPS] == before


def test_other_threads_hear_no_signals() -> None:
    """In another thread, which hears none, the block is done all the same."""
    done: list[bool] = []

    def work() -> None:
        with held(*STOPS):
            done.append(True)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join(60)
    assert done == [True]
