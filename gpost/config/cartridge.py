"""The cartridge and the hose behind it as frozen, checked values."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from gpost.clay import holdup
from gpost.clay.mixing import Hose
from gpost.config.settings import MOST, BesideOthers, Count, NotNegative, Positive, Settings, at_keys


class Cartridge(Settings):
    """The cartridge and the hose behind it."""

    volume_ml: Positive = 1000.0
    """Clay in a full cartridge, its reserve included. Too large a number, and it runs empty in the wall."""
    reserve_ml: NotNegative = 50.0
    """Clay left in the cartridge that must not be counted on. Too small, and the wall ends before the
    refill."""
    reserve_spread_ml: NotNegative | None = None
    """How far what is left over differs from cartridge to cartridge, as a standard deviation, ml:
    `reserve_ml` is their average then. Left out: `reserve_ml` is a limit, to which nothing is added."""
    first_ml: Positive | None = None
    """Clay in the first cartridge, its reserve included, if it is part-used. Left out: full."""
    first_number: Count = 1
    """What the first cartridge is called; those that follow count on from it. A day gives its own numbers to
    each piece."""
    line_ml: NotNegative = 60.0
    """Clay between the cartridge's outlet and the nozzle tip: hose, fittings, auger. If it is wrong, a new
    colour shows too low or too high. From the hose, if that is given instead."""
    line_spread_ml: NotNegative | None = None
    """How far `line_ml` may be off, as a standard deviation, ml (`gpost calibrate --colour` says it).
    Left out: not known, and the heights of colours are given without a margin for it."""
    start_loss_ml: NotNegative = 0.0
    """Clay that each start loses to pressure: E moves it, and it doesn't come (`gpost calibrate` says it).
    Counted after each pause: a new colour shows that much later, and no cartridge lasts the longer for it."""
    keeps_min: Positive | None = None
    """How long clay keeps in the closed cartridge, from loading until its last leaves it, before
    `old-cartridge` warns of it. Left out: it keeps for days, and is not counted."""
    hose_bore_mm: Positive | None = None
    """Inner diameter of the hose, with its length another way to give `line_ml`, which goes with its square.
    Left out: `line_ml` counts."""
    hose_length_mm: Positive | None = None
    """Length of the hose, from the cartridge's outlet to the auger."""
    auger_ml: NotNegative = 0.0
    """Clay behind the hose, in auger and nozzle; counted only with the hose."""
    empty_g: Positive | None = None
    """Mass of the empty cartridge, with all that is weighed with it. Left out: the summary has no weights to
    compare with when a cartridge comes off."""
    bore_mm: Positive | None = None
    """Inner diameter of the cartridge, for lengths of clay in it. Left out: they are not given."""
    least_slug_mm: NotNegative | None = None
    """The thinnest slug that goes through the cartridge as it was loaded: `gpost load` warns of thinner ones,
    which smear in the funnel of the outlet, and makes no thinner steps of a blend. Left out: a quarter of the
    bore (common practice, no source)."""
    mixing_stages: Annotated[float, Field(ge=1)] | None = None
    """How sharply one clay follows another through the hose, from a trial (`gpost calibrate --colour`): the
    more stages, the sharper. Left out: as a plug, not mixed."""
    plug_part: Annotated[float, Field(ge=0, lt=1)] = 0.0
    """Share of the hose, from 0 to 1, that moves as a plug all the same; the rest mixes in stages. From the
    same trial."""

    @model_validator(mode="after")
    def _usable(self) -> Self:
        if self.reserve_ml >= self.volume_ml:
            wrong = f"reserve_ml, {self.reserve_ml:g}, must be less than volume_ml, {self.volume_ml:g}"
            raise ValueError(f"{wrong}, or nothing is left to print with")
        if (self.reserve_spread_ml or 0.0) > self.volume_ml / 2:
            raise at_keys(self, {"reserve_spread_ml": ValueError("it is more than half of a cartridge")})
        wrong = self.misfit(self.first_ml)
        if wrong:
            raise at_keys(self, {"first_ml": BesideOthers(f"it {wrong}")})
        return self

    @model_validator(mode="after")
    def _line_from_hose(self) -> Self:
        """One way alone may say what hose and auger hold: in ml, or by bore and length."""
        hose = (self.hose_bore_mm, self.hose_length_mm)
        if hose == (None, None):
            if self.auger_ml:
                raise ValueError("auger_ml is counted with a hose; give hose_bore_mm and hose_length_mm too")
            return self
        if self.hose_bore_mm is None or self.hose_length_mm is None:
            raise ValueError("hose_bore_mm and hose_length_mm say together what the hose holds; give both")
        if "line_ml" in self.model_fields_set:
            raise ValueError(
                "line_ml and the hose both say what the hose holds; take line_ml out, or hose_bore_mm, "
                "hose_length_mm and auger_ml"
            )
        held_ml = holdup.line_ml(self.hose_bore_mm, self.hose_length_mm, self.auger_ml)
        if held_ml > MOST:
            raise ValueError("a hose that holds so much can't be meant; give its bore and length in mm")
        object.__setattr__(self, "line_ml", held_ml)  # frozen for all others; not marked as given
        return self

    @model_validator(mode="after")
    def _spread_fits(self) -> Self:
        if (self.line_spread_ml or 0.0) > self.line_ml / 2:
            wrong = f"it is more than half of the {self.line_ml:.4g} ml that the hose holds"
            raise at_keys(self, {"line_spread_ml": BesideOthers(wrong)})
        return self

    @property
    def hose(self) -> Hose:
        """Hose and auger, as clay runs through them."""
        return Hose(self.line_ml, self.mixing_stages, self.plug_part)

    def misfit(self, held_ml: float | None) -> str:
        """What is wrong with so much clay in a cartridge, its reserve included; "" if nothing. None: full."""
        if held_ml is None or self.reserve_ml < held_ml <= self.volume_ml:
            return ""
        if held_ml > self.volume_ml:
            return f"is more than the {self.volume_ml:g} ml that a cartridge holds (cartridge: volume_ml)"
        return (
            f"is all reserve, of which {self.reserve_ml:g} ml stay behind (cartridge: reserve_ml); load more"
        )

    def usable_of_ml(self, held_ml: float | None) -> float:
        """What may be counted on of so much clay in a cartridge, its reserve included; None: full."""
        return self.usable_ml if held_ml is None else max(held_ml - self.reserve_ml, 0.0)

    @property
    def usable_ml(self) -> float:
        """Clay of a full cartridge that may be counted on."""
        return self.volume_ml - self.reserve_ml
