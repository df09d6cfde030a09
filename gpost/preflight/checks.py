"""Runs all checks: along with the survey, and on the plan."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.added import Added
from gpost.preflight.crossed import Crossed
from gpost.preflight.flow import Flow
from gpost.preflight.heating import Heating
from gpost.preflight.homing import Homing
from gpost.preflight.model import LEAVES_THE_ROOM, Finding
from gpost.preflight.reach import Reach
from gpost.preflight.supply import Supply
from gpost.preflight.times import Times
from gpost.preflight.wall import Wall


class Preflight:
    """One file's checks. `observe` goes along with the survey; then `findings`, or `clear_for_run`."""

    def __init__(self, config: Config, *, allow: Collection[str] = ()) -> None:
        """`allow` names findings that stop nothing."""
        homing, heating = Homing(), Heating()
        reach = Reach(config, homing)
        self._along = (homing, reach, Flow(config), heating)
        self._of_file = (*self._along[:-1], Wall(config))
        self._of_plan = (heating, Added(config), Crossed(reach), Supply(config), Times(config))
        self._allow = frozenset(allow)

    def observe(self, follower: Follower, clay_ml: NDArray[np.float64]) -> None:
        """Look at one block of the file: its moves, and the clay of each in ml, shape (m,)."""
        for family in self._along:
            family.observe(follower, clay_ml)

    def findings(self, plan: Plan, *, complete: bool = True) -> tuple[Finding, ...]:
        """All findings, errors first, then in the order of the file.

        `complete` False: a step has failed; what other steps might have mended is left out.
        """
        families = (*self._of_file, *(self._of_plan if complete else ()))
        found = chain.from_iterable(family.findings(plan) for family in families)
        judged = [f.allowed() if f.severity == "error" and f.name in self._allow else f for f in found]
        return tuple(sorted(judged, key=_order))

    def clear_for_run(self, plan: Plan) -> tuple[Finding, ...]:
        """The warnings. Raises PlanError that names every error, and what allows those that can be meant."""
        found = self.findings(plan)
        errors = [finding for finding in found if finding.severity == "error"]
        if errors:
            raise PlanError("\n".join([*(finding.sentence for finding in errors), way_out(errors)]))
        return found


def way_out(errors: Iterable[Finding]) -> str:
    """What to do. To send the nozzle where there is no room for it is nothing to advise."""
    names = list(dict.fromkeys(finding.name for finding in errors))
    if not set(names).isdisjoint(LEAVES_THE_ROOM):
        return "Mend that first"
    return f"Mend that; to go on in spite of it, say {' '.join(f'--allow {name}' for name in names)}"


def _order(finding: Finding) -> tuple[bool, int]:
    return finding.severity != "error", -1 if finding.line is None else finding.line
