"""Values that nobody can change any more."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Array = TypeVar("Array", bound=NDArray[Any])


def locked(array: Array) -> Array:
    """The array, which can't be changed from now on: neither by this name nor by the one it had."""
    array.setflags(write=False)
    return array.view()  # nor can whoever has it undo that, as the array is its own


def frozen(value: Any) -> Any:
    """The value with its arrays locked, its mappings read-only and its lists as tuples, all the way down."""
    if isinstance(value, np.ndarray):
        return locked(value)
    if isinstance(value, Mapping):
        return MappingProxyType({key: frozen(part) for key, part in value.items()})
    return tuple(map(frozen, value)) if type(value) in (list, tuple) else value
