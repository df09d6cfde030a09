"""What an output was made from, and how a stopped print goes on, as frozen records."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from gpost.report.parts import Count, Number, Record, Text

Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class Print(Record):
    """What tells two states of a file apart."""

    size_bytes: Count
    sha256: Sha256


class FilePrint(Record):
    """A file that was read, and its state."""

    path: Text
    """As it was named."""
    state: Print


class OriginRecord(Record):
    """What a run has read: with these, and the same steps, the rest of a stopped print is planned anew."""

    folder: Text
    """Where the run was started: names that don't begin at the root count from there."""
    source: FilePrint
    configs: tuple[FilePrint, ...] = ()
    """In their order."""
    studio: Count = 0
    """How many of them, from the first on, are the studio's by `--studio`."""
    recipe_sha256: Sha256
    """Of config and steps, with the steps' code."""
    allow: tuple[Text, ...] = ()
    """Findings that stopped nothing."""
    ask_first: bool = False
    """Whether the file begins by asking for its clay."""


class CameRecord(Record):
    """From a place on other clay has come than was planned: a knob was turned, or the scales say so."""

    from_ml: float
    """Net clay planned by then."""
    percent: float
    """Of the planned clay from there on."""


class StopRecord(Record):
    """Where a print has stopped and goes on."""

    source_line: Count
    """Of the sliced file, counted from 0."""
    fraction: float = 0.0
    """Part of the move on it that is done."""
    shift_mm: float
    """The rest is laid so much higher than before."""
    left_ml: float
    """Clay in the cartridge that was on, its reserve included."""
    run_out_ml: float
    hose_holds: Text | None = None
    came: tuple[CameRecord, ...] = ()
    """What had come until then otherwise than planned; none: as planned."""


class ResumeRecord(Record):
    """How a stopped print goes on."""

    layer: Number
    top_mm: float
    """The top that stands where it goes on, as measured, above machine zero."""
    off_mm: float
    """How far from the end of the bead it goes on, by what was said of that."""
    joint: Text
    """What that does."""
    cartridge: Number
    """The number of the cartridge that is on."""
    stops: tuple[StopRecord, ...]
    """All of the print, this one last."""
    checks: tuple[Text, ...]
    """What to do before it is let go, in that order."""
    sends: tuple[Text, ...]
    """What the file set the machine up with, and is sent again."""
    look: bool = False
    """Whether the file only shows the way to that place, and lays nothing."""
    leaves_out: tuple[Text, ...]
    """Its commands before that place that are not sent again."""
