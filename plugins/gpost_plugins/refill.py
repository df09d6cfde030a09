"""Step `refill`: pauses where the cartridge runs out."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Literal

from gpost.api import (
    SAME_ML,
    CartridgeUse,
    Config,
    DryChance,
    Field,
    Intention,
    MovePause,
    Note,
    NotNegative,
    Pause,
    PlainText,
    Plan,
    Settings,
    Spot,
    Step,
    Stretch,
    Survey,
    WholeNumber,
    cartridges,
    clay_at,
    counted_on_ml,
    even_places,
    front_spot,
    full_places,
    hookimpl,
    in_time,
    lag_ml,
    ml_text,
    moved,
    need_layers,
    on_from,
    owed_ml,
    reach_ml,
    spot_words,
    wanted,
    with_pause,
)

ROUNDS = 10
"""How often refills and the swaps that they push are placed anew before giving up."""


class RefillSettings(Settings):
    """Where refills come and what is done at them."""

    share: Literal["full", "even"] = Field(
        "full",
        description="full: each cartridge is used to its end; even: as few cartridges, but equal shares "
        "between the swaps.",
    )
    prime_ml: NotNegative = Field(
        10.0, description="Clay run out at the park after the refill, ml; it comes from the new cartridge."
    )
    join_layers: WholeNumber = Field(
        3,
        description="A refill due at most so many layers before a swap's pause is joined with it.",
    )
    margin_percent: Annotated[float, Field(gt=0, le=50)] = Field(
        5.0,
        description="The chance of running dry that you take for each cartridge, percent: the pause comes "
        "so much earlier. It is counted from the spreads in the config (`clay: metering: spread_percent`, "
        "`cartridge: reserve_spread_ml`); without them nothing is added.",
    )
    within_layer: bool = Field(
        False, description="Allow a pause inside a layer where one layer needs more than a cartridge."
    )
    message: PlainText | None = Field(
        None, description="Shown on the display; left out: `Refill` and the colour that is due."
    )


class Refill(Step[RefillSettings]):
    """Pauses for a new cartridge where the clay runs out.

    What may be counted on is `volume_ml` less `reserve_ml` of `cartridge:`; the first cartridge may be
    part-used (`first_ml`). Purges and primes count. The pause comes at the start of the last layer that
    the cartridge still reaches, never in the middle of a wall unless `within_layer` allows it. With
    `share: even` the cartridges are used alike, so that none runs near its end. A refill that is due
    shortly before a swap is joined with it: the swap then comes that much earlier, and gpost says how
    much earlier the colour shows.

        steps:
          - refill:
              share: even
              prime_ml: 15
    """

    name = "refill"
    Settings = RefillSettings
    after = ("cold", "base", "purge", "swap")

    def unfit(self, config: Config) -> Iterable[tuple[str, str]]:
        """A prime that leaves nothing of a cartridge for the piece."""
        usable_ml = counted_on_ml(config, None, self._chance)
        if self.settings.prime_ml + config.machine.pause.relieve_ml < usable_ml:
            return []
        margin = "" if usable_ml == config.cartridge.usable_ml else " and the margin of the spreads"
        wrong = (
            f"a cartridge has only {usable_ml:.4g} ml to count on, its reserve{margin} left out; prime less, "
            "or use a larger one"
        )
        return [("prime_ml", wrong)]

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Place the refills, then the swaps they push, until both agree; else as near as they come."""
        need_layers(survey)
        yield DryChance(self._chance)
        tried: dict[tuple[Spot, ...], tuple[Plan, set[int]]] = {}
        base = plan
        while len(tried) < ROUNDS and (spots := _spots(base, _changes(base))) not in tried:
            layout, joined = tried[spots] = self._laid_out(base)
            for index, _, pause in moved(layout, in_time(layout)):
                base = with_pause(base, index, pause)
        layout, joined = min(tried.values(), key=lambda found: max(_lags_ml(found[0]).values(), default=0.0))
        yield from self._intentions(plan, layout, joined)

    @property
    def _chance(self) -> float:
        """The chance of running dry that is taken."""
        return self.settings.margin_percent / 100

    def _laid_out(self, plan: Plan) -> tuple[Plan, set[int]]:
        """The plan with refills, for swaps that stand where they do, and which entries it joined to one."""
        prime_ml = self.settings.prime_ml
        refill_ml = reach_ml(plan, self._pause(Spot(0)), self._chance) - prime_ml
        joined: set[int] = set()
        refills: list[Spot] = []
        spot, start_ml, first_ml = Spot(0), 0.0, reach_ml(plan, None, self._chance)
        for index in [*_changes(plan), None]:
            following = None if index is None else _pause(plan, index)
            end = Spot(plan.survey.lines) if following is None else following.spot
            end_ml = plan.total_ml if following is None else clay_at(plan, following)
            stretch = Stretch(spot, start_ml, end, end_ml, first_ml, refill_ml, prime_ml + owed_ml(plan))
            places = full_places(plan, stretch, within_layer=self.settings.within_layer)
            if index is not None and self._joins(plan, index, places):
                plan = with_pause(plan, index, _joined(_pause(plan, index), places.pop()))
                joined.add(index)
            elif self.settings.share == "even":
                places = even_places(plan, stretch, places)
            refills += places
            if index is not None:
                pause = _pause(plan, index)
                first_ml = reach_ml(plan, pause, self._chance)
                spot, start_ml = pause.spot, clay_at(plan, pause)
        return plan.adding(self.name, map(self._pause, refills), keeping=False), joined

    def _joins(self, plan: Plan, index: int, places: list[Spot]) -> bool:
        """Whether the last of the refills is so near the swap that follows that one pause does for both."""
        pause = _pause(plan, index)
        if not places or pause.shows_at is None:
            return False
        layers = plan.survey.index_at(pause.spot.line) - plan.survey.index_at(places[-1].line)
        return layers <= self.settings.join_layers

    def _pause(self, spot: Spot) -> Pause:
        return Pause(
            spot=spot,
            kind="refill",
            reason="the cartridge is used up",
            message=self.settings.message,
            prime_ml=self.settings.prime_ml,
            new_cartridge=True,
            within_layer=self.settings.within_layer,
        )

    def _intentions(self, plan: Plan, layout: Plan, joined: set[int]) -> Iterator[Intention]:
        """What makes `layout` out of `plan`, in words and deeds."""
        refills = list(self._refills(plan, layout))
        elsewhere = _elsewhere(plan, layout, joined, refills)
        for index, before, after in moved(plan, layout):
            why = JOINED if index in joined else PUSHED
            yield Note(_moved_text(layout, before, after, why))
        yield from elsewhere
        yield from refills
        if not refills and not joined:
            yield Note(f"none is needed; {_first_use(layout)}")
        yield from _late(layout)

    def _refills(self, plan: Plan, layout: Plan) -> Iterator[Pause]:
        """The pauses that `layout` has beyond `plan`, each with what is known of it by now."""
        uses = cartridges(layout)
        changes = [pause for pause in layout.pauses if pause.new_cartridge]
        for number, pause in enumerate(changes):
            if any(entry.intention is pause for entry in layout.entries[len(plan.entries) :]):
                following = changes[number + 1] if number + 1 < len(changes) else None
                reason = _reason(layout, uses[number + 1], following)
                yield dataclasses.replace(pause, reason=reason)


