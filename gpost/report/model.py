"""The summary as frozen records: what the JSON Schema is made from."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from gpost.common.plain import storable
from gpost.config.commands import Kind

Text = Annotated[str, BeforeValidator(storable)]
Count = Annotated[int, Field(ge=0)]
Number = Annotated[int, Field(ge=1)]


class Record(BaseModel):
    """Base of every part of the summary: frozen, no NaN or infinity; keys of later versions are let pass."""

    model_config = ConfigDict(
        extra="ignore",
        frozen=True,
        allow_inf_nan=False,
        json_schema_serialization_defaults_required=True,
    )


class PauseRecord(Record):
    """One pause: where it is, why, and what to do there."""

    step: Text
    """Empty for a pause of the file's own."""
    kind: Text
    """What sort of pause it is: a step's own word, or `own` for the file's own pauses."""
    reason: Text
    message: Text
    """What the machine's display says."""
    layer: Count
    """The layer printed when the machine goes on, counted from 1; 0 before the first."""
    height_mm: float
    """Nozzle height, above machine zero, at which printing goes on."""
    output_line: Number
    """First line, counted from 1, of the pause in the output."""
    clay_ml: float
    """Net clay metered before the pause."""
    clock_s: float
    """Machine time from the start; an estimate, and waiting is not counted."""
    new_cartridge: bool
    colour: Text | None
    """Colour of the new clay; null: as before, or no new clay."""
    load_ml: float | None
    """Clay that is to be in the new cartridge, its reserve included; null: a full one, or no new one.

    What it must hold at least is its record's `load_ml` in `cartridges`.
    """
    prime_ml: float
    """Clay run out at the park after the wait."""
    lay_ml: float = 0.0
    """Clay laid beside the piece after that, before printing goes on."""
    shows_at_layer: Count | None
    """Layer in which the new clay is expected at the nozzle; null: no new clay, or never in this piece."""
    shows_at_height_mm: float | None
    """Nozzle height at which the new clay is expected; null as above."""
    shows_low_mm: float | None = None
    """In 95 prints of 100 it shows from here on at the earliest; null: no spread is known, or as above."""
    shows_high_mm: float | None = None
    """And from here on at the latest; null: as above, or later than this piece ends."""


class CartridgeRecord(Record):
    """One cartridge, in the order in which they are loaded."""

    number: Number
    colour: Text
    clay_ml: float
    """Clay the job takes out of it; those of all cartridges add up to the job's."""
    wet_g: float
    """Wet mass of that clay."""
    dry_g: float = 0.0
    """Of that, what is left when all water has gone."""
    water_g: float = 0.0
    """And what of it is water."""
    usable_ml: float
    """Clay in it that may be counted on: what is in it less the reserve."""
    need_ml: float = 0.0
    """The most that has left it at any moment: more than `clay_ml` where some is drawn back again."""
    over_ml: float
    """What `need_ml` is beyond `usable_ml`; 0 when it is enough."""
    load_ml: float = 0.0
    """What must be in it at least: `need_ml`, and the reserve, which stays behind."""
    load_g: float = 0.0
    """Wet mass of that."""
    sure_load_ml: float | None = None
    """What must be in it so that it runs dry in no more than `sure.taken_percent` of all prints.

    Null: no spread is known.
    """
    sure_load_g: float | None = None
    """Wet mass of that."""
    dry_percent: float | None = None
    """In how many of 100 prints it runs dry before its end, as full as the plan has it; null as above."""
    early_layers: Count = 0
    """How many layers before its end that may be, where `dry_percent` is more than is taken."""


class ColourRecord(Record):
    """The clay of one colour that leaves the nozzle, in the order of showing."""

    colour: Text
    clay_ml: float
    """All of it, with what is run out beside the piece."""
    wet_g: float
    piece_ml: float
    """Of that, what is in the piece."""


