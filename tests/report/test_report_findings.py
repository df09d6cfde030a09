"""What preflight found, in words and as JSON."""

from __future__ import annotations

import json

from gpost.preflight.model import Finding
from gpost.report.findings import findings_json, findings_text

FOUND = (
    Finding("outside-bed", "error", 11, "a move leaves the bed", 3),
    Finding("heating", "warning", None, "it heats " + "and heats " * 12),
)


def test_text() -> None:
    """Errors, warnings and their number, in lines of at most 80 characters."""
    text = findings_text(FOUND, name="pot.gcode")
    lines = text.splitlines()
    assert lines[:4] == [
        "pot.gcode",
        "Errors",
        "  - outside-bed, line 12 (first of 3): a move leaves the bed",
        "Warnings",
    ]
    assert lines[-1] == "1 error, 1 warning"
    assert max(map(len, lines)) <= 80


def test_text_of_nothing() -> None:
    """A clean file is told to be clean."""
    assert findings_text((), name="pot.gcode") == "pot.gcode\nNothing stands in the way.\n"


def test_text_cannot_steer_a_terminal() -> None:
    """Names and texts from outside are written out."""
    text = findings_text([Finding("plan", "error", None, "bad \x1b[2J step")], name="a\x1b[31m\n.gcode")
    assert "\x1b" not in text
    assert text.count("\n") == 4


def test_json() -> None:
    """One object a finding; lines count from 1, and the whole file is null."""
    document = json.loads(findings_json(FOUND, name="pot.gcode"))
    assert (document["source"], document["errors"], document["warnings"]) == ("pot.gcode", 1, 1)
    assert document["findings"][0] == {
        "name": "outside-bed",
        "severity": "error",
        "line": 12,
        "count": 3,
        "text": "a move leaves the bed",
    }
    assert document["findings"][1]["line"] is None
