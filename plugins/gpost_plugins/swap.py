"""Step `swap`: a pause so that clay of another colour shows from a chosen height on."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterable, Iterator
from typing import Any, Literal

from pydantic import model_validator

from gpost.api import (
    BEGINS,
    HALF,
    SAME_ML,
    BeadSettings,
    ClayName,
    Config,
    Count,
    Expected,
    Field,
    Intention,
    LayClay,
    Note,
    NotNegative,
    Pause,
    PlainText,
    Plan,
    PlanError,
    Positive,
    Settings,
    Spot,
    Step,
    Survey,
    above_top_words,
    clay_from_layer,
    delay_ml,
    early_spot,
    expected_text,
    find_layer,
    first_layer_from,
    hookimpl,
    lay_beside,
    need_one_piece,
    spot_words,
    spread_notes,
    start_ml,
    wanted,
)

SAME_MM = 0.01


class SwapPlace(Settings):
    """Where the colour shows, and how the hose is cleared of the one before."""

    at_height_mm: Positive | None = Field(
        None, description="Nozzle height from which on the new colour shows, mm. Give this or `at_layer`."
    )
    at_layer: Count | None = Field(
        None, description="First layer in the new colour, counted from 1. Give this or `at_height_mm`."
    )
    colour: ClayName = Field("second clay", description="Name of the new clay.")
    clear: Literal["early", "purge"] = Field(
        "early",
        description="early: stop so much earlier that the print itself empties the hose; purge: stop at "
        "the height and run out beside the piece what the hose takes to be clear.",
    )
    show: Literal["half", "start"] = Field(
        "half",
        description="Where the hose mixes the clays (cartridge: mixing_stages): what is to be at the height, "
        "the middle of the change or its first trace.",
    )
    where: Literal["layer", "exact"] = Field(
        "layer",
        description="For early: stop at the nearest layer's start, or exactly at the spot, inside a move "
        "(before an arc, which is not split).",
    )
    onto: Literal["bed", "park"] = Field(
        "bed", description="For purge: lay beads on the bed beside the piece, or let it drop at the park."
    )
    clear_percent: float = Field(
        95.0,
        ge=50,
        le=99.9,
        description="For purge, where the hose mixes the clays: run out so much that the new colour is full "
        "to this share, percent. A hose that does not mix is clear after its volume.",
    )
    extra_ml: NotNegative = Field(0.0, description="For purge: clay run out beyond that, ml.")
    prime_ml: NotNegative = Field(
        5.0, description="Clay run out at the park after the wait, ml; a purge has that much less to run out."
    )
    load_ml: Positive | None = Field(
        None, description="Clay in the new cartridge, its reserve included, ml; left out: full."
    )
    if_shorter: Literal["refuse", "skip"] = Field(
        "refuse", description="Where the piece ends below that: refuse it, or go without this swap."
    )
    message: PlainText | None = Field(
        None, description="Shown on the display; left out: `Load` and the colour."
    )


class SwapSettings(BeadSettings, SwapPlace):
    """All settings of a swap; those of the place are shown first."""

    stack: Count = Field(3, le=20, description="For purge: how many beads may lie on one another.")

    @model_validator(mode="after")
    def _fit_together(self) -> SwapSettings:
        if (self.at_height_mm is None) == (self.at_layer is None):
            raise ValueError("give exactly one of at_height_mm and at_layer")
        if self.clear == "purge" and self.where == "exact":
            raise ValueError("where: exact goes with clear: early; a purge is laid at a layer's start")
        if self.clear == "early" and self.extra_ml:
            raise ValueError("extra_ml goes with clear: purge; with clear: early choose a lower height")
        return self


class Swap(Step[SwapSettings]):
    """Pauses so that clay of another colour shows from a height or layer on.

    The new clay has to push the old through the hose and the auger first: the hose volume of
    `cartridge:`. With `clear: early` the pause comes that much clay earlier, nothing is wasted, and the
    new colour arrives at your height: at the layer's start nearest to it, or exactly there with
    `where: exact`. Where the hose mixes the clays, that is the middle of the change, or its first trace
    with `show: start`, and the summary says where it is full. With `clear: purge` the pause comes at your
    height and the old clay is laid beside the piece, or dropped at the park with `onto: park`: so much that
    the new colour is full to `clear_percent` where the hose mixes. Use the
    step once for each colour, from the bottom up. `refill` may have to move a swap, and says so.

        steps:
          - swap:
              at_height_mm: 60
              colour: blue
          - swap:
              at_layer: 55
              colour: white
              clear: purge
              onto: bed
    """

    name = "swap"
    Settings = SwapSettings
    after = ("cold", "base", "place", "slab", "purge")

    def unfit(self, config: Config) -> Iterable[tuple[str, str]]:
        """A load that no cartridge holds, or of which nothing can be counted on."""
        wrong = config.cartridge.misfit(self.settings.load_ml)
        return [("load_ml", f"it {wrong}")] if wrong else []

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """The pause, which the plan keeps in time, and where its clay is expected."""
        need_one_piece(survey)
        settings = self.settings
        exact = settings.where == "exact" or self._rises(survey)
        found = find_layer(plan, settings.at_layer, settings.at_height_mm, exact=exact)
        if found is None:
            return [self._too_high(survey)]
        target = found.spot
        if target <= survey.start_of(0):
            raise PlanError(
                f"{settings.colour} from layer 1 on the first clay would never show; leave the swap "
                f"out and load {settings.colour} from the start (clay: colour)"
            )
        pause = self._purged(plan, target) if settings.clear == "purge" else self._early(plan, target)
        later = plan.adding(self.name, [pause])
        _check_order(later)
        spread = spread_notes(survey, settings.colour, settings.at_height_mm, found)
        return [pause, *spread, *self._told(plan, later)]

    def _rises(self, survey: Survey) -> bool:
        """Whether the wall passes the height that is asked for inside a turn: then that is where it shows."""
        height_mm = self.settings.at_height_mm
        if height_mm is None or self.settings.clear == "purge":
            return False
        index = survey.first_above(height_mm) - 1
        if not 0 <= index < len(survey.layers):
            return False
        low_mm, high_mm = (float(survey.layers[name][index]) for name in ("low_mm", "height_mm"))
        return low_mm + SAME_MM < height_mm < high_mm - SAME_MM

    def _too_high(self, survey: Survey) -> Note:
        """What is said of a swap above the top. Raises PlanError unless it may be skipped."""
        settings = self.settings
        said = f"{settings.colour}: {above_top_words(survey, settings.at_layer, settings.at_height_mm)}"
        if settings.if_shorter == "refuse":
            raise PlanError(f"{said}; choose a lower place, or say if_shorter: skip")
        return Note(f"{said}; there is no swap")

    def _early(self, plan: Plan, target: Spot) -> Pause:
        """The pause that comes before its colour."""
        pause = self._pause(plan, target, self.settings.prime_ml, None)
        if start_ml(plan, pause) < clay_from_layer(plan, 0) - SAME_ML:
            raise PlanError(self._too_low(plan, pause))
        return dataclasses.replace(pause, spot=early_spot(plan, pause))

    def _purged(self, plan: Plan, target: Spot) -> Pause:
        """The pause at the target itself, with the hose's clay run out beside the piece."""
        settings = self.settings
        total_ml = self._clearing_ml(plan, target) + settings.extra_ml
        if settings.onto == "park":
            return self._pause(plan, target, max(total_ml, settings.prime_ml), None)
        rest_ml = total_ml - settings.prime_ml
        if rest_ml <= 0:
            return self._pause(plan, target, settings.prime_ml, None)
        why = f"old clay before {settings.colour}"
        instead = "use onto: park or clear: early"
        try:
            lay = lay_beside(plan, settings, rest_ml, target, why=why, tall=True, instead=instead)
        except PlanError as error:
            raise PlanError(f"{why}: {error}") from error
        return self._pause(plan, target, settings.prime_ml, lay)

    def _clearing_ml(self, plan: Plan, target: Spot) -> float:
        """What has to run out until the new colour is full to the share that is asked for."""
        pause = self._pause(plan, target, 0.0, None)
        return delay_ml(plan, dataclasses.replace(pause, shows_share=self.settings.clear_percent / 100))

    def _pause(self, plan: Plan, target: Spot, prime_ml: float, lay: LayClay | None) -> Pause:
        settings = self.settings
        return Pause(
            spot=target,
            kind="swap",
            reason=f"{settings.colour} is to show from {self._asked(plan.survey, target)} on",
            message=settings.message,
            prime_ml=prime_ml,
            new_cartridge=True,
            colour=settings.colour,
            load_ml=settings.load_ml,
            shows_at=target,
            asked_mm=settings.at_height_mm,
            shows_share=HALF if settings.show == "half" else BEGINS,
            lay=lay,
            within_layer=settings.where == "exact",
            in_time=settings.clear == "early",
        )

    def _asked(self, survey: Survey, target: Spot) -> str:
        """What was asked for: the config's own height, or a layer."""
        height_mm = self.settings.at_height_mm
        return spot_words(survey, target) if height_mm is None else f"{height_mm:g} mm"

    def _too_low(self, plan: Plan, pause: Pause) -> str:
        """The sentence for a height that the new clay can't reach in time."""
        have_ml = plan.clay_before(wanted(pause)) - clay_from_layer(plan, 0)
        need_ml = delay_ml(plan, pause) - pause.prime_ml
        lowest = first_layer_from(plan, clay_from_layer(plan, 0) + need_ml)
        text = (
            f"{pause.colour}: only {have_ml:.1f} ml are laid before "
            f"{spot_words(plan.survey, wanted(pause))}, but {need_ml:.1f} ml must pass before the new clay "
            f"shows; "
        )
        if lowest < len(plan.survey.layers):
            text += f"choose {spot_words(plan.survey, plan.survey.start_of(lowest))} or higher, "
        return text + "use clear: purge, or start with the new colour"

    def _told(self, plan: Plan, later: Plan) -> Iterator[Note]:
        """Where the pause comes to stand in the plan with it, and its clay; what is odd about its name."""
        pause = later.of(Pause)[-1]
        yield Expected(expected_text(later, pause), pause=pause)
        if self.settings.clear == "purge":
            yield self._run_out(plan, pause)
        yield from _same_again(later, pause)

    def _run_out(self, plan: Plan, pause: Pause) -> Note:
        """How much is run out, and how full the colour is then."""
        hose = plan.config.cartridge.hose
        text = f"{pause.clay_ml:.0f} ml are run out beside the piece for {pause.colour}"
        if not hose.mixes:
            return Note(f"{text}, of the {hose.holdup_ml:.0f} ml that the hose holds")
        full = f"it is then {self.settings.clear_percent:g} % {pause.colour}"
        return Note(f"{text}: the hose holds {hose.holdup_ml:.0f} ml and mixes, and {full}")


