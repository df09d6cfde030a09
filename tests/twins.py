"""Tries tests with each of two modules that do the same: with numpy, and compiled where there was a compiler."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from types import ModuleType

import pytest


def twins(with_numpy: ModuleType, compiled: str) -> list[ModuleType]:
    """Both modules, the second by its name; the first alone without a compiler."""
    try:
        return [with_numpy, import_module(compiled)]
    except ImportError:
        return [with_numpy]


def using(module: ModuleType, *names: tuple[ModuleType, str]) -> Iterator[ModuleType]:
    """The module, while others use its functions of these names: (user, name)."""
    with pytest.MonkeyPatch.context() as patch:
        for user, name in names:
            patch.setattr(user, name, getattr(module, name))
        yield module


def name_of(module: ModuleType) -> str:
    """What a test with this module is called by."""
    return module.__name__.rpartition(".")[2]
