"""A finding in words."""

from __future__ import annotations

from gpost.preflight.model import Finding


def test_sentence() -> None:
    """Name, place counted from 1, text; the number of places where there are several."""
    assert Finding("too-fast", "error", 11, "slow down").sentence == "too-fast, line 12: slow down"
    assert Finding("too-fast", "error", 11, "x", 3).sentence == "too-fast, line 12 (first of 3): x"
    assert Finding("odd-layers", "warning", None, "no").sentence == "odd-layers: no"
    assert Finding("plan", "error", None, "swap: no").sentence == "swap: no"


def test_allowed() -> None:
    """Allowed, it is a warning that says so, and otherwise the same."""
    allowed = Finding("too-fast", "error", 11, "slow down", 3).allowed()
    assert allowed == Finding("too-fast", "warning", 11, "slow down (allowed)", 3)
