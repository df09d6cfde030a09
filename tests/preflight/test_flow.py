"""Feed, flow and pressure relief beyond what the machine can do."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
FEED = {"machine": {"max_feed_mm_min": 3000}}
FLOW = {"machine": {"max_flow_ml_min": 60}}


@pytest.mark.parametrize(
    ("moves", "line"),
    [
        (["G1 X200 F3001"], 13),
        (["G0 Z50 F3001"], 13),
        (["F6000", "G1 X200"], 14),
        (["M220 S300", "G1 X200"], 14),
        (["G3 X140 Y140 I20 J20 F4000"], 13),
    ],
)
def test_too_fast(check: Check, pot: Pot, moves: list[str], line: int) -> None:
    """A feed above the machine's is an error, also for travel, and with the feed factor counted."""
    found = check(pot(end=moves), FEED)
    assert set(found) == {"too-fast"}
    assert (found["too-fast"].severity, found["too-fast"].line) == ("error", line)


def test_feed_at_the_limit(check: Check, pot: Pot) -> None:
    """Exactly the machine's feed is fine; so is any, when no limit is given, and a fast move of E alone."""
    assert check(pot(end=["G1 X200 F3000"]), FEED) == {}
    assert check(pot(end=["G1 X200 F30000"])) == {}
    assert check(pot(end=["G1 E-0.5 F9000", "G1 E0.5", "G1 X200 F3000"]), FEED) == {}


@pytest.mark.parametrize(
    ("moves", "count"),
    [
        (["G1 X140 E2 F1200"], None),  # 2 ml over 40 mm at 1200 mm/min: 60 ml/min
        (["G1 X140 E2.1 F1200"], 1),
        (["G1 X140 E2 F1300"], 1),
        (["M221 S110", "G1 X140 E2 F1200"], 1),
        (["M220 S110", "G1 X140 E2 F1200", "G1 X100 E2"], 2),
        (["G1 E5 F60"], None),  # in one place the feed is that of E: 1 ml a unit
        (["G1 E5 F70"], 1),
        (["G1 E-1.5 F600"], None),  # drawing back is no flow
        (["G1 X200 F6000"], None),
    ],
)
def test_too_much_clay(check: Check, pot: Pot, moves: list[str], count: int | None) -> None:
    """Clay a minute at the effective feed above the machine's limit is an error; at the limit it is fine."""
    found = check(pot(end=moves), FLOW)
    assert {name: finding.count for name, finding in found.items()} == (
        {} if count is None else {"too-much-clay": count}
    )
    assert all(f.severity == "error" and f.line == 12 + len(moves) - (count or 1) + 1 for f in found.values())


def test_rounded_clay_of_short_moves(check: Check, pot: Pot) -> None:
    """What the decimals of a short move's E make of an even flow is no finding."""
    assert check(pot(end=["G1 X100.5 E0.0252 F1200"]), FLOW) == {}


def test_long_relief(check: Check, pot: Pot) -> None:
    """Drawing back more than the ram can follow is a warning with its count; just so much is fine."""
    assert check(pot(end=["G1 E-2 F600", "G1 E2"])) == {}
    found = check(pot(end=["G1 E-2 F600", "G1 E2", "G1 E-2.5", "G1 E2.5", "G1 E-3", "G1 E3"]))
    assert set(found) == {"long-relief"}
    finding = found["long-relief"]
    assert (finding.severity, finding.line, finding.count) == ("warning", 15, 2)
    assert "up to 3.00 ml" in finding.text
    limit = {"machine": {"max_relieve_ml": 3}}
    assert check(pot(end=["G1 E-3 F600", "G1 E3"]), limit) == {}
