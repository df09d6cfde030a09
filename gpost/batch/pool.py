"""Work on many items side by side in processes, which ends cleanly when it is interrupted or one dies."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from types import FrameType
from typing import Any, NoReturn, TypeVar

from gpost.common.process import prepare_process

T = TypeVar("T")
R = TypeVar("R")

AHEAD = 2
"""Items handed out per process: one under way, one waiting, so that memory stays flat."""
SAFE_PATH = "PYTHONSAFEPATH"
"""Python's own variable. Without it a new process looks for its modules in the present folder first."""


def in_processes(
    items: Sequence[T], prepare: Callable[[], Callable[[T], R]], processes: int
) -> Iterator[tuple[T, R | None]]:
    """Each item with its result, as they come; None for an item whose process died of it.

    `prepare` is called once in each process and gives the function that does an item; it must be
    picklable, as items and results are. When a process dies, what may have killed it is done again, one
    item at a time, so an item may be done twice. Whatever ends the iteration early, Ctrl-C too, tells the
    processes to stop and waits until they have tidied up.
    """
    waiting = deque(items)
    while waiting:
        for suspect in (yield from _pooled(waiting, prepare, processes)):
            if (yield from _pooled(deque([suspect]), prepare, 1)):
                yield suspect, None


def _pooled(
    waiting: deque[T], prepare: Callable[[], Callable[[T], R]], processes: int
) -> Generator[tuple[T, R], None, list[T]]:
    """Take items from `waiting` and do them; returns those under way when a process died."""
    others = set(multiprocessing.active_children())
    running: dict[Future[R], T] = {}
    with _safe_path():
        pool = ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"), _start, (prepare,))
    try:
        while waiting or running:
            while waiting and len(running) < AHEAD * processes:
                with _safe_path(), _deaf_children():
                    future = pool.submit(_work, waiting[0])
                running[future] = waiting.popleft()
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                yield running[future], future.result()
                del running[future]
    except BrokenProcessPool:
        return list(running.values())
    except BaseException:
        _end_workers(others)
        raise
    finally:
        pool.shutdown(cancel_futures=True)
    return []


@contextmanager
def _safe_path() -> Iterator[None]:
    """Processes that start in this block import nothing from the folder that the user happens to be in."""
    before = os.environ.get(SAFE_PATH)
    os.environ[SAFE_PATH] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[SAFE_PATH]
        else:
            os.environ[SAFE_PATH] = before


@contextmanager
def _deaf_children() -> Iterator[None]:
    """Processes that start in this block never hear Ctrl-C, not even while they start: it is for this one."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _end_workers(others: set[multiprocessing.process.BaseProcess]) -> None:
    """Tell this pool's processes to stop; they remove what they have half written."""
    for child in multiprocessing.active_children():
        if child not in others:
            child.terminate()


class _Worker:
    """What one process keeps between items: set once, when it starts."""

    do: Callable[[Any], Any]
    busy = False


class _ToldToStop(BaseException):
    """The parent wants this process to end; like Ctrl-C it passes every `except Exception`."""


def _start(prepare: Callable[[], Callable[[Any], Any]]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _stop)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    prepare_process()
    _Worker.do = staticmethod(prepare())


def _end_with_parent() -> None:
    """When the parent was killed, nobody hands out items or tells this process to stop."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os.kill(os.getpid(), signal.SIGTERM)


def _stop(_number: int, _frame: FrameType | None) -> NoReturn:
    if _Worker.busy:
        raise _ToldToStop
    os._exit(0)


def _work(item: Any) -> Any:
    _Worker.busy = True
    try:
        return _Worker.do(item)
    except _ToldToStop:
        os._exit(0)  # all is tidied up; the pool would only hand out the next item
    finally:
        _Worker.busy = False