JOINED = "joined with the refill that is due there"
PUSHED = "the primes of refills on the way push its clay on"


def _changes(plan: Plan) -> list[int]:
    """Indexes of the pauses that bring a new cartridge, in printing order."""
    found = [i for i, entry in enumerate(plan.entries) if isinstance(entry.intention, Pause)]
    return sorted((i for i in found if _pause(plan, i).new_cartridge), key=lambda i: _pause(plan, i).spot)


def _spots(plan: Plan, indexes: Iterable[int]) -> tuple[Spot, ...]:
    """Where pauses are."""
    return tuple(_pause(plan, index).spot for index in indexes)


def _elsewhere(plan: Plan, layout: Plan, joined: set[int], refills: list[Pause]) -> list[MovePause]:
    """What has to be said beside the refills: which swaps are joined with one, or are held where they are.

    The plan keeps the others in time by itself; where no place is in time it may come to another one.
    """
    joins = [_move(plan, layout, index, JOINED) for index in sorted(joined)]
    kept = plan.adding("", [*joins, *refills])
    changes = _changes(plan)
    if _spots(kept, changes) == _spots(layout, changes):
        return joins
    held = [index for index in changes if index in joined or _pause(plan, index).in_time]
    return [_move(plan, layout, index, JOINED if index in joined else PUSHED) for index in sorted(held)]


