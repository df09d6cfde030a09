"""The survey of a sliced file, in words and as JSON."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from gpost import __version__
from gpost.common.layout import Column, Paragraph, Part, Table, apart, laid_out
from gpost.common.plain import shown, storable
from gpost.motion.codes import name_of
from gpost.preflight.model import Finding
from gpost.report.digits import rounded
from gpost.report.wording import clock, dashed, indented, times, wrapped
from gpost.survey.model import Survey

ENDS = 12
"""Layers shown at each end of a long table."""

_LEFT_OUT = Paragraph("(the layers between are left out; --all shows them)", "   ...   ", " " * 9)
_COLUMNS = (
    Column("layer", 6),
    Column("height mm", 11, long="height, mm"),
    Column("kind", 5, number=False, gap=3),
    Column("clay ml", 9, long="clay, ml"),
    Column("path m", 10, long="path, m"),
    Column("time s", 10, long="time, s"),
    Column("feed mm/min", 12, long="feed, mm/min"),
    Column("line", 8, long="begins at line"),
)
_KINDS = ("level", "rises")


def survey_text(
    survey: Survey, found: Sequence[Finding], *, name: str, whole: bool = False, width: int | None = None
) -> str:
    """What the file holds, laid out as `laid_out` does; `whole` shows every layer.

    `found`: what `survey_findings` says of it.
    """
    sections = (_head(survey, name), _table(survey, whole), _commands(survey), _odd(found))
    return laid_out(apart(sections), width)


def survey_json(survey: Survey, found: Sequence[Finding], *, name: str, sha256: str) -> str:
    """What the file holds as a JSON document; one object a layer, lines counted from 1.

    `found`: what `survey_findings` says of it.
    """
    document: dict[str, Any] = {
        "version": 1,
        "gpost_version": __version__,
        "source": storable(name),
        "size_bytes": survey.size_bytes,
        "sha256": sha256,
        "lines": survey.lines,
        "height_mm": _height_mm(survey),
        "time_s": survey.time_s,
        "clay_ml": survey.clay_ml,
        "lead_in_ml": survey.lead_in_ml,
        "path_bead": None if survey.path_bead is None else survey.path_bead.words,
        "laid_path_mm": survey.laid_path_mm,
        "travel_path_mm": survey.travel_path_mm,
        "pieces": survey.pieces,
        "numbered": survey.numbered,
        "bounds_mm": survey.bounds_mm if len(survey.layers) else None,
        "commands": dict(_counted(survey)),
        "layers": list(_layer_objects(survey)),
        "warnings": [storable(finding.sentence) for finding in found],
    }
    return json.dumps(rounded(document), indent=1, allow_nan=False, ensure_ascii=False) + "\n"


def _height_mm(survey: Survey) -> float:
    return survey.height_mm if len(survey.layers) else 0.0


def _size(size_bytes: int) -> str:
    """Of a short file in kB, lest it seems to be empty."""
    return f"{size_bytes / 1e3:.2f} kB" if size_bytes < 10_000 else f"{size_bytes / 1e6:.2f} MB"


def _head(survey: Survey, name: str) -> Iterator[Part]:
    yield from indented(shown(name))
    layers = times(len(survey.layers), "layer")
    yield f"  {times(survey.lines, 'line')}, {_size(survey.size_bytes)}, {layers}"
    yield (
        f"  {_height_mm(survey):.1f} mm high, {survey.clay_ml:.1f} ml of clay, "
        f"{clock(survey.time_s)} h of machine time (an estimate)"
    )
    if survey.path_bead is not None:
        yield from wrapped(f"clay by the path, as a bead {survey.path_bead.words}", indent="    ", first="  ")
    if len(survey.layers):
        (x_low, x_high), (y_low, y_high), _ = survey.bounds_mm
        yield f"  on the bed: x {x_low:.1f} to {x_high:.1f} mm, y {y_low:.1f} to {y_high:.1f} mm"
    if survey.lead_in_ml:
        beside = ", or laid round the piece or beside it" if survey.beside else ""
        yield f"  {survey.lead_in_ml:.1f} ml come before layer 1: the file's own prime{beside}"
    elif survey.beside:
        yield "  some of layer 1's clay is laid round the piece or beside it, and is no part of it"
    if survey.pieces > 1:
        yield f"  {survey.pieces} pieces, one after the other"


def _table(survey: Survey, whole: bool) -> Iterator[Part]:
    if not len(survey.layers):
        return
    count = len(survey.layers)
    rows: list[tuple[str, ...] | Paragraph] = []
    for number, row in enumerate(survey.layers, 1):
        if whole or count <= 2 * ENDS + 1 or number <= ENDS or number > count - ENDS:
            rows.append(_row(number, row))
        elif number == ENDS + 1:
            rows.append(_LEFT_OUT)
    yield Table(_COLUMNS, rows)


def _row(number: int, row: np.void) -> tuple[str, ...]:
    return (
        f"{number}",
        f"{row['height_mm']:.2f}",
        _KINDS[int(row["kind"]) > 0],
        f"{row['clay_ml']:.2f}",
        f"{row['path_mm'] / 1000:.3f}",
        f"{row['time_s']:.1f}",
        f"{row['feed_mm_min']:.0f}" if row["feed_mm_min"] else "not said",
        f"{row['first_line'] + 1}",
    )


def _commands(survey: Survey) -> Iterator[Part]:
    counted = _counted(survey)
    if counted:
        text = "Commands beside the moves: " + ", ".join(f"{name} x {count}" for name, count in counted)
        yield Paragraph(text, indent="  ", hyphens=True)


def _odd(found: Sequence[Finding]) -> Iterator[Part]:
    yield "What is odd" if found else "Nothing odd was found."
    yield from dashed(finding.sentence for finding in found)


def _counted(survey: Survey) -> list[tuple[str, int]]:
    """Each command that is no plain move, as the file has it, and how often it comes: ("M104", 2)."""
    found, named = list[tuple[str, int]](), Counter(survey.named)
    for letter in "GMT":
        codes = survey.commands["code_x10"][survey.commands["letter"] == letter.encode()]
        kinds, times = np.unique(codes, return_counts=True)
        counts = Counter(dict(zip(kinds.tolist(), times.tolist(), strict=True)))
        for said, count in survey.as_written.items() if letter == "M" else ():
            counts[said.stands_as] -= count
            counts[said.code_x10] += 0 if said.name else count
            named[said.name] += count if said.name else 0
        found += [(name_of(letter, code), count) for code, count in sorted(counts.items()) if count]
    return found + sorted((name, count) for name, count in named.items() if count)


def _layer_objects(survey: Survey) -> Iterator[dict[str, Any]]:
    names = survey.layers.dtype.names or ()
    for number, row in enumerate(survey.layers, 1):
        found: dict[str, Any] = {"layer": number, **dict(zip(names, row.tolist(), strict=True))}
        found["kind"] = _KINDS[found["kind"] > 0]
        found["first_line"] += 1
        found["feed_mm_min"] = found["feed_mm_min"] or None
        yield {key: None if value != value else value for key, value in found.items()}
