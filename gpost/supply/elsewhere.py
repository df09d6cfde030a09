"""Which colours of steps show elsewhere in a rest than asked for."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.plan.intentions import Pause
from gpost.plan.intime import wanted
from gpost.plan.layers import spot_words
from gpost.plan.plan import Plan
from gpost.plan.starts import starts
from gpost.supply.cartridges import contents
from gpost.supply.contents import LEAST_ML
from gpost.supply.loads import since_ml

LAYERS = 1
"""By no more than that a colour may be off without a word, as bands may."""


def elsewhere(plan: Plan) -> Iterator[str]:
    """A sentence for each colour still to show that does so more than a layer off, as all is filled now."""
    survey, at_ml, come = plan.survey, since_ml(plan), starts(plan)
    for pause, outlet_ml in _changes(plan):
        shows_ml = come.after(outlet_ml, plan.config.cartridge.hose.pushed_ml(pause.shows_share))
        if shows_ml < at_ml + LEAST_ML:
            continue
        asked = wanted(pause)
        words = f"{pause.asked_mm:g} mm" if pause.asked_mm is not None else spot_words(survey, asked)
        shows = plan.find_clay(shows_ml, pause.spot)
        if shows.line >= survey.laid_until:
            yield f"{pause.colour}, asked for from {words} on, doesn't show in this piece any more"
        elif abs(survey.index_at(shows.line) - survey.index_at(asked.line)) > LAYERS:
            yield (
                f"{pause.colour}, asked for from {words} on, shows from {spot_words(survey, shows)} on, as "
                "hose and cartridge are filled now"
            )


def _changes(plan: Plan) -> Iterator[tuple[Pause, float]]:
    """(pause, net clay at which its clay begins to leave the cartridge) of each colour put on for a place.

    Of those that have been hose and cartridge say where theirs is: it was moved by what is run out, and by
    what came otherwise than planned.
    """
    at_ml, been, is_past = since_ml(plan), dict[str, Pause](), True
    for item in plan.insertions:
        pause = item.intention
        if pause is plan.restart:
            is_past = False
        elif isinstance(pause, Pause) and pause.shows_at is not None and pause.colour is not None:
            if is_past:
                been[pause.colour] = pause
            else:
                yield pause, item.start_ml
    for colour, pause in been.items():
        cuts = [cut for cut in contents(plan).cuts if cut.mix == {colour: 1.0}]
        left_ml = [cut.outlet_ml for cut in cuts if cut.outlet_ml <= at_ml + LEAST_ML]
        yield from ((pause, outlet_ml) for outlet_ml in left_ml[-1:])
