"""What hoses, cartridges and whole lines hold, by their bore and length: exact geometry of a round bore."""

from __future__ import annotations

import math

MM3_PER_ML = 1000.0


def round_ml(bore_mm: float, length_mm: float) -> float:
    """What a hose, a cartridge or a strand holds, in ml: pi / 4 d^2 L."""
    return math.pi / 4 * bore_mm * bore_mm * length_mm / MM3_PER_ML


def line_ml(hose_bore_mm: float, hose_length_mm: float, auger_ml: float = 0.0) -> float:
    """Clay between a cartridge's outlet and the nozzle's tip, in ml: the hose, and what is behind it.

    A hose under pressure widens, so that it holds somewhat more than this; a measured volume goes before it.
    """
    return round_ml(hose_bore_mm, hose_length_mm) + auger_ml
