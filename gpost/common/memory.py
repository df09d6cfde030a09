"""Keeps the memory of one block for the next, where it can be told to, and frees that of jobs that failed."""

from __future__ import annotations

import ctypes
import gc
import sys
from functools import cache
from typing import Any

_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
"""Parameters of mallopt, from glibc's malloc.h."""

KEPT_BYTES = 64 * 1024 * 1024
OWN_PAGES_BYTES = 4 * 1024 * 1024
"""Larger than any column of a block. What is larger still gets pages of its own, so that a table of a whole
file can grow without leaving holes, and go without a trace."""


@cache
def keep_memory() -> bool:
    """Ask the allocator not to give freed memory back at once; whether it could be asked. Once is enough.

    The columns of a block are some hundred kilobytes each. Left alone, glibc returns them to the system after
    each block and fetches them again as zeroed pages for the next: 780 page faults a block were counted,
    and a third of the reader's time. One arena for all threads, so that what the helper thread frees serves
    the other: some 10 MB less in all.
    """
    mallopt = _of_the_c_library("mallopt")
    if mallopt is None:
        return False
    mallopt(_ARENA_MAX, 1)
    return bool(mallopt(_MMAP_THRESHOLD, OWN_PAGES_BYTES) and mallopt(_TRIM_THRESHOLD, KEPT_BYTES))


def give_memory_back() -> None:
    """Return what is free to the system, before something large is made that blocks had no use for."""
    trim = _of_the_c_library("malloc_trim")
    if trim is not None:
        trim(0)


def free_failed() -> None:
    """Free what a job held that has failed, when that is told, before the next begins.

    What it failed of and its survey hold each other, so that they would stay until Python looks for such
    things: 13 MB of a file of 1 MB.
    """
    gc.collect()


def _of_the_c_library(name: str) -> Any:
    """A function of glibc; None on another system."""
    if not sys.platform.startswith("linux"):
        return None
    try:
        return getattr(ctypes.CDLL(None), name)
    except (AttributeError, OSError):
        return None
