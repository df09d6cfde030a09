"""The summary as frozen records: what the JSON Schema is made from."""

from typing import Literal

from gpost.config.commands import Kind
from gpost.report.byhand import KnobRecord, WeighingRecord
from gpost.report.origin import OriginRecord, ResumeRecord
from gpost.report.parts import (
    CartridgeRecord,
    ClayRecord,
    ColourRecord,
    Count,
    EdgeRecord,
    LineRecord,
    MeteringRecord,
    Number,
    OutsideRecord,
    PauseRecord,
    PieceRecord,
    Record,
    SharesRecord,
    SlabRecord,
    SlugRecord,
    SureRecord,
    Text,
    TicksRecord,
)

__all__ = [
    "CartridgeRecord",
    "Change",
    "ClayRecord",
    "ColourRecord",
    "CommandRecord",
    "EdgeRecord",
    "Example",
    "KnobRecord",
    "LayerTable",
    "LineRecord",
    "MeteringRecord",
    "OutsideRecord",
    "PauseRecord",
    "PieceRecord",
    "Place",
    "Record",
    "SharesRecord",
    "SlabRecord",
    "SlugRecord",
    "Summary",
    "SureRecord",
    "TicksRecord",
    "Waits",
    "WeighingRecord",
]


class LayerTable(Record):
    """The layers from the bottom up: each list has one value a row.

    Up to 1000 layers all are there; of more, evenly chosen ones, with the oldest clay and the least margins.
    """

    layer: tuple[Number, ...]
    """Counted from 1."""
    height_mm: tuple[float, ...]
    """Nozzle height when the layer is done, as the sliced file has it; in a rest that is laid higher or lower
    so much more or less."""
    clock_s: tuple[float, ...]
    """Machine time from the start till the layer is done; an estimate, waiting not counted."""
    age_min: tuple[float, ...]
    """Age of the oldest clay laid in it, since it left its cartridge; of waits only what a stopped
    print has stood, if that was said, is counted."""
    clay_ml: tuple[float, ...] | None = None
    """Net clay of the piece when the layer is done, what is run out beside it not counted; null: made by an
    earlier gpost."""
    margin: tuple[float, ...] | None = None
    """How many times it bears what comes to lie on it, at its worst moment; 1 is just yielding, and 1000 is
    1000 or more. An estimate by the clay that a step reckons with; null: no step says what the clay bears."""
    layers_left_out: Count = 0
    """Layers that have no row."""


class Place(Record):
    """Where a change is: one spot, or the stretch from `layer` to `last_layer`."""

    layer: Count
    """Counted from 1; 0 before the first."""
    last_layer: Count
    height_mm: float
    """Nozzle height at the start of the place."""
    output_line: Number | None
    """First inserted line in the output, counted from 1; null for lines that were edited in place."""
    clock_s: float
    """Machine time at the start of the place; an estimate, waiting not counted."""
    source_line: Number | None = None
    """The line of the sliced file before which lines were inserted, or the first that edits could reach,
    counted from 1; null: made by an earlier gpost."""
    last_source_line: Number | None = None
    """The last line of the sliced file that edits could reach."""


class Example(Record):
    """The first place of a change: a few lines as they were and as they are, without line numbers."""

    source_line: Number
    """The line of the sliced file that was edited, or before which lines were inserted, counted from 1."""
    output_line: Number
    """The first of the lines in the output, counted from 1."""
    before: tuple[Text, ...]
    """Nothing where lines were inserted."""
    after: tuple[Text, ...]
    lines_left_out: Count = 0
    """How many more lines were inserted there."""


class Change(Record):
    """All changes of one kind that one step made for one reason."""

    step: Text
    kind: Literal["pause", "move", "lay", "say", "air", "command", "wait", "feed", "flow", "shift", "silence"]
    what: Text
    """In words."""
    count: Count
    """How many: blocks that were inserted, or source lines that were edited."""
    where: tuple[Place, ...]
    example: Example | None = None
    """Null: it is part of another one's block, no line shows it alone, or an earlier gpost made it."""


