"""How one clay follows another through the hose: a plug, and mixing stages behind it.

A share p of the line's hold-up V is taken to move as a plug; the rest as n equal well-mixed tanks in
series (O. Levenspiel, Chemical Reaction Engineering, 3rd ed. 1999, ch. 14, formulas from memory). When v ml
have been pushed since the change at the line's inlet, the share of the new clay at the nozzle is

    F(v) = P(n, n theta),   theta = (v - p V) / ((1 - p) V),   0 before the plug has passed,

with P the regularised lower incomplete gamma function; n need not be whole. On average the new clay is
V late, whatever n and p. Without stages the whole line is a plug, and F steps from 0 to 1 at V. No number
of stages for a clay hose or auger has been published: it has to be fitted to a trial (`fit_line`).

SciPy is imported where it is used, so that a config without stages never loads it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.clay.spread import spread_of
from gpost.common.records import record

BEGINS, HALF, FULL = 0.05, 0.5, 0.95
"""Share of the new clay at which it starts to show, is half, is full."""
MOST_STAGES = 1e4
"""Beyond, a change can't be told from a plug's."""

LEAST_ML = 1e-9
"""Less than this mixes nothing."""

Floats = NDArray[np.float64]


@record(frozen=True, slots=True)
class Hose:
    """What lies between the cartridge's outlet and the nozzle's tip."""

    holdup_ml: float
    stages: float | None = None
    """Mixing stages; None: the whole line moves as a plug."""
    plug_part: float = 0.0
    """Share of the hold-up that moves as a plug all the same."""

    @property
    def mixes(self) -> bool:
        """Whether a change of clay is spread out at all."""
        return self.stages is not None and self._mixed_ml > LEAST_ML

    def new_share(self, pushed_ml: ArrayLike) -> Floats:
        """Share of the new clay at the nozzle, shape of `pushed_ml`: 0 to 1."""
        pushed = np.asarray(pushed_ml, dtype=np.float64)
        if not self.mixes or self.stages is None:
            return np.where(pushed >= self.holdup_ml, 1.0, 0.0)
        from scipy.special import gammainc

        return np.asarray(gammainc(self.stages, self._scaled(pushed)), dtype=np.float64)

    def new_ml(self, pushed_ml: ArrayLike) -> Floats:
        """New clay that has left the nozzle by then, ml: the integral of `new_share`.

        From the integral of P(n, u) from 0 to x, which is x P(n, x) - n P(n + 1, x).
        """
        pushed = np.asarray(pushed_ml, dtype=np.float64)
        if not self.mixes or self.stages is None:
            return np.maximum(pushed - self.holdup_ml, 0.0)
        from scipy.special import gammainc

        n, x = self.stages, self._scaled(pushed)
        return np.asarray((x * gammainc(n, x) - n * gammainc(n + 1, x)) * self._mixed_ml / n)

    def pushed_ml(self, share: float) -> float:
        """Clay to push until the new one's share at the nozzle is this (0 < share < 1), ml."""
        if not 0 < share < 1:
            raise ValueError(f"a share lies between 0 and 1, not at {share:g}")
        if not self.mixes or self.stages is None:
            return self.holdup_ml
        from scipy.special import gammaincinv

        theta = float(gammaincinv(self.stages, share)) / self.stages
        return self._plug_ml + self._mixed_ml * theta

    @property
    def width_ml(self) -> float:
        """Clay laid while a change goes from just showing to full, ml: no edge can be sharper."""
        return self.pushed_ml(FULL) - self.pushed_ml(BEGINS)

    @property
    def _plug_ml(self) -> float:
        return self.plug_part * self.holdup_ml

    @property
    def _mixed_ml(self) -> float:
        return self.holdup_ml - self._plug_ml

    def _scaled(self, pushed: Floats) -> Floats:
        """n theta, 0 before the plug has passed."""
        assert self.stages is not None
        return np.maximum(pushed - self._plug_ml, 0.0) * (self.stages / self._mixed_ml)


