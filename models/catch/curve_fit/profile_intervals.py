"""Profile intervals of a saturating fit: all values whose best sum of squares stays under an F limit.

Unlike estimate ± standard error they follow the bend of the curve: with little of it seen, the upper end
of the asymptote runs away and is told as `inf`. Method: Bates and Watts (1988), section 6.1 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import stdtrit

from models.catch.curve_fit import variable_projection
from models.catch.records.ragged_arrays import Floats

OUTWARD_STEP = 0.25  # in log(tau), well under the width of any bend of the profile
LOOK = 64
LOOKS = 4


@dataclass(frozen=True, slots=True)
class ProfileIntervals:
    """Bounds of both parameters; tau_low 0 and tau_high, asymptote_high `inf` where open."""

    asymptote_low: float
    asymptote_high: float
    tau_low: float
    tau_high: float


@dataclass(frozen=True, slots=True, eq=False)
class _Profile:
    x: Floats
    y: Floats
    limit: float

    def terms(self, theta: Floats) -> tuple[Floats, Floats, Floats]:
        """Best M, sum of squares above the limit, Σg²; each shape (thetas,)."""
        g = -np.expm1(-self.x * np.exp(-np.atleast_1d(theta))[:, None])
        square = np.einsum("ij,ij->i", g, g)
        m = g @ self.y / square
        residual = self.y - m[:, None] * g
        return m, np.einsum("ij,ij->i", residual, residual) - self.limit, square

    def over(self, theta: float) -> float:
        return float(self.terms(np.array([theta]))[1][0])

    def edge(self, theta: Floats, side: float) -> Floats:
        """Lowest (side −1) or highest (+1) M inside the limit at each log(tau)."""
        m, over, square = self.terms(theta)
        return m + side * np.sqrt(np.maximum(-over, 0.0) / square)


def profile_intervals(x: Floats, y: Floats, theta: float, rss: float, level: float) -> ProfileIntervals:
    """Intervals at `level` around the fitted log(tau) with its sum of squares; x, y of shape (n,), n ≥ 3."""
    m = float(projection_m(x, y, theta))
    if rss <= 1e-28 * float(y @ y):
        return ProfileIntervals(m, m, float(np.exp(theta)), float(np.exp(theta)))
    t = float(stdtrit(x.size - 2, (1.0 + level) / 2.0))
    profile = _Profile(x, y, rss * (1.0 + t * t / (x.size - 2)))
    lowest = float(variable_projection.lowest_theta(x[x > 0].min(), x.max()))
    highest = float(np.log(x.max() * variable_projection.LARGEST_TAU_PER_LAST_X))
    low, high = _crossing(profile, theta, lowest), _crossing(profile, theta, highest)
    span = (lowest if low is None else low, highest if high is None else high)
    return ProfileIntervals(
        asymptote_low=_extreme(profile, span, -1.0),
        asymptote_high=float("inf") if high is None else _extreme(profile, span, 1.0),
        tau_low=0.0 if low is None else float(np.exp(low)),
        tau_high=float("inf") if high is None else float(np.exp(high)),
    )


def projection_m(x: Floats, y: Floats, theta: float) -> float:
    """Best M at one log(tau)."""
    g = -np.expm1(-x * np.exp(-theta))
    return float(g @ y / (g @ g))


def _crossing(profile: _Profile, theta: float, end: float) -> float | None:
    """Where the profile first leaves the limit on the way from the optimum to `end`; None: nowhere."""
    count = max(2, int(np.ceil(abs(end - theta) / OUTWARD_STEP)) + 1)
    path = np.linspace(theta, end, count)
    outside = np.flatnonzero(profile.terms(path)[1] > 0)
    if outside.size == 0:
        return None
    at = max(int(outside[0]), 1)
    return float(brentq(profile.over, path[at - 1], path[at], xtol=1e-12, rtol=1e-14))


def _extreme(profile: _Profile, span: tuple[float, float], side: float) -> float:
    """Lowest or highest M over the log(tau) inside the limit: looks along it, each inside the last one's best
    cell. The edge is flat at its extreme, so that an error in theta counts only squared."""
    low, high = span
    for _ in range(LOOKS):
        path = np.linspace(low, high, LOOK)
        edge = side * profile.edge(path, side)
        best = int(np.argmax(edge))
        low, high = path[max(best - 1, 0)], path[min(best + 1, LOOK - 1)]
    return float(side * edge[best])