def _same_again(plan: Plan, pause: Pause) -> Iterator[Note]:
    """Warn of a change to the clay that is loaded already: it costs a pause, and nothing shows.

    Swaps that are listed later may still come between.
    """
    clay, last = plan.config.clay.colour, None
    for swap in [other for other in plan.pauses if other.colour is not None]:
        if swap.colour == clay and pause in (last, swap):
            yield Note(
                f"{clay} is loaded already when the swap to it comes at "
                f"{spot_words(plan.survey, swap.spot)}: it costs a pause, and nothing changes. Give each "
                f"clay its own name (colour; that of the first clay is clay: colour); for a fresh cartridge "
                f"of the same clay use refill; if another clay comes between, list its swap first",
                warning=True,
            )
        clay, last = str(swap.colour), swap


def _check_order(plan: Plan) -> None:
    """Raise PlanError when two swaps can't both be done: same place, or colours out of order."""
    swaps = [pause for pause in plan.pauses if pause.new_cartridge and pause.shows_at is not None]
    for first, second in itertools.pairwise(swaps):
        if first.spot == second.spot or wanted(first) >= wanted(second):
            low, high = (spot_words(plan.survey, wanted(pause)) for pause in (first, second))
            raise PlanError(
                f"the swaps to {first.colour} (from {low}) and to {second.colour} (from {high}) would have "
                f"to stop at the same place, or the later one first; set them further apart, or use clear: "
                f"purge for both"
            )


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Swap]
