"""Choices that make a wall: given by name, drawn from plain randomness, or drawn by hypothesis."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Protocol, TypeVar

from hypothesis import strategies as st

T = TypeVar("T")


class Choices(Protocol):
    """Who decides. Each choice has a name; `usual` is what a named case has that doesn't say it."""

    def pick(self, name: str, options: Sequence[T]) -> T:
        """One of these; the first is the usual one."""
        ...

    def whole(self, name: str, low: int, high: int, usual: int) -> int:
        """A whole number from low to high, both among them."""
        ...

    def real(self, name: str, low: float, high: float, usual: float) -> float:
        """A number from low to high."""
        ...


class Given:
    """A named case: what it says, and the usual for the rest. It may say more than the options hold."""

    def __init__(self, **given: object) -> None:
        self.given = given
        self.asked: set[str] = set()

    def answer(self, name: str, usual: T) -> T:
        """What is given under this name."""
        self.asked.add(name)
        return self.given.get(name, usual)  # type: ignore[return-value]

    def pick(self, name: str, options: Sequence[T]) -> T:
        """What is given, or the first."""
        return self.answer(name, options[0])

    def whole(self, name: str, low: int, high: int, usual: int) -> int:
        """What is given, or the usual."""
        return self.answer(name, usual)

    def real(self, name: str, low: float, high: float, usual: float) -> float:
        """What is given, or the usual."""
        return self.answer(name, usual)

    def unasked(self) -> set[str]:
        """What was given and nobody asked for: a misspelt name."""
        return set(self.given) - self.asked


class Seeded:
    """Plain randomness from a seed."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def pick(self, name: str, options: Sequence[T]) -> T:
        """Any of these."""
        return self.random.choice(options)

    def whole(self, name: str, low: int, high: int, usual: int) -> int:
        """Any of these."""
        return self.random.randint(low, high)

    def real(self, name: str, low: float, high: float, usual: float) -> float:
        """Any of these, to four decimals."""
        return round(self.random.uniform(low, high), 4)


class Fixed:
    """Another's choices, with some of them fixed."""

    def __init__(self, other: Choices, **fixed: object) -> None:
        self.other = other
        self.fixed = fixed

    def pick(self, name: str, options: Sequence[T]) -> T:
        """What is fixed, or the other's."""
        return self.fixed[name] if name in self.fixed else self.other.pick(name, options)  # type: ignore[return-value]

    def whole(self, name: str, low: int, high: int, usual: int) -> int:
        """What is fixed, or the other's."""
        return self.fixed[name] if name in self.fixed else self.other.whole(name, low, high, usual)  # type: ignore[return-value]

    def real(self, name: str, low: float, high: float, usual: float) -> float:
        """What is fixed, or the other's."""
        return self.fixed[name] if name in self.fixed else self.other.real(name, low, high, usual)  # type: ignore[return-value]


class Drawn:
    """Hypothesis draws, and makes a failing wall simpler: towards first options and low numbers."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw

    def pick(self, name: str, options: Sequence[T]) -> T:
        """Any of these."""
        return self.draw(st.sampled_from(options), label=name)

    def whole(self, name: str, low: int, high: int, usual: int) -> int:
        """Any of these."""
        return self.draw(st.integers(low, high), label=name)

    def real(self, name: str, low: float, high: float, usual: float) -> float:
        """Any of these, to four decimals."""
        return round(self.draw(st.floats(low, high), label=name), 4)
