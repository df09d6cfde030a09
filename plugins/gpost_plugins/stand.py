"""Step `stand`: slows the layers that would be laid before the wall below can bear them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.api import (
    EULER_OVER,
    LEAST_FACTOR,
    SLENDER,
    Bearing,
    Field,
    Intention,
    Note,
    NotNegative,
    Plan,
    Positive,
    ScaleFeed,
    Settings,
    Step,
    Stiffness,
    Survey,
    Wall,
    down_to_thousandths,
    feed_scales,
    flat_wall_mm,
    hookimpl,
    margins,
    need_one_piece,
    safe_rise_mm_min,
    shell_knock_down,
    shell_limit_pa,
    slow_factor,
    spot_words,
    tube_mm,
    waits_s,
    wall_of,
    yield_needed_pa,
)

SAME_MARGIN = 1e-3
ESTIMATE = (
    "this is an estimate from the yield stress and the stiffening in the config; it knows no lean, no crack "
    "and no draught, and needs your own trial with this clay before you trust a tall piece to it"
)


class StandSettings(Settings):
    """What the clay bears, from the potter's own trials."""

    yield_stress_pa: Positive = Field(
        2000.0,
        description="Yield stress of the clay as it leaves the nozzle, Pa; from tubes printed until they "
        "fold (`gpost calibrate --tube`), or from a fall cone. Soft printing clay is said to have 1000 to "
        "10000 (common practice, no source).",
    )
    stiffening_pa_s: NotNegative = Field(
        0.3,
        description="How fast the yield stress grows in the standing wall, Pa/s; from two tubes printed at "
        "two rates of rise. 0 to 1 is said to be usual (common practice, no source); 0 counts on none.",
    )
    safety_factor: float = Field(
        1.5, ge=1, le=10, description="How many times what lies on it a layer is to bear."
    )
    shape_factor: float = Field(
        SLENDER,
        ge=1,
        le=2,
        description="Pressure that a wall bears over its yield stress: 1.732 if slender (von Mises), 2 at "
        "the most (Tresca). With a yield stress from tubes leave it as it is.",
    )
    elastic_modulus_pa: Positive | None = Field(
        None,
        description="Elastic modulus of the fresh wall, Pa, if you have it from somewhere; no trial here "
        "gives it. Left out: buckling is not looked at.",
    )
    buckling_factor: float = Field(
        EULER_OVER,
        ge=1,
        le=10,
        description="By how much the heights at which a flat wall or a whole pot buckles are divided before "
        "they are believed: 1 is theory itself; 2 to 3 is advised, since hollow cylinders of cement paste "
        "stood a half to a third of it. For dents `shell_knock_down_percent` stands in its place.",
    )
    shell_knock_down_percent: float | None = Field(
        None,
        gt=0,
        le=100,
        description="How much is believed of the height at which a round wall dents by theory, percent; 100 "
        "is theory itself. Left out: by NASA SP-8007 for the pot's radius over its wall (from memory), from "
        "tests of dry cylinders, not of clay. `buckling_factor` is not laid on top of it.",
    )
    floor_mm_min: NotNegative = Field(300.0, description="No move is slowed below this feed, mm/min.")


