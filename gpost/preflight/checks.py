"""Runs all checks: along with the survey, and on the plan."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.added import Added
from gpost.preflight.airlevel import AirLevel
from gpost.preflight.crossed import Crossed
from gpost.preflight.filecommands import FileCommands
from gpost.preflight.floating import Floating
from gpost.preflight.flow import Flow
from gpost.preflight.heating import Heating
from gpost.preflight.homing import Homing
from gpost.preflight.model import ALLOWABLE, NOT_ADVISED, SEVERITIES, Finding
from gpost.preflight.offpath import OffPath
from gpost.preflight.offslab import OffSlab
from gpost.preflight.otherair import OtherAir
from gpost.preflight.ownblocks import OwnBlocks
from gpost.preflight.reach import ReachCheck
from gpost.preflight.running import Running
from gpost.preflight.standing import Standing
from gpost.preflight.steadyauger import SteadyAuger
from gpost.preflight.stepnotes import Told
from gpost.preflight.stretches import Stretches
from gpost.preflight.supply import Supply
from gpost.preflight.throughwall import ThroughWall
from gpost.preflight.times import Times
from gpost.preflight.waiting import Waiting
from gpost.preflight.wall import WallCheck


class Preflight:
    """One file's checks: `observe` goes along with the survey, then `findings` judges the plan."""

    def __init__(self, config: Config, *, allow: Collection[str] = ()) -> None:
        """`allow` names findings that stop nothing."""
        homing, heating, stretches = Homing(), Heating(), Stretches()
        air, running, standing = OtherAir(), Running(), Standing(config)
        reach, floating, through = (
            ReachCheck(config, homing),
            Floating(config, stretches),
            ThroughWall(config, stretches),
        )
        families = (homing, reach, Flow(config), floating, through, OwnBlocks(config))
        off_path = OffPath(config)
        self._along = (stretches, *families, off_path, standing, air, running, heating)
        self._of_file = (Told(), *families, off_path, WallCheck(config))
        at_the_plan = (Added(config), Crossed(reach), OffSlab(reach), Supply(config), Times(config))
        self._of_plan = (
            FileCommands(config),
            Waiting(),
            AirLevel(),
            SteadyAuger(config),
            standing,
            air,
            running,
            heating,
            *at_the_plan,
        )
        self._allow = frozenset(allow)

    def observe(self, follower: Follower, clay_ml: NDArray[np.float64]) -> None:
        """Look at one block of the file: its moves, and the clay of each in ml, shape (m,)."""
        for family in self._along:
            family.observe(follower, clay_ml)

    def findings(self, plan: Plan, *, complete: bool = True) -> tuple[Finding, ...]:
        """All findings, errors first, then in the order of the file.

        `complete` False: a step has failed; what other steps might have fixed is left out.
        """
        families = (*self._of_file, *(self._of_plan if complete else ()))
        found = chain.from_iterable(family.findings(plan) for family in families)
        judged = [f.allowed() if f.severity == "error" and f.name in self._allow else f for f in found]
        return in_order(judged)


def in_order(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings as they are told: errors first, then in the order of the file."""
    return tuple(sorted(found, key=_order))


CAUSES = ("e-mode", "off-path")
"""Warnings that may be why a job can't be done: with E read wrongly no step finds its clay, and travels that
count as clay are layers."""


def refusal(found: Sequence[Finding], metering: str = "") -> str:
    """Why a job with errors among these findings is not done: all of them, and what may be allowed.

    Where they hang on amounts of clay, what puts those in doubt comes first, as the likelier cause: E read in
    the wrong mode, or `metering`, what the survey says of clay by E that is another than by the path.
    """
    errors = [finding for finding in found if finding.severity == "error"]
    said = [finding.sentence for finding in errors]
    names = list(dict.fromkeys(finding.name for finding in errors))
    if all(name in ALLOWABLE and name not in NOT_ADVISED for name in names):
        allowing = " ".join(f"--allow {name}" for name in names)
        said.append(f"Fix that; to go on in spite of it, say {allowing}")
    causes = [finding.sentence for finding in found if finding.name in CAUSES]
    if any(" ml" in finding.text for finding in errors):
        first = causes or [metering] * bool(metering)
        return "\n".join([*first, *([MEND_FIRST] if first else []), *said])
    return "\n".join([*said, *causes])


MEND_FIRST = "Mend that first: all amounts of clay rest on it. As they are now,"


def _order(finding: Finding) -> tuple[int, int]:
    return SEVERITIES.index(finding.severity), -1 if finding.line is None else finding.line
