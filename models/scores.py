"""Scores of probabilistic forecasts: pinball loss, coverage, PIT.

Pinball (quantile) loss is a proper score of a quantile: Koenker and Bassett (1978), Econometrica 46:33;
its mean over levels approximates half the continuous ranked probability score: Gneiting and Raftery
(2007), JASA 102:359. PIT with randomised ties: Czado, Gneiting and Held (2009), Biometrics 65:1254.
(References from memory.)
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def pinball(observed: ArrayLike, quantiles: ArrayLike, levels: ArrayLike) -> Floats:
    """Pinball loss of each row, averaged over the levels, in the unit of the target.

    `observed` (n,), `quantiles` (n, k), `levels` (k,) in 0..1; returns (n,).

    >>> pinball([3.0], [[1.0, 5.0]], [0.1, 0.9])
    array([0.2])
    """
    y = np.asarray(observed, dtype=float)[:, None]
    q = np.asarray(quantiles, dtype=float)
    tau = np.asarray(levels, dtype=float)[None, :]
    error = y - q
    return np.asarray(np.maximum(tau * error, (tau - 1) * error).mean(axis=1))


def covered(observed: ArrayLike, low: ArrayLike, high: ArrayLike) -> NDArray[np.bool_]:
    """Whether each observation (n,) lies within its closed interval."""
    y = np.asarray(observed, dtype=float)
    return np.asarray((y >= np.asarray(low)) & (y <= np.asarray(high)))


@dataclass(frozen=True, slots=True)
class Coverage:
    """Share of observations within the 80 % (p10..p90) and 90 % (p05..p95) intervals, of `jobs` jobs."""

    jobs: int
    share_80: float
    share_90: float

    def as_dict(self) -> dict[str, float | int]:
        """As plain data, for JSON."""
        return {"jobs": self.jobs, "share_80": self.share_80, "share_90": self.share_90}


def coverage_of_pit(pit: ArrayLike) -> Coverage:
    """Coverage from PIT values (n,): how many fall within 0.1..0.9 and 0.05..0.95.

    With ties broken at random this is right for targets with many exact zeros too, where a closed
    interval that starts at 0 must cover more than it claims.
    """
    u = np.asarray(pit, dtype=float)
    if len(u) == 0:
        return Coverage(0, float("nan"), float("nan"))
    return Coverage(len(u), float(np.mean((u >= 0.10) & (u <= 0.90))), float(np.mean((u >= 0.05) & (u <= 0.95))))


def pit_histogram(pit: ArrayLike, bins: int = 10) -> tuple[int, ...]:
    """Counts of PIT values in equal bins of 0..1; flat when the forecasts are calibrated."""
    counts, _ = np.histogram(np.asarray(pit, dtype=float), bins=bins, range=(0.0, 1.0))
    return tuple(int(c) for c in counts)


def exact_limits(count: int, jobs: int, confidence: float = 0.95) -> tuple[float, float]:
    """Clopper-Pearson limits of a share; (0, 1) of no jobs.

    >>> exact_limits(0, 10)
    (0.0, 0.3085)
    """
    from scipy import stats  # a forecast is made without it

    if jobs == 0:
        return 0.0, 1.0
    limits = stats.binomtest(count, jobs).proportion_ci(confidence, method="exact")
    return float(limits.low), float(limits.high)


def median_interval(values: ArrayLike) -> tuple[float, float] | None:
    """At least 95 % interval of the median of values (n,), whatever their distribution; None for fewer than 6.

    Its ends are order statistics: the k-th from either end, k the largest with P(Binomial(n, 1/2) < k) at most 2.5 %
    (W. J. Conover, "Practical Nonparametric Statistics", from memory).

    >>> median_interval(range(1, 51))
    (18.0, 33.0)
    """
    ordered = np.sort(np.asarray(values, dtype=float))
    n, k, below = len(ordered), 0, 0.0
    while k < n and below + comb(n, k) / 2**n <= 0.025:
        below += comb(n, k) / 2**n
        k += 1
    return (float(ordered[k - 1]), float(ordered[n - k])) if k else None
