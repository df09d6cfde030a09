"""What preflight found, in words and as JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence

from gpost import __version__
from gpost.common.layout import Part, laid_out
from gpost.common.plain import shown, storable
from gpost.preflight.model import Finding, Severity
from gpost.report.wording import dashed, indented, times


def findings_text(found: Sequence[Finding], *, name: str, width: int | None = None) -> str:
    """The findings, errors first, and a line that counts them; laid out as `laid_out` does."""
    parts: list[Part] = [*indented(shown(name))]
    for title, severity in (("Errors", "error"), ("Warnings", "warning"), ("Notes", "note")):
        some = [finding for finding in found if finding.severity == severity]
        parts += [title, *dashed(finding.sentence for finding in some)] if some else []
    return laid_out([*parts, _counted(found)], width)


def findings_json(found: Sequence[Finding], *, name: str) -> str:
    """The findings as a JSON document; lines count from 1, and null stands for the file as a whole."""
    document = {
        "version": 1,
        "gpost_version": __version__,
        "source": storable(name),
        "errors": count(found, "error"),
        "warnings": count(found, "warning"),
        "findings": [
            {
                "name": finding.name,
                "severity": finding.severity,
                "line": None if finding.line is None else finding.line + 1,
                "count": finding.count,
                "text": storable(finding.text),
            }
            for finding in found
        ],
    }
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def count(found: Sequence[Finding], severity: Severity) -> int:
    """Number of findings of one severity."""
    return sum(finding.severity == severity for finding in found)


def _counted(found: Sequence[Finding]) -> str:
    if all(finding.severity == "note" for finding in found):
        return "Nothing stands in the way."
    errors, warnings = count(found, "error"), count(found, "warning")
    return f"{times(errors, 'error')}, {times(warnings, 'warning')}"
