"""Work on many items by the workers of a Dask cluster, which see the same folders as this machine."""

from __future__ import annotations

import logging
import pickle
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from time import monotonic
from typing import Any, NamedTuple, TypeVar

from gpost.common.foreign import told_by
from gpost.common.plain import shown
from gpost.errors import ClusterError, ConfigError

T = TypeVar("T")
R = TypeVar("R")

AHEAD = 2
"""Items handed out per worker thread, so that memory stays flat on the scheduler."""
LOOK_S = 0.5
"""How often it is looked whether scheduler and workers are there."""
SAID_S = 3.0
"""After so long without a worker it is said that there is none."""
PATIENCE_S = 120.0
"""After so long without a worker the rest is given up."""
REPLY_S = 10.0
"""In which a scheduler answers, or counts as gone."""


class _Unable(NamedTuple):
    """Why a worker can't work; an answer, since an exception does not reach us from everywhere."""

    reason: str


def in_cluster(
    items: Sequence[T],
    prepare: Callable[[], Callable[[T], R]],
    address: str,
    *,
    needed: Sequence[Path] = (),
    say: Callable[[str], None] | None = None,
) -> Iterator[tuple[T, R | None]]:
    """Each item with its result, as they come; None for an item whose workers keep dying of it.

    `prepare` gives the function that does an item; it, the items and the results must be picklable. When a
    worker dies, the scheduler gives what it was doing to another one. `needed` are the paths that a worker
    must see. `say` gets a sentence when there is no worker. Ending the iteration early, Ctrl-C too, takes
    back what is not begun and waits for nothing.
    Raises ConfigError when there is no such cluster, or the packages for it are not installed; ClusterError
    when the scheduler ends, there is no worker for PATIENCE_S, or one can't work: what is done then is done.
    """
    try:
        import distributed
    except ImportError as error:
        raise ConfigError("a cluster needs more packages: pip install 'gpost[cluster]'") from error
    with _quiet():
        client = _connect(distributed.Client, address)
        try:
            yield from _results(client, _Watch(client, address, say), items, _packed(_Work(prepare, needed)))
        except (OSError, distributed.CancelledError) as error:  # a timeout is an OSError
            raise ClusterError(f"the cluster's scheduler at {address} has ended") from error
        finally:
            with suppress(OSError, RuntimeError):
                client.close(timeout=REPLY_S)


@contextmanager
def _quiet() -> Iterator[None]:
    """All that happens to a cluster is said by us, in sentences."""
    loud = [
        logger
        for name, logger in logging.root.manager.loggerDict.items()
        if name.startswith(("distributed", "tornado"))
        and isinstance(logger, logging.Logger)
        and not logger.disabled
    ]
    for logger in loud:
        logger.disabled = True
    try:
        yield
    finally:
        for logger in loud:
            logger.disabled = False


def _connect(connect: Any, address: str) -> Any:
    try:
        return connect(address, timeout=REPLY_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise ConfigError(
            f"no cluster answers at {address}; start its scheduler, or fix the address (such as tcp://10.0.0.5:8786)"
        ) from error


def _results(
    client: Any, watch: _Watch, items: Sequence[T], work: Callable[[T], Any]
) -> Iterator[tuple[T, Any]]:
    import distributed

    wait: Any = distributed.wait
    waiting = deque(items)
    running: dict[Any, T] = {}
    while waiting or running:
        most = AHEAD * max(watch.threads(), 1)
        while waiting and len(running) < most:
            item = waiting.popleft()
            running[client.submit(work, item, pure=False)] = item
        try:
            with client.as_current():
                done = wait(list(running), LOOK_S, return_when="FIRST_COMPLETED").done
        except TimeoutError:
            continue
        for future in done:
            try:
                result = _result(future)
            except TimeoutError:  # its worker died with the answer, and it is done again
                continue
            yield running.pop(future), result


def _result(future: Any) -> Any:
    """Of an item that is done; None if it has killed its workers."""
    from distributed.scheduler import KilledWorker

    if future.status != "error":
        answer = future.result(REPLY_S)
        if isinstance(answer, _Unable):
            raise ClusterError(answer.reason)
        return answer
    error = future.exception(REPLY_S)
    if isinstance(error, KilledWorker):
        return None
    raise ClusterError(_unable(error))


def _unable(error: Exception) -> str:
    return (
        f"a worker of the cluster can't do its work ({shown(told_by(error))}); install the same gpost and "
        "the same steps on all of them"
    )


class _Work:
    """What a worker does with each item."""

    def __init__(self, prepare: Callable[[], Callable[[Any], Any]], needed: Sequence[Path]) -> None:
        self._prepare, self._needed = prepare, tuple(needed)

    def __call__(self, item: Any) -> Any:
        from distributed import get_worker

        try:
            for path in self._needed:
                if not path.exists():
                    return _Unable(
                        f"the worker {get_worker().address} can't see {shown(path)}; share that folder "
                        "with it under the same path"
                    )
            return self._prepare()(item)
        except Exception as error:
            return _Unable(_unable(error))


def _packed(work: _Work) -> Callable[[Any], Any]:
    """The work, unpacked only when it is done: a worker that can't even read it would end itself."""
    packed = pickle.dumps(work)

    def do(item: Any) -> Any:  # sent by value, as it has no name of its own
        import pickle

        return pickle.loads(packed)(item)

    return do


class _Watch:
    """Looks whether the scheduler and any workers are there."""

    def __init__(self, client: Any, address: str, say: Callable[[str], None] | None) -> None:
        self._client, self._address, self._say = client, address, say
        self._seen_s = monotonic()
        self._said = False

    def threads(self) -> int:
        """Of all workers. Raises OSError if the scheduler is gone, ClusterError if there was none long."""
        if self._client.status != "running":
            raise OSError
        threads = sum(self._client.nthreads(callback_timeout=REPLY_S).values())
        if threads:
            self._seen_s, self._said = monotonic(), False
            return int(threads)
        alone_s = monotonic() - self._seen_s
        if alone_s > PATIENCE_S:
            raise ClusterError(
                f"the cluster at {self._address} had no worker for {PATIENCE_S:.0f} s; start one"
            )
        if alone_s > SAID_S and not self._said and self._say is not None:
            self._said = True
            left_s = PATIENCE_S - alone_s
            self._say(f"the cluster at {self._address} has no worker; it is given up in {left_s:.0f} s")
        return 0