class Stand(Step[StandSettings]):
    """Slows the layers that the wall below them couldn't bear yet.

    Fresh clay carries little and stiffens slowly. For each layer gpost reckons what lies on it and what
    it bears at that time, and lays the next layers no sooner than they can be borne: only the layers
    that need it become slower, none faster than the file has it. It is an estimate: find the yield
    stress and the stiffening by trials with your own clay, and the safety factor by how your pots stand.

        steps:
          - stand:
              yield_stress_pa: 2500
              stiffening_pa_s: 0.4
              safety_factor: 1.5
    """

    name = "stand"
    Settings = StandSettings
    needs_api = 2
    after = ("cold", "purge", "swap", "refill", "fan", "taper")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One feed factor for each run of layers that has to wait, and what it costs."""
        need_one_piece(survey)
        clay, wall = self._clay(plan), _wall(plan)
        waits = waits_s(wall, _done_s(plan), clay)
        needed = np.where(np.isfinite(waits), waits, 0.0)  # nothing from where no time helps
        scales = list(self._scales(survey, plan, needed))
        slower = plan.adding(self.name, scales)
        yield from scales
        yield self._bears(survey, plan, clay, wall)
        helps = bool(np.isfinite(waits).all())
        yield self._cost(plan, slower, needed, helps=helps)
        yield from self._short(survey, slower, clay, wall, helps=helps)
        yield from self._buckling(survey, plan, wall)
        yield Note(ESTIMATE)

    def _clay(self, plan: Plan) -> Stiffness:
        settings = self.settings
        return Stiffness(
            settings.yield_stress_pa,
            settings.stiffening_pa_s,
            plan.config.clay.wet_density_g_ml,
            settings.shape_factor,
            settings.safety_factor,
        )

    def _scales(self, survey: Survey, plan: Plan, extra_s: NDArray[np.float64]) -> Iterator[ScaleFeed]:
        """One ScaleFeed for each run of layers with one factor below 1."""
        factors = np.ones(len(extra_s))
        for index in np.flatnonzero(extra_s > 1e-6):
            wanted = slow_factor(survey.layers[index], float(plan.layer_times_s[index] + extra_s[index]))
            factors[index] = min(wanted / float(plan.layer_factors[index]), 1.0)
        factors = np.maximum(down_to_thousandths(factors), LEAST_FACTOR)
        return feed_scales(survey, factors, self.settings.floor_mm_min, "stand")

    def _bears(self, survey: Survey, plan: Plan, clay: Stiffness, wall: Wall) -> Note:
        """The margin as sliced, and what a straight wall of this height would need."""
        found = margins(wall, _done_s(plan), clay)
        worst = int(np.argmin(found))
        height_mm = float(survey.layers["height_mm"].max())
        needed_pa = yield_needed_pa(height_mm, clay.density_g_ml, clay.factor) * clay.safety
        return Bearing(
            f"before this step the least margin is {found[worst]:.2f} times, in {_at(survey, worst)}; with "
            f"the safety factor of {clay.safety:g} the base of a straight wall of {height_mm:.0f} mm needs "
            f"{needed_pa:.0f} Pa in the end, and {_rise(clay)}",
            clay=clay,
        )

    def _cost(self, plan: Plan, slower: Plan, extra_s: NDArray[np.float64], *, helps: bool) -> Note:
        count = int(np.count_nonzero(extra_s > 1e-6))
        if not count:
            return Note("no layer has to be slower" if helps else "no layer was slowed, as it would not help")
        added_s = slower.total_s - plan.total_s
        return Note(
            f"{count} layer{'s are' if count > 1 else ' is'} slower, to let those below bear "
            f"{self.settings.safety_factor:g} times what lies on them, which adds {added_s / 60:.1f} min"
        )

    def _short(
        self, survey: Survey, plan: Plan, clay: Stiffness, wall: Wall, *, helps: bool
    ) -> Iterator[Note]:
        """Warn where a layer still bears too little."""
        found = margins(wall, _done_s(plan), clay)
        short = np.flatnonzero(found < clay.safety - SAME_MARGIN)
        if not len(short):
            return
        worst = int(short[np.argmin(found[short])])
        bear, them = ("s still bear", "them") if len(short) > 1 else (" still bears", "it")
        yield Note(
            f"{len(short)} layer{bear} less than {clay.safety:g} times what lies on {them}, the least "
            f"{found[worst]:.2f} times in {_at(survey, worst)}; {self._why_short(clay, helps=helps)}",
            warning=True,
        )

    def _why_short(self, clay: Stiffness, *, helps: bool) -> str:
        """Why slowing doesn't do it, and what does."""
        if clay.stiffening_pa_s <= 0:
            return (
                "slowing can't help clay that doesn't stiffen (stiffening_pa_s is 0): use stiffer clay, or a "
                "thicker or lower wall"
            )
        if not helps:
            return (
                "slowing can't help where a layer is too soft for its own mass as it is laid: use stiffer "
                "clay or thinner layers"
            )
        return (
            f"slowing is not enough (the feed stays above {self.settings.floor_mm_min:g} mm/min): use "
            "stiffer clay, a thicker wall, or pauses to set"
        )

    def _buckling(self, survey: Survey, plan: Plan, wall: Wall) -> Iterator[Note]:
        """The second bound: a warning unless even a free flat wall of this height is safe.

        A pot lies somewhere between a free flat wall and a round tube, and both heights are too high by
        theory; so nothing but a trial tells for a height between the two.
        """
        if self.settings.elastic_modulus_pa is None:
            return
        height_mm = float(survey.layers["height_mm"].max())
        found = self._heights(survey, plan, wall, self.settings.elastic_modulus_pa)
        said = f"{found.words}; the piece is {height_mm:.0f} mm high, "
        if height_mm <= found.flat_safe_mm:
            yield Note(f"{said}which is below both")
        elif height_mm <= found.round_safe_mm:
            yield Note(
                f"{said}which lies between the two: this estimate can't tell whether it stands, so make your "
                "own trial with this clay and this wall before you count on it",
                warning=True,
            )
        else:
            yield Note(
                f"{said}which is too much even for a round pot, and slowing doesn't help: use stiffer clay, "
                "a thicker wall or a lower piece; it is an estimate, and your own trial decides",
                warning=True,
            )

    def _heights(self, survey: Survey, plan: Plan, wall: Wall, modulus_pa: float) -> Buckles:
        """At what heights such a wall buckles; dents are looked for in each layer, by what lies on it.

        A dent starts where the wall is flattest, so there a layer counts by its longer side.
        """
        layers, density = survey.layers, plan.config.clay.wet_density_g_ml
        thick_mm = plan.bead_width_mm
        sides_mm = np.stack([layers[f"{axis}_max_mm"] - layers[f"{axis}_min_mm"] for axis in "xy"])
        radius_mm = max(float(np.median(sides_mm.min(axis=0))) / 2, thick_mm / 2)
        radii_mm = np.maximum(sides_mm.max(axis=0) / 2, thick_mm / 2)
        dents_pa = shell_limit_pa(modulus_pa, radii_mm, thick_mm)
        percent = self.settings.shell_knock_down_percent
        if percent is None:
            shares = shell_knock_down(radii_mm, thick_mm)
        else:
            shares = np.full(len(radii_mm), percent / 100)
        presses_pa = np.maximum(wall.pressure_pa(len(radii_mm) - 1, density), 1e-12)
        worst = int(np.argmin(shares * dents_pa / presses_pa))
        height_mm = float(layers["height_mm"].max())
        return Buckles(
            flat_mm=flat_wall_mm(modulus_pa, thick_mm, density),
            beam_mm=tube_mm(modulus_pa, radius_mm, thick_mm, density),
            dent_mm=height_mm * float(dents_pa[worst] / presses_pa[worst]),
            over=self.settings.buckling_factor,
            share=float(shares[worst]),
        )


