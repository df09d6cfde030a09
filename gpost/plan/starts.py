"""Clay that starts lose: E moves some that doesn't come, for it goes into pressure.

Net clay is what E meters. Of what is metered at the very start and after each pause, the file's own too,
`cartridge: start_loss_ml` don't arrive at the nozzle: what is on its way through the hose is later by so
much. No cartridge lasts the longer for it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.plan.intentions import Pause
from gpost.spot import Spot

if TYPE_CHECKING:
    from gpost.plan.plan import Plan

Floats = NDArray[np.float64]


class Starts(NamedTuple):
    """The starts of a job, from the first to the last; arrays of shape (starts,)."""

    begin_ml: Floats
    """Net clay metered before each."""
    lost_ml: Floats
    """Clay that is metered after it and doesn't come: less where the next one is nearer."""

    def come_ml(self, metered_ml: ArrayLike) -> Floats:
        """Clay that has come when so much is metered, ml, shape of `metered_ml`."""
        at_ml = np.asarray(metered_ml, dtype=np.float64)
        if not len(self.begin_ml):
            return at_ml
        past_ml = np.clip(at_ml[..., None] - self.begin_ml, 0.0, self.lost_ml)
        return np.asarray(at_ml - past_ml.sum(axis=-1))

    def after(self, metered_ml: float, pushed_ml: float) -> float:
        """Net clay metered when so much has come since `metered_ml` were; of several the least."""
        if not len(self.begin_ml):
            return metered_ml + pushed_ml
        come_ml = float(self.come_ml(metered_ml)) + pushed_ml
        return come_ml + float(self.lost_ml[self.come_ml(self.begin_ml) < come_ml].sum())

    def before(self, metered_ml: float, pushed_ml: float) -> float:
        """Net clay metered at which so much is still to come until `metered_ml` are."""
        return self.after(metered_ml, -pushed_ml)


def starts(plan: Plan) -> Starts:
    """That of the job, and those after its pauses."""
    loss_ml = plan.config.cartridge.start_loss_ml
    if not loss_ml:
        return Starts(np.zeros(0), np.zeros(0))
    own = [plan.clay_before(Spot(pause.line)) for pause in plan.own_pauses]
    planned = [item.start_ml for item in plan.insertions if isinstance(item.intention, Pause)]
    begin_ml = np.sort(np.array([0.0, *own, *planned]))
    return Starts(begin_ml, np.minimum(np.append(np.diff(begin_ml), np.inf), loss_ml))