class Waits(Change):
    """All waits of one step for one reason: the machine stands still, and goes on by itself."""

    kind: Literal["wait"] = "wait"
    seconds: float
    """All of them together; the clocks have them counted."""


class CommandRecord(Record):
    """A command that gpost wrote and that is no move: once, however often it stands in the output."""

    command: Text
    """What differs from one time to the next stands in angle brackets, such as `M106 S<level>`."""
    kind: Kind
    """What it is for. `allowed`: sent by the studio's word; the last four give back what a block has used."""
    count: Number
    first_output_line: Number
    """The first line, counted from 1, on which it stands in the output."""
    step: Text
    """The step that has it sent; of several, all of them with commas between."""


class Summary(Record):
    """Everything that was done to one sliced file, and what the potter must know."""

    version: Literal[1] = 1
    """Version of this record; a key may be added without a new one, never renamed."""
    gpost_version: Text
    source: Text
    output: Text
    rehearsal_mm: float | None = None
    """How far above its place the job is rehearsed; null: it is not, though the way to where a stopped print
    goes on may be (`resume: look`). In a rehearsal nothing is pushed, and nobody waited for: what clay there
    is, and when to come, is left out."""
    in_day: bool = False
    """Whether it is a piece of a day, whose sheet says what to wedge and to load. Numbers and loads of
    cartridges are the sheet's then, `clays` has what the piece takes, and `weighings` and `knobs` have
    nothing of cartridges that other pieces share."""
    resume: ResumeRecord | None = None
    """How a stopped print goes on; null: it is a whole print. With one, clocks and amounts are those of the
    rest."""
    origin: OriginRecord | None = None
    """What it was made from, for `gpost resume`; null: it was not asked for, or an earlier gpost made it."""
    steps: tuple[Text, ...]
    """The steps in the order in which they were used."""
    layers: Count
    height_mm: float
    """Nozzle height of the highest laid clay, above machine zero."""
    time_s: float
    """Machine time of the whole job; an estimate, waiting not counted."""
    clay_ml: float
    """Net clay of the whole job, purges and primes included."""
    piece: PieceRecord = PieceRecord()
    """The piece alone: its mass, and its size when fired."""
    metering: MeteringRecord | None = None
    """By what clay and mass were reckoned; null: made by an earlier gpost."""
    output_lines: Count
    output_bytes: Count
    pauses: tuple[PauseRecord, ...]
    line: LineRecord = LineRecord()
    clays: tuple[ClayRecord, ...] = ()
    """What to wedge, in the order in which it is needed."""
    slab: SlabRecord | None = None
    """null: the piece is printed on the bed itself."""
    cartridges: tuple[CartridgeRecord, ...]
    weighings: tuple[WeighingRecord, ...] = ()
    """What the weights of cartridges say that are taken off for others."""
    knobs: tuple[KnobRecord, ...] = ()
    """What turning flow or speed by hand does."""
    sure: SureRecord = SureRecord()
    """How sure all of this is."""
    colours: tuple[ColourRecord, ...]
    shares: tuple[SharesRecord, ...] = ()
    """Colours by height: a record where a share has changed by a hundredth; none for a job in one colour."""
    edges: tuple[EdgeRecord, ...] = ()
    """The edges of the bands that are loaded, from the bottom up; none for a job without bands."""
    loaded_from: Text | None = None
    """The end at which cartridges are filled, plunger or outlet; null: nothing hangs on it."""
    changes: tuple[Waits | Change, ...]
    commands: tuple[CommandRecord, ...] = ()
    """Every command beside moves that gpost wrote, in the order of their first lines."""
    layer_table: LayerTable | None = None
    """Layer by layer; null: the file lays no clay."""
    ticks: TicksRecord = TicksRecord()
    """What to tick off; nothing for a rehearsal."""
    notes: tuple[Text, ...]
    warnings: tuple[Text, ...]
    cautions: tuple[Text, ...]

    @property
    def dry(self) -> bool:
        """Whether nothing is laid: a rehearsal of the whole job, or of the way to its rest."""
        return self.rehearsal_mm is not None or (self.resume is not None and self.resume.look)
