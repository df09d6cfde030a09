"""Numbers in the survey's sentences."""

from __future__ import annotations


def few(value: float, digits: int = 3) -> str:
    """A few digits. Sums differ in their last bits by where the file is cut, and must not in their text."""
    return f"{float(f'{value:.9g}'):.{digits}g}"
