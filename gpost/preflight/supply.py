"""Cartridges that are asked for more clay than they have."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.supply.cartridges import running_out

SLACK_ML = 0.05


class Supply:
    """Asks the plan, so that purges, refills and swaps count."""

    def __init__(self, config: Config) -> None:
        self._config = config

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding, at the line where the first of them runs out.

        No more than a warning where the config says nothing of the cartridge.
        """
        short = list(running_out(plan, SLACK_ML))
        if short:
            use, spot = short[0]
            known = "cartridge" in self._config.model_fields_set
            yield Finding("short-clay", "error" if known else "warning", spot.line, (
                f"cartridge {use.number} ({use.colour}) runs out here: {use.need_ml:.0f} ml are asked of "
                f"it, and {use.usable_ml:.0f} ml can be counted on; put `refill` into the steps, after "
                f"`swap`, or take a larger cartridge"
            ), len(short))  # fmt: skip
