"""Takes things from an iterator ahead of their use, in a helper thread: reading goes on beside the work."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")


def ahead(items: Iterator[T], *, helper: bool) -> Iterator[T]:
    """The same things in the same order, each made in a helper thread beside the work on the one before.

    More than one ahead would only fill the memory: the helper takes less time than the caller.
    numpy lets go of the interpreter while it computes, so that blocks of some ten thousand words are read on
    a second core; without `helper`, or without such a core, they are made as they are asked for.
    What the iterator raises is raised here, after the things before it.
    """
    if not helper or _cores() < 2:
        yield from items
        return
    none = object()
    # one thread only: it does what it is given in order
    thread = ThreadPoolExecutor(1, "gpost-ahead")
    try:
        coming: Future[T | object] = thread.submit(next, items, none)
    except RuntimeError:  # the system lets no more threads start
        yield from items
        return
    try:
        while (item := coming.result()) is not none:
            coming = thread.submit(next, items, none)
            yield item  # type: ignore[misc]
            del item  # or it would be kept while the next is made
    finally:
        thread.shutdown(cancel_futures=True)


def _cores() -> int:
    """Cores that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1
