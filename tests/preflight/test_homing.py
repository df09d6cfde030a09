"""Clay before the machine knows where it is."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
NAME = "clay-before-homing"


@pytest.mark.parametrize(
    "homing",
    [["G28"], ["G28 X Y Z"], ["G28 X0 Y0", "G28 Z0"], ["G92 X0 Y0 Z0"], ["G92"], ["G28 X Y", "G92 Z0 E5"]],
)
def test_homed_first(check: Check, pot: Pot, homing: list[str]) -> None:
    """Homing all three axes before the first clay, or setting them, is fine."""
    assert check(pot(start=[*homing, "G90", "M83"])) == {}


@pytest.mark.parametrize(
    ("start", "line", "count"),
    [
        (["G90", "M83", "G1 E5 F200", "G28"], 2, 1),
        (["G28 X Y", "G90", "M83", "G1 E5 F200", "G1 X5 E1", "G28 Z"], 3, 2),
        (["G92 E0", "G90", "M83", "G1 X5 E5 F200", "G28"], 3, 1),
        (["G90", "M83", "G1 E-1 F200", "G1 E2", "G28"], 3, 1),
    ],
)
def test_clay_before_homing(check: Check, pot: Pot, start: list[str], line: int, count: int) -> None:
    """Clay that is pushed while an axis is still to be homed is an error, at the first such line."""
    found = check(pot(start=start))[NAME]
    assert (found.severity, found.line, found.count) == ("error", line, count)
    assert f"(line {len(start)})" in found.text


def test_never_homed(check: Check, pot: Pot) -> None:
    """A file that never homes, or at its end alone, is for a machine homed by hand: a warning."""
    for end in ([], ["G28 X0 Y0"], ["G28"]):
        found = check(pot(start=["G90", "M83"], end=end))[NAME]
        assert (found.severity, found.line) == ("warning", None)


def test_never_homed_and_relative(check: Check) -> None:
    """When all moves are relative as well, nobody knows where the nozzle is: an error."""
    square = ["G1 X40 E1 F600", "G1 Y40 E1", "G1 X-40 E1", "G1 Y-40 E1"]
    found = check("\n".join(["G91", "G1 Z2 F600", *square, ""]))[NAME]
    assert (found.severity, found.line, found.count) == ("error", 2, 4)


def test_moves_without_clay_before_homing(check: Check, pot: Pot) -> None:
    """Lifting, travelling and drawing back before homing is fine."""
    assert check(pot(start=["M83", "G91", "G1 Z5 F600", "G1 E-0.5", "G90", "M83", "G28"])) == {}


def test_clay_by_path_before_homing(check: Check, pot: Pot) -> None:
    """Where clay runs with every G1, a G1 before homing pushes clay, and a G0 does not."""
    by_path = {"clay": {"metering": {"unit": "path"}}}
    assert NAME not in check(pot(start=["G0 X5", "G28", "G90"]), by_path)
    assert check(pot(start=["G1 X5 F600", "G28", "G90"]), by_path)[NAME].line == 0
