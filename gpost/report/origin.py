"""What an output was made from, and how a stopped print goes on, as frozen records."""

from pathlib import PurePath
from typing import Annotated, Self

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


class CalledRecord(Record):
    """A cartridge of a day."""

    number: Number
    """What the day's sheet calls it."""
    load_ml: float
    """What must be in it for all that the day takes out of it, its reserve included."""


class DayRecord(Record):
    """What a day has said for one of its pieces."""

    first_ml: float
    """Clay in its first cartridge when it begins."""
    called: tuple[CalledRecord, ...]
    """Its cartridges, in their order."""
    clays_known: tuple[Text, ...] = ()
    """Names of clays in the studio's list, and in all pieces of the day."""
    clays_used: tuple[Text, ...] = ()


class OriginRecord(Record):
    """What a run has read: with these, and the same steps, the rest of a stopped print is planned anew."""

    folder: Text
    """Where the run was started: names that don't begin at the root count from there."""
    source: FilePrint
    configs: tuple[FilePrint, ...] = ()
    """In their order."""
    config_text: Text | None = None
    """The config, where it was given as keys and values and lies in no file."""
    studio: Count = 0
    """How many of the files, from the first on, are the studio's."""
    recipe_sha256: Sha256
    """Of config and steps, with the steps' code; what there is to tick off is no part of it."""
    rest_sha256: Sha256 | None = None
    """The same without what may be said once a print has stopped; null: an earlier gpost has written this."""
    allow: tuple[Text, ...] = ()
    """Findings that stopped nothing."""
    ask_first: bool = False
    """Whether the file begins by asking for its clay."""
    day: DayRecord | None = None
    """Null: it is run by itself."""

    def named(self, source: str) -> Self:
        """The same with another name for the sliced file."""
        return self.model_copy(update={"source": self.source.model_copy(update={"path": source})})

    def in_folder(self, folder: str) -> Self:
        """The same, with all of its files in one folder, under the names that they have."""

        def there(file: FilePrint) -> FilePrint:
            return file.model_copy(update={"path": PurePath(file.path).name})

        moved = {"source": there(self.source), "configs": tuple(map(there, self.configs)), "folder": folder}
        return self.model_copy(update=moved)


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
    told_ml: float | None = None
    """What of it was told to be loaded, where the rest was planned with more, as an earlier gpost did."""
    run_out_ml: float
    hose_holds: Text | None = None
    came: tuple[CameRecord, ...] = ()
    """What had come until then otherwise than planned; none: as planned."""
    done: int | None = None
    """How many of the pauses, and of the beads beside the piece, at that very place had been; None: all."""
    opens_until_line: Count | None = None
    """The last line, counted from 1, of what the output begins with; None: made by an earlier gpost."""
    waited_min: float | None = None
    """How long it had stood until then; None: nobody has said."""
    waits_line: Count | None = None
    """The line of the wait before which nothing of it has been; None: made by an earlier gpost."""


class ResumeRecord(Record):
    """How a stopped print goes on."""

    layer: Number
    top_mm: float
    """The top that stands where it goes on, as measured, above machine zero."""
    off_mm: float
    """How far from the place that was given it goes on."""
    joint: Text
    """What that does."""
    gap_mm: float | None = None
    """Along the bead, between where the old one ends and the new one starts; None: not known."""
    overlap_mm: float | None = None
    """Along the bead, laid twice; None: not known."""
    joint_at_most: bool = False
    """Whether both are the most that they can be: where in the turn the bead ends wasn't said. On a wall that
    climbs they are those of one that stands within 0.1 mm of the file's heights."""
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
    look_mm: float | None = None
    """Where such a file leaves the nozzle, above machine zero: no higher than the rest may begin. Null: it is
    none, or an earlier gpost has written it."""
    leaves_out: tuple[Text, ...]
    """Its commands before that place that are not sent again."""
