"""Records of what is weighed and turned by hand while the machine works."""

from gpost.report.parts import Count, Number, Record, Text


class SafeRecord(Record):
    """The last layer for which a cartridge does."""

    layer: Count
    """Counted from 1; 0: not even the first."""
    height_mm: float
    """Nozzle height when it is done."""
    clock_s: float
    """Machine time when it is done; an estimate, waiting not counted."""


class RemedyRecord(Record):
    """What to do for one weight of a cartridge that is taken off."""

    came_percent: float
    """Clay that has come, of what was expected."""
    clay_g: float
    """Wet mass of what is still in the cartridge then."""
    weighs_g: float | None
    """The same with the cartridge; null: its mass is not known (`cartridge: empty_g`)."""
    more_ml: float
    """To load into the next cartridge beyond what was told; below 0: so much less will do."""
    more_g: float
    safe: SafeRecord | None
    """Where to pause by hand at the latest, as even a full one doesn't do; null: it does."""
    dry: bool
    """Whether it may have run dry, so that as much has come or more."""


class WeighingRecord(Record):
    """A cartridge that is taken off for the next one, and what its weight says of that."""

    cartridge: Number
    """The one that is taken off."""
    held_ml: float
    """What it was told to hold when it was put on; if it held other clay, what it has lost is what counts."""
    held_g: float
    """Wet mass of that."""
    left_g: float
    """Wet mass of what is in it still, if all goes as planned."""
    low_g: float | None
    """From here to `high_g` nothing is to do; null: no spread is known, and every difference counts."""
    high_g: float | None
    empty_g: float | None
    """Mass of the empty cartridge, to be added to all of these; null: not known."""
    remedies: tuple[RemedyRecord, ...]
    """For weights outside of that; between two of them in proportion."""
    several: bool = False
    """Whether the next one is loaded with more clays than one, of which each is to be more or less."""


class ShownRecord(Record):
    """Where a clay shows with the flow turned."""

    colour: Text
    height_mm: float | None
    """Nozzle height; null: it doesn't leave the cartridge, or not in this piece."""
    low_mm: float | None = None
    """Where its turn tilts or waves, the lowest place of that; else null."""
    high_mm: float | None = None
    """And the highest."""


class FlowRecord(Record):
    """The flow turned to so many percent, and left so."""

    percent: float
    safe: SafeRecord | None
    """The last layer for which this cartridge does, loaded as told, its margin counted; null: to its end."""
    visit_s: float
    """When to be there next: at the next wait as planned, or when that layer is done."""
    shows: tuple[ShownRecord, ...] = ()


class SpeedRecord(Record):
    """The speed turned to so many percent, and left so: nothing changes but the clock."""

    percent: float
    visit_s: float
    """When to be there next."""


class KnobRecord(Record):
    """What a knob does that is turned by hand from one place on, in percent of what the file says."""

    cartridge: Number
    """The one that is on."""
    from_layer: Count
    """Counted from 1; 0: from the start."""
    from_height_mm: float
    from_s: float
    visit_s: float
    """When to be there next as planned; estimates, waiting not counted."""
    flows: tuple[FlowRecord, ...]
    """None where clay is metered by path."""
    speeds: tuple[SpeedRecord, ...]
