"""What the machine's display says at a wait: which clay goes in or is in, and how much."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import cached_property

from gpost.plan.intentions import Ask, Pause
from gpost.plan.plan import Plan
from gpost.supply.bands import name_of
from gpost.supply.cartridges import CartridgeUse, cartridges, contents
from gpost.supply.contents import LEAST_ML
from gpost.supply.loading import grams, slugs_of
from gpost.supply.names import Names, names_of
from gpost.supply.shortnames import short_names, short_words
from gpost.supply.slugs import Slug
from gpost.supply.sure import taken_chance, to_load_ml


class Messages:
    """The messages of a plan's pauses."""

    def __init__(self, plan: Plan, others: Sequence[Names] = ()) -> None:
        """`others`: names of clays in other pieces of a day, which must be told apart from these."""
        self._plan, self._others = plan, others

    def of(self, pause: Pause) -> str:
        """What is shown while the machine waits: the step's own words, or else what is to be put on.

        Raises ValueError for a pause that is not in the plan.
        """
        if pause.message is not None:
            return pause.message
        return self.to_load(pause) if pause.new_cartridge else pause.kind.capitalize()

    def to_load(self, pause: Pause, number: int | None = None, load_ml: float | None = None) -> str:
        """What is to be put on in a pause, in the longest words that the display shows whole.

        `number` and `load_ml`: what the cartridge is called, and must hold, if that goes beyond this piece.
        Raises ValueError for a pause that is not in the plan.
        """
        use = self._use(pause)
        if load_ml is None:
            load_ml = pause.load_ml if pause.load_ml is not None else self._least_ml(use)
        return self._longest(list(self._ways_to_say(pause, use, number, load_ml)))

    def least_ml(self, pause: Pause) -> float:
        """What the cartridge of a pause must hold for this plan. Raises ValueError as `to_load` does."""
        return self._least_ml(self._use(pause))

    def at_start(self, number: int | None = None) -> tuple[str, ...]:
        """Which clay the job begins with, in hose and cartridge: texts to be shown one after the other.

        Both go together if they hold the same clay, or if the display has room. `number`: what the cartridge
        is called.
        """
        first = self._uses[0]
        inside, ml = self._name(first), self._start_ml(first)
        hose = inside if self._plan.config.colours is None else self._in_hose
        cartridge = "cartridge" if number is None else f"cartridge {number}"
        amount, named = f"{inside} {ml}".strip(), "In" if number is None else f"{number}"
        if hose in (inside, ""):
            whole = f"Hose and {cartridge}: {amount} ml"
            return (self._longest([whole, f"{named}: {amount} ml", self._cut(inside, ml, number)]),)
        both = f"Hose: {hose}, {cartridge}: {amount} ml"
        if len(both) <= self._letters:
            return (both,)
        alone = f"{cartridge.capitalize()}: {amount} ml"
        return (
            self._longest([f"In the hose: {hose}", f"Hose: {hose}", f"Hose: {self._short.get(hose, hose)}"]),
            self._longest([alone, f"{named}: {amount} ml", self._cut(inside, ml, number)]),
        )

    @property
    def _in_hose(self) -> str:
        """The clays that fill it at the start, by the bands."""
        return ", ".join(dict.fromkeys(name_of(slug.mix) for slug in self._slugs if not slug.cartridge))

    def _start_ml(self, first: CartridgeUse) -> int:
        """Clay that the first cartridge holds, whole ml: as the config says, or at least."""
        held_ml = self._plan.config.cartridge.first_ml
        if held_ml is not None:
            return math.floor(held_ml + LEAST_ML)
        return math.ceil(self._least_ml(first) - LEAST_ML)

    def _least_ml(self, use: CartridgeUse) -> float:
        config = self._plan.config
        return min(to_load_ml(config, use.need_ml, taken_chance(self._plan)), config.cartridge.volume_ml)

    def note(self) -> str:
        """What the display calls clays in the messages of this plan, if not by their names; "" by none."""
        texts = [self.of(pause) for pause in self._changes] + [ask.text for ask in self._plan.of(Ask)]
        short = self._short
        cut = [name for name in short if any(_calls(text, name, short[name]) for text in texts)]
        return short_words(short, cut)

    @cached_property
    def _short(self) -> dict[str, str]:
        return short_names(self._plan.config, [names_of(self._plan), *self._others])

    @property
    def _letters(self) -> int:
        return self._plan.config.machine.display_letters

    def _longest(self, said: Sequence[str]) -> str:
        """The first that the display shows whole; the last of them is cut."""
        return next((text for text in said if len(text) <= self._letters), said[-1][: self._letters].rstrip())

    def _use(self, pause: Pause) -> CartridgeUse:
        for number, change in enumerate(self._changes, 1):
            if change is pause:
                return self._uses[number]
        raise ValueError("the pause is not in the plan")

    @cached_property
    def _changes(self) -> list[Pause]:
        found = [item.intention for item in self._plan.insertions]
        return [item for item in found if isinstance(item, Pause) and item.new_cartridge]

    @cached_property
    def _uses(self) -> list[CartridgeUse]:
        return cartridges(self._plan)

    @cached_property
    def _slugs(self) -> list[Slug]:
        plan = self._plan
        return [] if plan.config.colours is None else list(slugs_of(plan, contents(plan)))

    def _ways_to_say(
        self, pause: Pause, use: CartridgeUse, called: int | None, load_ml: float
    ) -> Iterator[str]:
        """From the most words to the fewest."""
        plan, whole = self._plan, math.ceil(load_ml - LEAST_ML)
        load_g = math.ceil(grams(plan.config, use, self._slugs, load_ml) - LEAST_ML)
        name, verb = self._name(use), "Refill" if pause.colour is None else "Load"
        named = f"{name} " if name else ""
        lead = "" if called is None else f"{called}: "
        yield f"{verb} {use.number if called is None else called}: {named}{whole} ml, {load_g} g"
        yield f"{lead or f'{verb} '}{named}{whole} ml {load_g} g"
        yield f"{lead}{named}{whole}ml {load_g}g"
        yield f"{lead}{named}{whole}ml"
        yield self._cut(name, whole, called)

    def _cut(self, name: str, ml: int, number: int | None = None) -> str:
        """A clay's name, cut so that there is room for the amount, and for a cartridge's number."""
        lead = "" if number is None else f"{number}: "
        room = max(self._letters - len(f"{lead} {ml}ml"), 1)
        cut = name if len(name) <= room else self._short.get(name, name)
        return f"{lead}{cut[:room].rstrip()} {ml}ml".strip()

    def _name(self, use: CartridgeUse) -> str:
        """The clay, or how many slugs; nothing for the one clay of a job that has no name for it."""
        plan = self._plan
        if plan.config.colours is not None:
            inside = [slug for slug in self._slugs if slug.cartridge == use.number]
            return f"{len(inside)} slugs" if len({tuple(slug.mix) for slug in inside}) > 1 else use.colour
        changes = any(change.colour is not None for change in self._changes)
        named = "colour" in plan.config.clay.model_fields_set or use.colour != plan.config.clay.colour
        return use.colour if named or changes else ""


def _calls(text: str, name: str, short: str) -> bool:
    """Whether a text calls a clay by its short name."""
    return short in text and name not in text
