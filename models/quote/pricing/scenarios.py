"""Joint scenarios: a hard house is hard in everything, so kilograms and minutes are drawn together.

A scenario is one rank in 0..1 for each target. With enough jobs the ranks are those of past jobs, as they
came together, evenly thinned; with few, a normal copula with stated correlations (common practice, no
source: more debris, more time). The ranks are pushed through each request's own distributions.

The volume of the system has a rank too. No fill is metered, so nothing on record tells how it hangs together with
the rest: a system that holds more than its survey says has more wetted steel, so its rank goes with that of
the magnetite by a stated correlation (assumption); from low to middle lies half of such systems, from middle to high
the other half, evenly (assumption).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from models.quote.base.quote_result import TARGETS

Floats = NDArray[np.float64]

FROM_JOBS = 100
"""Jointly calibrated jobs from which their own ranks are the scenarios (a chance of 0.01 needs 99)."""

MOST = 400
_COPULA = 399

ASSUMED_CORRELATION = np.array([[1.0, 0.3, 0.5, 0.5], [0.3, 1.0, 0.3, 0.3], [0.5, 0.3, 1.0, 0.9], [0.5, 0.3, 0.9, 1.0]])
"""Between the targets in the order of `TARGETS`, on the normal scale, while past jobs are too few."""


VOLUME_CORRELATION = 0.3
"""Between volume and magnetite of systems alike at survey, on the normal scale (assumption)."""


def joint_ranks(scores: Floats, *, seed: int = 0) -> Floats:
    """Scenario ranks (s, 4) in the order of `TARGETS` from calibration scores (n, 4), NaN: not known.

    A job counts when its site minutes are known, or its flush minutes while no site minutes are; ranks of
    its other targets, where not known, are drawn at random.
    """
    site, flush = TARGETS.index("site_minutes"), TARGETS.index("flush_minutes")
    lead = site if np.isfinite(scores[:, site]).any() else flush
    rows = scores[np.isfinite(scores[:, lead])]
    if len(rows) < FROM_JOBS:
        return _copula_ranks(seed)
    ranks = np.column_stack([_ranks(rows[:, i]) for i in range(rows.shape[1])])
    random = np.random.default_rng(seed).uniform(size=ranks.shape)
    ranks = np.where(np.isfinite(ranks), ranks, random)
    ranks = ranks[np.argsort(ranks[:, lead], kind="stable")]
    if len(ranks) > MOST:
        ranks = ranks[((np.arange(MOST) + 0.5) * len(ranks) / MOST).astype(int)]
    return np.asarray(ranks)


def volume_ranks(magnetite_ranks: Floats, *, seed: int = 0) -> Floats:
    """Ranks (s,) of the volume, exactly even, that go with the scenarios' ranks (s,) of the magnetite."""
    s = len(magnetite_ranks)
    draws = np.random.default_rng(seed).standard_normal((2, s))
    # the sorted draws, dealt out in the order of the magnetite, are its ranks on the normal scale
    magnetite = np.sort(draws[0])[np.argsort(np.argsort(magnetite_ranks, kind="stable"), kind="stable")]
    return _ranks(VOLUME_CORRELATION * magnetite + np.sqrt(1 - VOLUME_CORRELATION**2) * draws[1])


def volumes_at(ranks: Floats, low_mid_high_l: Floats) -> Floats:
    """Volumes (n, s) [L] at the ranks (s,), of systems known by low, middle and high (n, 3) [L].

    >>> volumes_at(np.array([0.0, 0.25, 0.5, 0.9]), np.array([[80.0, 100.0, 150.0]])).tolist()
    [[80.0, 90.0, 100.0, 140.0]]
    """
    low, mid, high = (column[:, None] for column in low_mid_high_l.T)
    below, above = np.minimum(2 * ranks, 1.0), np.maximum(2 * ranks - 1, 0.0)
    return np.asarray(low + (mid - low) * below + (high - mid) * above)


def _ranks(scores: Floats) -> Floats:
    """Ranks k / (n + 1) of the known scores, NaN elsewhere."""
    known = np.isfinite(scores)
    ranks = np.full(len(scores), np.nan)
    order = np.argsort(np.argsort(scores[known], kind="stable"), kind="stable")
    ranks[known] = (order + 1) / (known.sum() + 1)
    return ranks


def _copula_ranks(seed: int) -> Floats:
    """Normal copula: each target's ranks are exactly even, their order follows correlated normal draws."""
    draws = np.random.default_rng(seed).standard_normal((_COPULA, len(TARGETS)))
    together = draws @ np.linalg.cholesky(ASSUMED_CORRELATION).T
    return np.column_stack([_ranks(column) for column in together.T])
