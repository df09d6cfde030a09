"""One printed piece: what its summary predicted, and what was found."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pydantic import ValidationError

from gpost.common.plain import shown, storable
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.errors import ConfigError
from gpost.report.model import Summary

SAME_SHARE = 0.03
"""Figures of config and summary may differ by so much: a density that was weighed once more."""


LEAST_AMOUNT, MOST_AMOUNT = 1e-9, 1e9
"""Grams, ml, minutes or ml per unit beyond these are nobody's."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the potter found; None: not looked at."""

    weighed_g: float | None = None
    """Wet mass of the whole piece, without its slab, fresh from the machine."""
    minutes: float | None = None
    """Machine time; waiting not counted."""
    left_g: float | None = None
    """Wet mass left in a cartridge that gave no more."""
    softness: int | None = None
    """The potter's own scale: 1 stiff, 5 soft."""
    notes: str = ""
    turned: str = ""
    """What was turned by hand, as `--turned` takes it, with spaces between."""
    flow_share: float = 1.0
    """Clay metered in the piece with that, as a share of what was predicted."""
    time_share: float = 1.0
    """Machine time with that, as a share of what was predicted."""


@dataclass(frozen=True, slots=True)
class Predicted:
    """What the summary said, and for one of an earlier gpost the config."""

    source: str
    clay_ml: float
    """All clay of the job."""
    piece_g: float
    """Wet mass of the piece alone, without what was run out beside it; of a rest that of the whole piece."""
    minutes: float
    """Machine time; of a rest its own."""
    density_g_ml: float
    ml_per_unit: float | None
    """Of E, in the config it was printed with; None: metered by path."""
    slab_g: float = 0.0
    """Wet mass of its slab; 0 also where an earlier gpost kept the print."""
    rest_g: float | None = None
    """Of a rest the wet mass that it lays itself; None: it is no rest, or an earlier gpost kept it."""


@dataclass(frozen=True, slots=True)
class PrintRow:
    """One row of the log."""

    number: int
    """Counted from 1, in the order of adding."""
    added: str
    """Date and time, UTC, ISO 8601."""
    predicted: Predicted
    found: Found
    dropped: str | None = None
    """When it was taken back, as `added`; None: it counts."""

    @property
    def found_ml_per_unit(self) -> float | None:
        """ml per unit of E that the weighed piece speaks for."""
        if self.predicted.ml_per_unit is None or self.mass_ratio is None:
            return None
        return self.predicted.ml_per_unit * self.mass_ratio

    @property
    def mass_ratio(self) -> float | None:
        """Weighed over predicted, with what was turned by hand."""
        return _ratio(self.found.weighed_g, self.predicted.piece_g * self.found.flow_share)

    @property
    def time_ratio(self) -> float | None:
        """Taken over predicted, with what was turned by hand."""
        return _ratio(self.found.minutes, self.predicted.minutes * self.found.time_share)

    @property
    def left_ml(self) -> float | None:
        """Clay left in the cartridge."""
        return _ratio(self.found.left_g, self.predicted.density_g_ml)


def senseless(row: PrintRow) -> str:
    """What makes no sense in a row, which gpost has not written so; "" if nothing."""
    said, found = row.predicted, row.found
    for name, value, lowest in (
        ("clay_ml", said.clay_ml, 0.0),
        ("piece_g", said.piece_g, LEAST_AMOUNT),
        ("predicted_min", said.minutes, LEAST_AMOUNT),
        ("density_g_ml", said.density_g_ml, LEAST_AMOUNT),
        ("ml_per_unit", said.ml_per_unit, LEAST_AMOUNT),
        ("slab_g", said.slab_g, 0.0),
        ("rest_g", said.rest_g, 0.0),
        ("weighed_g", found.weighed_g, 0.0),
        ("found_min", found.minutes, 0.0),
        ("left_g", found.left_g, 0.0),
        ("flow_share", found.flow_share, LEAST_AMOUNT),
        ("time_share", found.time_share, LEAST_AMOUNT),
    ):
        if value is not None and not lowest <= value <= MOST_AMOUNT:
            return f"its {name} is {value:g}"
    if found.softness not in (None, 1, 2, 3, 4, 5):
        return f"its softness is {found.softness}"
    for name, when in (("added", row.added), ("dropped", row.dropped)):
        try:
            datetime.fromisoformat(when or row.added)
        except ValueError:
            return f"its {name} is no date"
    return ""


