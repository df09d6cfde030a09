"""Dataclasses made in a third of the time that the standard library takes for one.

It writes up to six methods for each as text, and compiles them: for the records that every run loads that
takes a tenth of a short one. Here `__init__` alone is made for each; what the others do is the same for all.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

__all__ = ["record"]


class _Alike:
    """What all records do alike."""

    def __eq__(self, other: object) -> bool:
        return _values(self) == _values(other) if type(other) is type(self) else NotImplemented

    def __repr__(self) -> str:
        shown = [field.name for field in dataclasses.fields(self) if field.repr]  # type: ignore[arg-type]
        return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in shown)})"


class _Frozen(_Alike):
    """What those do that can't be changed."""

    def __hash__(self) -> int:
        return hash(_values(self))

    def __setattr__(self, name: str, value: object) -> None:
        if hasattr(self, name):  # `__init__` has given it, and nobody gives another
            raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
        object.__setattr__(self, name, value)

    def __delattr__(self, name: str) -> None:
        raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")


class _FrozenDict(_Frozen):
    """What those do that have a dictionary: it would take any name, and its class may have defaults."""

    def __setattr__(self, name: str, value: object) -> None:
        given = vars(self)
        if name in given or name not in self.__dataclass_fields__:  # type: ignore[attr-defined]
            raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
        given[name] = value


_METHODS = ("__eq__", "__hash__", "__repr__")
_OF_FROZEN = (*_METHODS, "__setattr__", "__delattr__")


def _values(record: Any) -> tuple[object, ...]:
    return tuple([getattr(record, field.name) for field in dataclasses.fields(record) if field.compare])


def _record(*, frozen: bool = False, slots: bool = False) -> Callable[[type], type]:
    """As `dataclasses.dataclass`, for a class that defines none of those methods."""
    alike: type[_Alike] = (_Frozen if slots else _FrozenDict) if frozen else _Alike
    names = _OF_FROZEN if frozen else _METHODS

    def made(kind: type) -> type:
        record: Any = dataclasses.dataclass(slots=slots, eq=False, repr=False)(kind)
        for name in names:
            setattr(record, name, getattr(alike, name))  # no hash where it can change: None, by Python's rule
        # what inherits from it is made by the standard library, for which it must be frozen, too
        record.__dataclass_params__.frozen = frozen
        return record  # type: ignore[no-any-return]

    return made


if TYPE_CHECKING:
    from dataclasses import dataclass as record  # which it is to whoever checks types
else:
    record = _record