def _move(plan: Plan, layout: Plan, index: int, why: str) -> MovePause:
    """The pause of that index to where `layout` has it, in time or not."""
    return MovePause(_pause(plan, index), dataclasses.replace(_pause(layout, index), in_time=False), why)


def _lags_ml(plan: Plan) -> dict[int, float]:
    """Net clay by which each swap that is to be in time misses its height, by index."""
    early = [index for index in _changes(plan) if _pause(plan, index).in_time]
    return {index: abs(lag_ml(plan, _pause(plan, index))) for index in early}


def _pause(plan: Plan, index: int) -> Pause:
    pause = plan.entries[index].intention
    assert isinstance(pause, Pause)
    return pause


def _joined(pause: Pause, spot: Spot) -> Pause:
    return dataclasses.replace(pause, spot=spot, reason=f"{pause.reason}; {JOINED}", in_time=False)


def _reason(plan: Plan, use: CartridgeUse, following: Pause | None) -> str:
    """Why there is a refill, and how far it does; how much to load is said with what to load."""
    text = f"cartridge {use.number} follows ({use.colour})"
    if following is None:
        return f"{text}, which lasts to the end"
    if following.kind == "refill":
        return text
    change = f"the swap to {following.colour}" if following.kind == "swap" else f"the {following.kind} pause"
    return f"{text}, which lasts until {change} at {spot_words(plan.survey, following.spot)}"


def _moved_text(plan: Plan, before: Pause, after: Pause, why: str) -> str:
    """Where a swap has gone, and where its colour is expected now."""
    survey = plan.survey
    front = front_spot(plan, after)
    text = (
        f"the swap to {after.colour} moves from {spot_words(survey, before.spot)} to "
        f"{spot_words(survey, after.spot)}, {why}; {after.colour} is expected at {spot_words(survey, front)}"
    )
    layers = survey.index_at(wanted(after).line) - survey.index_at(front.line)
    if not layers:
        return text
    count = f"{abs(layers)} layer{'s' if abs(layers) > 1 else ''}"
    return f"{text}, {count} {'earlier' if layers > 0 else 'later'} than asked"


def _first_use(plan: Plan) -> str:
    """What is asked of each cartridge, as tally says it."""
    config = plan.config
    return "; ".join(
        f"cartridge {use.number} gives {ml_text(config, use.need_ml)} of the "
        f"{ml_text(config, use.usable_ml)} ml that can be counted on"
        for use in cartridges(plan)[on_from(plan) :]
    )


def _late(plan: Plan) -> Iterator[Note]:
    """Warn of swaps that nothing could bring in time.

    One that would stay where it is, if it were placed anew, is as near as the file lets it come: before an
    arc, which isn't split, or at a layer's start.
    """
    layer_ml = float(plan.survey.layers["clay_ml"].max())
    unsettled = {index for index, _, _ in moved(plan, in_time(plan))}
    for index, off_ml in _lags_ml(plan).items():
        pause = _pause(plan, index)
        if index in unsettled and off_ml > (0.01 if pause.within_layer else layer_ml + SAME_ML):
            yield Note(
                f"beside the refills, {pause.colour} can't be brought to "
                f"{spot_words(plan.survey, wanted(pause))}; it is expected at "
                f"{spot_words(plan.survey, front_spot(plan, pause))}. Use clear: purge for "
                f"it, or move it some layers",
                warning=True,
            )


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Refill]