class SharesRecord(Record):
    """What shows in one layer, and in those above it up to the next record's."""

    layer: Number
    height_mm: float
    """Nozzle height on the middle of the layer's clay."""
    clays: dict[Text, float]
    """Share of each colour there; together 1."""


class LineRecord(Record):
    """The clay between the cartridge's outlet and the nozzle's tip."""

    clay_ml: float = 0.0
    at_start: Text = ""
    """Colour that it must be full of when the job begins."""
    at_end: dict[Text, float] = {}
    """ml of each colour in it when the job is done, the last loaded first."""


class MeteringRecord(Record):
    """How the config that the job was made with measures clay."""

    unit: Text
    """What E counts: the config's `clay: metering: unit`."""
    file: Text | None = None
    """The config file that gave it; null: none did, or it is not known."""
    ml_per_unit: float | None
    """Clay for one unit of E; null: the file has no E, and clay goes by the path."""
    wet_density_g_ml: float


class SureRecord(Record):
    """How far the amounts may be off that all else rests on: the config's standard deviations."""

    metered_percent: float | None = None
    """Of the clay for a unit of E; null here and below: not known, and taken for nothing."""
    density_percent: float | None = None
    line_ml: float | None = None
    reserve_ml: float | None = None
    """Of what stays behind in a cartridge; null: the reserve is a limit."""
    taken_percent: float = 5.0
    """In how many of 100 prints a cartridge may run dry."""
    dry_percent: float | None = None
    """In how many of 100 prints any cartridge runs dry; null: no spread of it is known."""
    defaults: dict[Text, tuple[Text, ...]] = {}
    """Figures of this summary that rest on gpost's own defaults, not on the config: on which keys."""


class PieceRecord(Record):
    """The piece as it stands on the bed, and as it comes out of the kiln."""

    clay_ml: float = 0.0
    """Clay in it, without what is run out beside it."""
    wet_g: float = 0.0
    dry_g: float = 0.0
    water_g: float = 0.0
    """What has to dry off."""
    fired_x_mm: float = 0.0
    """Length along x after firing, the bead's width left out."""
    fired_y_mm: float = 0.0
    fired_height_mm: float = 0.0


class LayerTable(Record):
    """The layers from the bottom up: each list has one value a row.

    Up to 1000 layers all are there; of more, evenly chosen ones, with the oldest clay and the least margins.
    """

    layer: tuple[Number, ...]
    """Counted from 1."""
    height_mm: tuple[float, ...]
    """Nozzle height when the layer is done, as the sliced file has it."""
    clock_s: tuple[float, ...]
    """Machine time from the start till the layer is done; an estimate, waiting not counted."""
    age_min: tuple[float, ...]
    """Age of the oldest clay laid in it, since its cartridge was loaded; waiting not counted."""
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


class Change(Record):
    """All changes of one kind that one step made for one reason."""

    step: Text
    kind: Literal["pause", "move", "lay", "say", "air", "command", "wait", "feed", "flow", "shift", "silence"]
    what: Text
    """In words."""
    count: Count
    """How many: blocks that were inserted, or source lines that were edited."""
    where: tuple[Place, ...]


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
    """How far above its place the job is rehearsed; null: it is none. In one nothing is pushed, and nobody
    waited for: what clay there is, and when to come, is left out."""
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
    cartridges: tuple[CartridgeRecord, ...]
    sure: SureRecord = SureRecord()
    """How sure all of this is."""
    colours: tuple[ColourRecord, ...]
    shares: tuple[SharesRecord, ...] = ()
    """Colours by height: a record where a share has changed by a hundredth; none for a job in one colour."""
    changes: tuple[Waits | Change, ...]
    commands: tuple[CommandRecord, ...] = ()
    """Every command beside moves that gpost wrote, in the order of their first lines."""
    layer_table: LayerTable | None = None
    """Layer by layer; null: the file lays no clay."""
    notes: tuple[Text, ...]
    warnings: tuple[Text, ...]
    cautions: tuple[Text, ...]
