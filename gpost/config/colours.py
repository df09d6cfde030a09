"""Clays by name, and colour by height as a potter asks for it."""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from gpost.common.later import later
from gpost.config.settings import ClayName, FullPercent, Percent, Positive, Settings

_SWATCH = later(r"#[0-9a-fA-F]{6}")


def _known_colour(text: str) -> str:
    if not _SWATCH.fullmatch(text):
        raise ValueError(
            "write a colour as # and six of the signs 0 to 9 and a to f, two each for red, green and blue, "
            'in quotation marks, such as "#2f4d86"'
        )
    return text


Swatch = Annotated[
    str, AfterValidator(_known_colour), Field(json_schema_extra={"pattern": f"^{_SWATCH.pattern}$"})
]
"""A colour as pictures take it."""


class Stain(Settings):
    """A colourant in a clay."""

    name: ClayName
    """What it is, as it stands on its bag."""
    percent: FullPercent
    """How much of it, percent of the dry mass of the clay."""


class NamedClay(Settings):
    """A clay of the studio, by the name that bands, swaps and messages call it."""

    name: ClayName
    """What it is called everywhere. A name that is spelt in two ways counts as two clays."""
    swatch: Swatch | None = None
    """Its colour in pictures, as `#rrggbb`. Left out: pictures hatch it."""
    wet_density_g_ml: Annotated[float, Field(ge=1, le=3)] | None = None
    """Of this clay as it is printed. Left out: that of `clay:`."""
    water_percent: Percent | None = None
    """Water in it, percent of the wet mass. Left out: that of `clay:`."""
    stains: tuple[Stain, ...] = ()
    """What colours it: a list of `name` and `percent` of the dry mass. Left out: nothing."""


class Band(Settings):
    """A stretch of height in one clay, or blended from one to another."""

    to_mm: Positive | None = None
    """Nozzle height at which it ends. Left out, for the last one: the top of the piece."""
    clay: ClayName | None = None
    """The clay of a plain band. Give this or `blend`."""
    blend: tuple[ClayName, ClayName] | None = None
    """The clays at the bottom and at the top of a blend. Give this or `clay`."""
    steps: Annotated[int, Field(ge=1, le=50)] = 5
    """Number of mixtures that a blend is made of. Steps thinner than a layer are warned of and left out."""
    edge_mm: Positive | None = None
    """The widest that the change at its lower edge may be, from first trace to full; a warning says when it
    can't be as sharp. Left out: any."""

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if (self.clay is None) == (self.blend is None):
            raise ValueError("give exactly one of clay and blend")
        return self

    @property
    def clays(self) -> tuple[str, ...]:
        """The clays it is made of, from the bottom up."""
        return (str(self.clay),) if self.blend is None else self.blend

    @property
    def name(self) -> str:
        """What a warning calls it: `the band of white`, `the blend from white to blue`."""
        return (
            f"the band of {self.clay}"
            if self.blend is None
            else "the blend from {} to {}".format(*self.blend)
        )


class Bands(Settings):
    """What the piece is to look like, from the bottom up, and how the cartridge is loaded."""

    bands: Annotated[tuple[Band, ...], Field(min_length=1)]
    """The bands from the bottom up."""
    line_holds: ClayName | None = None
    """Clay that is in the hose already: it shows first. Left out: it is empty, and filled as the sheet
    says."""
    show: Literal["half", "start"] = "half"
    """Whether a band begins where it is half or where it first shows, if the hose mixes."""
    loaded_from: Literal["plunger", "outlet"] = "plunger"
    """The end at which the cartridge is filled: what goes in first then comes out first, or last. The
    wrong end turns the piece's colours upside down."""

    @model_validator(mode="after")
    def _rise(self) -> Self:
        before_mm = 0.0
        for band in self.bands[:-1]:
            if band.to_mm is None:
                raise ValueError("every band but the last needs to_mm, where it ends")
            if band.to_mm <= before_mm:
                raise ValueError(
                    f"the band to {band.to_mm:g} mm ends below where it begins, {before_mm:g} mm"
                )
            before_mm = band.to_mm
        last_mm = self.bands[-1].to_mm
        if last_mm is not None and last_mm <= before_mm:
            raise ValueError(f"the band to {last_mm:g} mm ends below where it begins, {before_mm:g} mm")
        return self

    @property
    def clays(self) -> list[str]:
        """All clays that are named, each once, in the order of their bands."""
        return list(dict.fromkeys(clay for band in self.bands for clay in band.clays))
