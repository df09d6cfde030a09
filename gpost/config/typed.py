"""Numbers as people type them, and how to write one that was meant otherwise."""

from __future__ import annotations

import math

from gpost.config.scalars import number_hint, with_unit

_IN = {
    ("kg", "g"): 1000,
    ("l", "ml"): 1000,
    ("cm", "mm"): 10,
    ("h", "minutes"): 60,
    ("min", "minutes"): 1,
    ("%", "percent"): 1,
}
"""What one of a unit is in another."""


def read_number(text: str, unit: str = "") -> float:
    """A number as it is typed. Raises ValueError with a sentence that says how to write it."""
    try:
        number = float(text.replace("_", "?"))  # Python's own spelling, and nobody else's
    except ValueError:
        hint = _hint(text, unit)
        raise ValueError(f"{text!r} is no number" + (f"; {hint}" if hint else "")) from None
    if not math.isfinite(number):
        raise ValueError(f"{text!r} is no ordinary number")
    return number


def _hint(text: str, unit: str) -> str:
    """How to write a text as the number that was meant."""
    found = with_unit(text)
    if found is None:
        return number_hint(text)
    number, said = found
    factor = 1 if said == unit else _IN.get((said, unit))
    amount = _amount(number)
    if factor is None or amount is None:
        return f"write the number alone, in {unit}" if unit else "write the number alone"
    return f"write {amount * factor:.15g}, in {unit}"


def _amount(text: str) -> float | None:
    """The number in front of a unit, with a comma or a point; None if it can be read in two ways."""
    try:
        return float(text if len(text.rpartition(",")[2]) == 3 else text.replace(",", "."))
    except ValueError:
        return None
