"""What the machine's display says at a pause: which clay goes in, and how much, cut to what it can show."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cached_property

from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.supply.cartridges import CartridgeUse, cartridges, contents
from gpost.supply.loading import slugs_of
from gpost.supply.slugs import Slug
from gpost.supply.sure import loaded_ml, taken_chance
from gpost.supply.weights import weigh


class Messages:
    """The messages of a plan's pauses."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan

    def of(self, pause: Pause) -> str:
        """What is shown while the machine waits: the step's own words, or else what is to be put on.

        Of several ways to say it the longest that the display shows whole; the last of them is cut. Raises
        ValueError for a pause that is not in the plan.
        """
        if pause.message is not None:
            return pause.message
        if not pause.new_cartridge:
            return pause.kind.capitalize()
        letters = self._plan.config.machine.display_letters
        said = list(self._ways_to_say(pause, self._use(pause)))
        return next((text for text in said if len(text) <= letters), said[-1][:letters].rstrip())

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
        return list(slugs_of(self._plan, contents(self._plan)))

    def _ways_to_say(self, pause: Pause, use: CartridgeUse) -> Iterator[str]:
        """From the most words to the fewest."""
        plan, ml = self._plan, pause.load_ml
        if ml is None:
            ml = loaded_ml(plan.config, use.need_ml, taken_chance(plan))
        whole, letters = math.ceil(ml - 1e-6), plan.config.machine.display_letters
        grams = math.ceil(weigh(plan.config, use.parts_of(ml)).wet_g - 1e-6)
        name, verb = self._name(use), "Refill" if pause.colour is None else "Load"
        named = f"{name} " if name else ""
        yield f"{verb} {use.number}: {named}{whole} ml, {grams} g"
        yield f"{verb} {named}{whole} ml {grams} g"
        yield f"{named}{whole}ml {grams}g"
        yield f"{named}{whole}ml"
        yield f"{name[: max(letters - len(f' {whole}ml'), 1)].rstrip()} {whole}ml".strip()

    def _name(self, use: CartridgeUse) -> str:
        """The clay, or how many slugs; nothing for the one clay of a job that has no name for it."""
        plan = self._plan
        if plan.config.colours is not None:
            inside = [slug for slug in self._slugs if slug.cartridge == use.number]
            return f"{len(inside)} slugs" if len({tuple(slug.mix) for slug in inside}) > 1 else use.colour
        changes = any(change.colour is not None for change in self._changes)
        named = "colour" in plan.config.clay.model_fields_set or use.colour != plan.config.clay.colour
        return use.colour if named or changes else ""