class Buckles(NamedTuple):
    """Heights at which a wall buckles by theory, and what is believed of them."""

    flat_mm: float
    """A free flat wall."""
    beam_mm: float
    """A round pot, as a whole."""
    dent_mm: float
    """A round pot, by dents."""
    over: float
    """By what the first two are divided."""
    share: float
    """By what the third is multiplied instead."""

    @property
    def flat_safe_mm(self) -> float:
        """No wall of that thickness buckles lower."""
        return self.flat_mm / self.over

    @property
    def round_safe_mm(self) -> float:
        """The lower of both ways in which a round pot buckles; no lower than if it were flat."""
        return max(min(self.beam_mm / self.over, self.dent_mm * self.share), self.flat_safe_mm)

    @property
    def words(self) -> str:
        """All of them."""
        return (
            f"by its stiffness alone a free flat wall would buckle at {self.flat_mm:.0f} mm, a round pot "
            f"like this as a whole at {self.beam_mm:.0f} mm and by dents at {self.dent_mm:.0f} mm; walls "
            f"buckle lower than theory has it, so with the buckling factor of {self.over:g}, and for dents "
            f"the knock-down to {100 * self.share:.0f} % in its place, only {self.flat_safe_mm:.0f} and "
            f"{self.round_safe_mm:.0f} mm can be counted on"
        )


def _rise(clay: Stiffness) -> str:
    """At what rise the base always bears with the safety."""
    if clay.stiffening_pa_s <= 0:
        return "as the clay doesn't stiffen, no rise is slow enough to go higher than it bears when fresh"
    rise = safe_rise_mm_min(clay.stiffening_pa_s, clay.density_g_ml, clay.factor, clay.safety)
    return f"one that rises at {rise:.2f} mm/min or slower would keep that factor at any height"


def _wall(plan: Plan) -> Wall:
    layers = plan.survey.layers
    return wall_of(layers["height_mm"], layers["laid_ml"])


def _done_s(plan: Plan) -> NDArray[np.float64]:
    """When each layer is laid, s from the start; waiting, which would only help, is not counted."""
    return np.maximum.accumulate(plan.layer_clock_s[1:])


def _at(survey: Survey, index: int) -> str:
    return spot_words(survey, survey.start_of(index))


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Stand]