def predicted(summary: Summary, config: Config) -> Predicted:
    """What the log keeps of a summary; the config says only what an earlier gpost's summary doesn't.

    Raises ConfigError for one of a piece without clay, or if the config is plainly not the one that such an
    earlier summary was made with.
    """
    density = _density_g_ml(summary)
    piece_g = _piece_g(summary)
    if piece_g <= 0 or summary.time_s <= 0:
        raise ConfigError("the summary is of a piece without clay, so there is nothing to compare with")
    if summary.metering is None:
        _check_density(summary, density, config)
        per_unit = ml_per_unit(config.clay.metering)
    else:
        per_unit = summary.metering.ml_per_unit
    minutes = summary.time_s / 60
    slab_g = 0.0 if summary.slab is None else summary.slab.wet_g
    rest_g = None if summary.resume is None else laid_g(summary)
    source = storable(summary.source)
    return Predicted(source, summary.clay_ml, piece_g, minutes, density, per_unit, slab_g, rest_g)


def _piece_g(summary: Summary) -> float:
    """Wet mass of the whole piece, as it stands on the scales; an earlier gpost said it by colours alone."""
    return summary.piece.wet_g or laid_g(summary)


def laid_g(summary: Summary) -> float:
    """Wet mass of what this job itself lays of the piece: of a rest that rest alone."""
    return sum(
        colour.piece_ml * colour.wet_g / colour.clay_ml for colour in summary.colours if colour.clay_ml > 0
    )


def agree(one: float, other: float) -> bool:
    """Whether two figures are the same to SAME_SHARE."""
    return abs(one - other) <= SAME_SHARE * max(abs(one), abs(other))


def agree_or_none(one: float | None, other: float | None) -> bool:
    """The same of figures that may be missing: both are, or neither is and they agree."""
    return one == other or (one is not None and other is not None and agree(one, other))


def _density_g_ml(summary: Summary) -> float:
    """Wet density of all its clays together; 0 if it has none."""
    clay_ml = sum(colour.clay_ml for colour in summary.colours)
    return sum(colour.wet_g for colour in summary.colours) / clay_ml if clay_ml > 0 else 0.0


def _check_density(summary: Summary, density_g_ml: float, config: Config) -> None:
    """Refuse a config of other clay: what it says of E would be taken for the summary's."""
    given = config.clay.wet_density_g_ml
    if not agree(given, density_g_ml):
        raise ConfigError(
            f"the summary of {shown(summary.source)} was made with clay of {density_g_ml:.4g} g per ml, but "
            f"the config says {given:.4g}; name the configs that it was printed with, or run the piece again "
            "for a summary that holds them"
        )


def parse_summary(data: bytes, name: str) -> Summary:
    """A summary as `gpost run --json` and `gpost batch` write it. Raises ConfigError for anything else."""
    try:
        summary = Summary.model_validate_json(data)
    except ValidationError as error:
        raise ConfigError(
            f"{shown(name)} is no summary; give the JSON file that gpost run --json or gpost batch wrote"
        ) from error
    if summary.dry:
        raise ConfigError(f"{shown(name)} is the summary of a rehearsal, in which nothing is printed")
    return summary


def read_summary(path: Path) -> Summary:
    """The summary in a file. Raises ConfigError as `parse_summary` does."""
    try:
        return parse_summary(path.read_bytes(), path.name)
    except OSError as error:
        raise ConfigError(f"{shown(path)} can't be read: {error.strerror or error}") from error


def _ratio(found: float | None, said: float) -> float | None:
    return None if found is None else found / said
