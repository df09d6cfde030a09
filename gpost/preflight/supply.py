"""Cartridges that are asked for more clay than they have, or may be, and what of that nobody has measured."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.config.model import Config
from gpost.plan.intentions import Rehearse
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.supply.cartridges import misfit_of_colours, running_out
from gpost.supply.display import Messages
from gpost.supply.loading import colour_doubts
from gpost.supply.loads import on_from
from gpost.supply.sure import DryRisk, chance_words, dry_risks, short_of, taken_chance, to_load_ml
from gpost.supply.unsure import missing_trials

SLACK_ML = 0.05
SAME_CHANCE = 1e-6
"""A refill comes where the chance is just what is taken."""


class Supply:
    """Asks the plan, so that purges, refills and swaps count."""

    def __init__(self, config: Config) -> None:
        self._config = config

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What runs out, else what may; what of the colours can't be; and which trials are missing.

        A rehearsal takes no clay, nor does one of the way to where a stopped print goes on.
        """
        if plan.of(Rehearse) or (plan.restart is not None and plan.restart.look_mm is not None):
            return
        found = list(self._short(plan)) or list(_doubtful(plan))
        yield from found
        wrong = misfit_of_colours(plan)
        if wrong:
            yield Finding("plan", "error", None, wrong)
        yield from (Finding("colours", "warning", None, text) for text in colour_doubts(plan))
        called = Messages(plan).note()
        if called:
            yield Finding("colours", "note", None, called)
        yield from (Finding("missing-trial", "note", None, trial.sentence) for trial in missing_trials(plan))

    def _short(self, plan: Plan) -> Iterator[Finding]:
        """One finding, at the line where the first of them runs out.

        No more than a warning where the config says nothing of the cartridge.
        """
        short = list(running_out(plan, SLACK_ML))
        if short:
            use, spot = short[0]
            known = "cartridge" in self._config.model_fields_set
            remedy = "put `refill` into the steps, after `swap`, or take a larger cartridge"
            if use.stays_on:
                remedy = short_of(plan, use, use.need_ml).words
            yield Finding("short-clay", "error" if known else "warning", spot.line, (
                f"cartridge {use.number} ({use.colour}) runs out here: {use.need_ml:.0f} ml are asked of "
                f"it, and {use.usable_ml:.0f} ml can be counted on; {remedy}"
            ), len(short))  # fmt: skip


def _doubtful(plan: Plan) -> Iterator[Finding]:
    """A warning of cartridges that run dry likelier than is taken, though by the numbers they do."""
    taken = taken_chance(plan)
    risks = [risk for risk in dry_risks(plan)[on_from(plan) :] if risk.dry_chance > taken + SAME_CHANCE]
    if risks:
        first = risks[0]
        likely, most = chance_words(first.dry_chance), chance_words(taken)
        enough_ml = to_load_ml(plan.config, first.use.need_ml, taken)
        remedy = "load more, or let `refill` pause earlier"
        if first.use.stays_on:
            remedy = short_of(plan, first.use, first.use.need_ml).words
        yield Finding("short-clay", "warning", first.dry_from.line, (
            f"cartridge {first.use.number} ({first.use.colour}) may run dry from here on, {_early(first)}: "
            f"by the numbers it has enough, but they are not exact, and in {likely} of all prints it has too "
            f"little. With {enough_ml:.0f} ml in it that is {most}; {remedy}"
        ), len(risks))  # fmt: skip


def _early(risk: DryRisk) -> str:
    layers = risk.early_layers
    return f"{layers} layer{'s' * (layers != 1)} before its end" if layers else "in its last layer"
