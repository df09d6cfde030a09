"""Feed, flow and pressure relief beyond what the machine can do."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest
from gpost_plugins.purge import Purge, PurgeSettings

from gpost.preflight.model import Finding
from gpost.read.source import Source

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


@pytest.mark.parametrize(
    ("moves", "count"),
    [
        (["G1 E5 F60"], None),  # in one place the feed is that of E: 1 ml a unit
        (["G1 E5 F70"], 1),
        (["G1 X100 Y100 E5 F70"], 1),  # where the nozzle is already
        (["G1 E5 F70", "G1 E-1 F600", "G1 E1", "G1 X140 E1 F1200"], 2),
    ],
)
def test_pushed_too_fast_in_one_place(check: Check, pot: Pot, moves: list[str], count: int | None) -> None:
    """It is a warning: nothing is laid wrong, and a slower F fixes it."""
    found = check(pot(end=moves), FLOW)
    assert {name: (finding.severity, finding.count) for name, finding in found.items()} == (
        {} if count is None else {"fast-push": ("warning", count)}
    )
    assert all("let the slicer give back slower" in finding.text for finding in found.values())


PRIMED = ("G28", "G90", "M83", "G1 F400 E30", "G1 E-3", "G4 P0", "G1 E3")
"""30 ml at 400 ml a minute, in one place, then drawn back and given again."""


def test_the_file_s_own_prime(check: Check, pot: Pot) -> None:
    """Too fast in its push and its pull, and the advice is to slow it, or to silence it where there is a purge."""
    found = check(pot(start=PRIMED), FLOW)
    assert set(found) == {"fast-push", "long-relief"}
    assert (found["fast-push"].severity, found["fast-push"].line, found["fast-push"].count) == (
        "warning",
        3,
        2,
    )
    assert "up to 400.0 ml a minute" in found["fast-push"].text
    assert "a slower F, or, if the recipe primes by itself, silence it" in found["fast-push"].text
    assert "allow" not in found["fast-push"].text


@pytest.mark.parametrize("chunk_bytes", [30, 1 << 18])
def test_a_silenced_prime_is_no_finding(
    check: Check, pot: Pot, monkeypatch: pytest.MonkeyPatch, chunk_bytes: int
) -> None:
    """What is left is told as before, from its own first line on."""
    monkeypatch.setattr("gpost.pipeline.Source", partial(Source, chunk_bytes=chunk_bytes))
    purge = [Purge(PurgeSettings(volume_ml=5, silence_own_prime=True))]
    assert check(pot(start=PRIMED), FLOW, purge) == {}
    found = check(pot(start=PRIMED, end=["G1 E-3 F400", "G1 E3"]), FLOW, purge)
    assert {name: (f.line, f.count) for name, f in found.items()} == {
        "fast-push": (18, 1),
        "long-relief": (17, 1),
    }
    early = ("G90", "M83", "G1 F30 E5", "G28")
    assert set(check(pot(start=early))) == {"clay-before-homing"}
    assert check(pot(start=early), {}, purge) == {}


def test_rounded_clay_of_short_moves(check: Check, pot: Pot) -> None:
    """What the decimals of a short move's E make of an even flow is no finding."""
    assert check(pot(end=["G1 X100.5 E0.0252 F1200"]), FLOW) == {}


def test_long_relief(check: Check, pot: Pot) -> None:
    """Drawing back more than the ram can follow is a warning with its count; just so much is fine."""
    assert check(pot(end=["G1 E-2 F600", "G1 E2"])) == {}
    assert check(pot(end=["G1 E-2.0049 F600", "G1 E2.0049"])) == {}, "told as 2.00, it is not more than 2"
    assert (
        "up to 2.01 ml of clay at once, more than 2 "
        in check(pot(end=["G1 E-2.006", "G1 E2.006"]))["long-relief"].text
    )
    found = check(pot(end=["G1 E-2 F600", "G1 E2", "G1 E-2.5", "G1 E2.5", "G1 E-3", "G1 E3"]))
    assert set(found) == {"long-relief"}
    finding = found["long-relief"]
    assert (finding.severity, finding.line, finding.count) == ("warning", 15, 2)
    assert "up to 3.00 ml" in finding.text
    limit = {"machine": {"max_relieve_ml": 3}}
    assert check(pot(end=["G1 E-3 F600", "G1 E3"]), limit) == {}
