"""Work in processes: every item has its result, whatever happens to the processes."""

from __future__ import annotations

import functools
import multiprocessing
import os

import pytest

from gpost.batch import pool
from gpost.batch.pool import in_processes

# `prepare` is made of the standard library's functions: the processes can't import this file.


def test_every_item_has_its_result() -> None:
    """Results come with their items, in whatever order."""
    found = list(in_processes(range(20), functools.partial(functools.partial, pow, exp=3), 2))
    assert sorted(found) == [(n, n**3) for n in range(20)]


def test_few_items_are_handed_out_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many items there are, at most two a process are under way."""
    most = 0
    wait = pool.wait

    def watching(running, **options):  # type: ignore[no-untyped-def]
        nonlocal most
        most = max(most, len(running))
        return wait(running, **options)

    monkeypatch.setattr(pool, "wait", watching)
    assert len(list(in_processes(range(50), functools.partial(functools.partial, abs), 2))) == 50
    assert most == 4


def test_items_whose_process_dies() -> None:
    """An item that ends its process gets None, and the others get their results."""
    items = [0, 7, 0, 0]  # os._exit takes the item as the status: every one of them kills its process
    assert list(in_processes(items, functools.partial(functools.partial, os._exit), 2)) == [
        (item, None) for item in items
    ]


def test_ending_early_leaves_no_process() -> None:
    """When the iteration is given up, the processes are ended."""
    before = set(multiprocessing.active_children())
    results = in_processes(range(1000), functools.partial(functools.partial, abs), 2)
    assert next(results)[1] is not None
    results.close()  # type: ignore[attr-defined]
    assert set(multiprocessing.active_children()) == before


def test_error_in_an_item_passes_on() -> None:
    """An exception of the function is the caller's to handle."""
    with pytest.raises(TypeError):
        list(in_processes([None], functools.partial(functools.partial, abs), 1))
