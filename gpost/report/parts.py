"""Parts of the summary as frozen records: pauses, what is prepared and loaded, the piece."""

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from gpost.common.plain import storable

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
    cartridge: Number | None = None
    """Number of the cartridge that is put on; null: none is."""
    colour: Text | None
    """Colour of the new clay; null: as before, or no new clay."""
    load_ml: float | None
    """Clay that is to be in the new cartridge, its reserve included; null: a full one, or no new one.

    What it must hold at least is its record's `load_ml` in `cartridges`.
    """
    waits: Count = 1
    """How often it waits: a second time before it goes back to the piece."""
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
    air_at_layer: Count | None = None
    """Layer in which air that came in with the new cartridge is expected at the nozzle; null: there is none,
    or it comes out beside the piece, or not in this piece."""
    air_at_height_mm: float | None = None
    """Nozzle height at which it is expected; null as above."""
    hose_min: float | None = None
    """How long the machine may wait here, if it waits nowhere else, before clay is too stiff when it is laid
    (`working_min`; in the cartridge `keeps_min`); null: no clay waits that is laid later."""
    rim_min: float | None = None
    """How long it may wait before the wall's joint is cold (`clay: rim_min`, less what prime and ways take);
    null: not known, or there is no wall to go on with."""
    joins: bool = False
    """Whether the wall goes on where it waited, so that its joint may be cold."""
    goes_on_after_s: float | None = None
    """How long the file says that it stands still there before it goes on by itself, s, counted in clocks;
    null: it waits until somebody lets it go on."""


class SlugRecord(Record):
    """One piece of clay in a cartridge or in the hose."""

    clays: dict[Text, float]
    """Share of each clay in it; together 1."""
    clay_ml: float
    wet_g: float
    length_mm: float | None = None
    """Length of cartridge that it fills; null: the bore is not known, or it lies in the hose."""
    reserve: bool = False
    """Whether it is the clay behind, which is not counted on."""


class TicksRecord(Record):
    """What to tick off, by the config's `sheet`; of a stopped print's rest by its `rest`."""

    before: tuple[Text, ...] = ()
    """Before the start; before a rest goes on, beside the `checks` of its `resume`."""
    during: tuple[Text, ...] = ()
    """While it prints."""
    after: tuple[Text, ...] = ()
    """When it is done."""


class CartridgeRecord(Record):
    """One cartridge, in the order in which they are loaded."""

    number: Number
    """Of a piece of a day that of the day's sheet."""
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
    """What must be in it at least: `need_ml`, and the reserve, which stays behind.

    Of a piece of a day what the day's sheet says, for all pieces that share it.
    """
    load_g: float = 0.0
    """Wet mass of that."""
    sure_load_ml: float | None = None
    """What must be in it so that it runs dry in no more than `sure.taken_percent` of all prints.

    Null: no spread is known.
    """
    sure_load_g: float | None = None
    """Wet mass of that."""
    to_load_ml: float | None = None
    """What everyone is told to load, and its slugs come to: `sure_load_ml`, or `load_ml` where no spread is
    known, in whole ml, rounded up; or as much as the config says is in it. Null: gpost was older."""
    to_load_g: float | None = None
    """Wet mass of that."""
    dry_percent: float | None = None
    """In how many of 100 prints it runs dry before its end, as full as the plan has it; null as above."""
    early_layers: Count = 0
    """How many layers before its end that may be, where `dry_percent` is more than is taken."""
    slugs: tuple[SlugRecord, ...] = ()
    """What is in it, in the order in which it goes in; none for a cartridge of one clay."""
    pieces: tuple[Text, ...] = ()
    """All that are printed from it in a day, in their order; none: the job is run by itself."""
    begins_ml: float | None = None
    """Clay in it when this piece of a day, or the rest of a stopped print, begins; null: it is put on later,
    or the job is run by itself."""
    is_on: bool = False
    """Whether it is on before this piece of a day, or the rest of a print, begins, and not loaded for it."""


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


class EdgeRecord(Record):
    """Where one band of colour follows another on the piece."""

    clays: dict[Text, float]
    """The mixture that follows: share of each clay, together 1."""
    wanted_mm: float
    """Nozzle height that was asked for."""
    start_mm: float
    """Nozzle height at which it begins to show (5 %)."""
    half_mm: float
    full_mm: float
    """Nozzle height at which it is full (95 %)."""
    low_mm: float | None = None
    """In 95 prints of 100 it counts as showing from here on at the earliest; null: no spread is known."""
    high_mm: float | None = None
    """And from here on at the latest."""


class LineRecord(Record):
    """The clay between the cartridge's outlet and the nozzle's tip."""

    clay_ml: float = 0.0
    at_start: Text = ""
    """Colour that it must be full of when the job begins."""
    at_end: dict[Text, float] = {}
    """ml of each colour in it when the job is done, the last loaded first."""
    slugs: tuple[SlugRecord, ...] = ()
    """What it holds at the start, in the order in which it goes in; none where that is one clay."""


class MeteringRecord(Record):
    """How the config that the job was made with measures clay."""

    unit: Text
    """What E counts: the config's `clay: metering: unit`."""
    file: Text | None = None
    """The config file that gave it; null: none did, or it is not known."""
    ml_per_unit: float | None
    """Clay for one unit of E; null: the file has no E, and clay goes by the path."""
    wet_density_g_ml: float
    path_bead: Text | None = None
    """How wide and how high the bead is by which clay goes with the path, and by which keys; null: it goes by
    E, or an earlier gpost made it."""


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
    trials: tuple[Text, ...] = ()
    """Which trials are missing for this job, the one first that moves a pause most."""
    defaults: dict[Text, tuple[Text, ...]] = {}
    """Figures of this summary that rest on gpost's own defaults, not on the config: on which keys."""


class ClayRecord(Record):
    """A clay to wedge for the job, ml as printed."""

    name: Text
    piece_ml: float
    beside_ml: float
    """Run out beside the piece."""
    left_ml: float
    """What stays in hose and cartridges: reserve, margin, and what has not come by the end."""
    slab_ml: float
    waste_ml: float
    clay_ml: float
    """All of that, less `on_ml`."""
    wet_g: float
    """And its wet mass."""
    stains_g: dict[Text, float] = {}
    """Grams of each colourant, dry; none: the studio names none for it."""
    water_g: float = 0.0
    """Water for the dry powder."""
    on_ml: float = 0.0
    """What is in hose and cartridge already when a day goes on: `clay_ml` is so much less."""


class SlabRecord(Record):
    """The slab that the piece is printed on."""

    x_mm: float
    """Its middle, machine mm."""
    y_mm: float
    x_size_mm: float
    y_size_mm: float
    thickness_mm: float
    wet_g: float
    dry_g: float = 0.0
    round: bool = False
    """Whether it is a round one, `x_size_mm` across."""


class OutsideRecord(Record):
    """The piece from outside to outside, its bead counted and in height its slab, at one time of its life."""

    x_mm: float
    y_mm: float
    height_mm: float
    wall_mm: float
    """Thickness of the wall."""


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
    """Height after firing, that of the slab included."""
    foot_x_mm: float = 0.0
    """Middle of the foot, machine mm."""
    foot_y_mm: float = 0.0
    outside_wet: OutsideRecord | None = None
    outside_dry: OutsideRecord | None = None
    """null: how much it shrinks in drying is not known (`clay: drying_percent`)."""
    outside_fired: OutsideRecord | None = None