def stages_from_moments(mean_ml: float, variance_ml2: float) -> float:
    """Number of tanks in series from mean and variance of a change: mean^2 / variance (Levenspiel ch. 14).

    For a line with a plug part, the mean is of what comes after the plug.
    """
    if not (mean_ml > 0 and variance_ml2 > 0):
        raise ValueError("mean and variance must be above 0")
    return mean_ml * mean_ml / variance_ml2


class HoseFit(NamedTuple):
    """A line fitted to trials."""

    line: Hose
    off_ml: float
    """Root mean square by which the observed places miss the fitted ones, ml.

    0 for one trial, unless it is longer or shorter than any change of such a line.
    """
    spread_ml: float | None = None
    """How far the hold-up may be off, as a standard deviation, by how trials differ; None for one trial."""


def fit_line(
    trials: Sequence[tuple[float, float]], *, plug_part: float = 0.0, least_ml: float = 0.0
) -> HoseFit:
    """Hold-up and stages from trials: ml pushed when the change began to show, and when it was complete.

    A trial is (began_ml, ended_ml), counted from the change at the cartridge's outlet: where the share of
    the new clay was BEGINS and FULL. By moments first: the share is taken for normal between the two, so V is
    their middle and the standard deviation their distance over the normal quantiles'; then by least squares
    of the gamma quantiles. `least_ml`: no trial is surer than that (standard deviation), however well they
    agree. Raises ValueError unless 0 < began_ml < ended_ml in every trial and
    0 <= plug_part < 1.
    """
    observed = np.asarray(list(trials), dtype=np.float64).reshape(-1, 2)
    if not len(observed) or not 0 <= plug_part < 1:
        raise ValueError("give at least one trial, and a plug part from 0 to below 1")
    if not (np.isfinite(observed).all() and (observed[:, 0] > 0).all() and (np.diff(observed) > 0).all()):
        raise ValueError("in a trial the change begins after more than 0 ml, and ends after it began")
    line = _refined(observed, _by_moments(observed, plug_part))
    misses = observed - [line.pushed_ml(BEGINS), line.pushed_ml(FULL)]
    return HoseFit(line, float(np.sqrt(np.mean(misses**2))), _holdup_spread_ml(observed, plug_part, least_ml))


def _holdup_spread_ml(observed: Floats, plug_part: float, least_ml: float) -> float | None:
    """Each trial alone has a hold-up of its own: the spread of their mean."""
    if len(observed) < 2:
        return None
    alone = [_refined(one, _by_moments(one, plug_part)).holdup_ml for one in observed[:, np.newaxis]]
    return spread_of(alone, least_ml).mean_spread


def _by_moments(observed: Floats, plug_part: float) -> Hose:
    from scipy.special import ndtri

    low, high = ndtri([BEGINS, FULL])
    sd_ml = float(np.mean(observed[:, 1] - observed[:, 0]) / (high - low))
    holdup_ml = float(np.mean(observed[:, 0]) - low * sd_ml)
    if holdup_ml <= 0:
        holdup_ml = float(np.mean(observed))
    stages = stages_from_moments((1 - plug_part) * holdup_ml, sd_ml * sd_ml)
    return Hose(holdup_ml, min(max(stages, 1.0), MOST_STAGES), plug_part)


def _refined(observed: Floats, guess: Hose) -> Hose:
    """Least squares in the logarithms of hold-up and stages, stages kept from 1 to MOST_STAGES."""
    from scipy.optimize import least_squares

    def line(logs: Floats) -> Hose:
        return Hose(float(np.exp(logs[0])), float(np.exp(logs[1])), guess.plug_part)

    def misses(logs: Floats) -> Floats:
        found = line(logs)
        wanted = np.array([found.pushed_ml(BEGINS), found.pushed_ml(FULL)])
        return np.asarray((observed - wanted).ravel() / guess.holdup_ml)

    start = np.log([guess.holdup_ml, guess.stages or 1.0])
    span = ([start[0] - 5, 0.0], [start[0] + 5, math.log(MOST_STAGES)])
    start[1] = min(max(start[1], 1e-6), span[1][1] - 1e-6)
    found = least_squares(misses, start, bounds=span, xtol=1e-14, ftol=1e-14, gtol=1e-14)
    return line(found.x)
