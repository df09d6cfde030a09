"""Takes things from an iterator ahead of their use, in a helper thread: reading goes on beside the work."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from queue import SimpleQueue
from typing import NamedTuple, TypeVar

T = TypeVar("T")


class _Made(NamedTuple):
    """What asking an iterator for its next came to."""

    item: object
    raised: BaseException | None = None
    """StopIteration: there is none."""


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
    # a thread and its queues alone: what the standard library has for it loads a log, 1 % of a short run
    more: SimpleQueue[bool] = SimpleQueue()
    made: SimpleQueue[_Made] = SimpleQueue()
    thread = threading.Thread(target=_make, args=(items, more, made), name="gpost-ahead", daemon=True)
    try:
        thread.start()
    except RuntimeError:  # the system lets no more threads start
        yield from items
        return
    try:
        more.put(True)
        while (item := _taken(made.get())) is not _NONE:
            more.put(True)
            yield item  # type: ignore[misc]
            del item  # or it would be kept while the next is made
    finally:
        more.put(False)
        thread.join()


_NONE = object()


def _make(items: Iterator[T], more: SimpleQueue[bool], made: SimpleQueue[_Made]) -> None:
    while more.get():
        try:
            made.put(_Made(next(items)))
        except BaseException as error:  # raised where it is asked for
            made.put(_Made(None, error))


def _taken(made: _Made) -> object:
    """Its item, _NONE where there is none; raises what was raised."""
    if made.raised is None:
        return made.item
    if isinstance(made.raised, StopIteration):
        return _NONE
    try:
        raise made.raised
    finally:
        del made  # it would hold the frames that hold it until Python looks for garbage


def _cores() -> int:
    """Cores that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1
