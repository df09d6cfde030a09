"""Work on many items by the workers of a Dask cluster, which see the same folders as this machine."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from typing import Any, TypeVar

from gpost.errors import ConfigError

T = TypeVar("T")
R = TypeVar("R")

AHEAD = 2
"""Items handed out per worker thread, so that memory stays flat on the scheduler."""
LOSSES = 3
"""Workers that an item may lose before it counts as their cause."""


def in_cluster(
    items: Sequence[T], prepare: Callable[[], Callable[[T], R]], address: str
) -> Iterator[tuple[T, R | None]]:
    """Each item with its result, as they come; None for an item whose workers keep dying of it.

    `prepare` gives the function that does an item; it, the items and the results must be picklable. When a
    worker dies, the scheduler gives what it was doing to another one. Ending the iteration early, Ctrl-C
    too, takes back what isn't begun.
    Raises ConfigError when there is no such cluster, or the packages for it aren't installed.
    """
    client = _connect(address)
    try:
        yield from _results(client, items, prepare)
    finally:
        client.close(timeout=10)


def _connect(address: str) -> Any:
    try:
        import distributed
    except ImportError as error:
        raise ConfigError("a cluster needs more packages: pip install 'gpost[cluster]'") from error
    connect: Any = distributed.Client
    try:
        return connect(address, timeout="10s", set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise ConfigError(
            f"no cluster answers at {address}; start its scheduler, or mend the address (such as tcp://10.0.0.5:8786)"
        ) from error


def _results(
    client: Any, items: Sequence[T], prepare: Callable[[], Callable[[T], R]]
) -> Iterator[tuple[T, R | None]]:
    from distributed.scheduler import KilledWorker

    waiting = deque(items)
    running: dict[Future[R], T] = {}
    most = AHEAD * max(sum(client.nthreads().values()), 1)
    with client.get_executor(pure=False, retries=LOSSES) as pool:
        while waiting or running:
            while waiting and len(running) < most:
                item = waiting.popleft()
                running[pool.submit(_do, prepare, item)] = item
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                item = running.pop(future)
                died = isinstance(future.exception(), KilledWorker)
                yield item, None if died else future.result()


def _do(prepare: Callable[[], Callable[[T], R]], item: T) -> R:
    return prepare()(item)
