"""Numbers in sentences: as many digits as mean something, as people write them."""

from __future__ import annotations

from decimal import Decimal


def few(value: float, digits: int = 3) -> str:
    """So many digits, and never an exponent: 3920, 0.0000123.

    Sums differ in their last bits by where the file is cut, and must not in their text.
    """
    return format(Decimal(f"{float(f'{value:.9g}'):.{digits}g}"), "f")
