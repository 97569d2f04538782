"""Drift: do the newest calibration jobs still behave as those before them?

Every cut of the calibration scores, in order of time, that leaves at least `LEAST` jobs on both sides is tried. On
the ranks, the newer side's mean (level) and its mean squared distance from the middle (spread, as Mood 1954) are
standardised by their exact moments under random order, and their squares added, as Lepage (1971) does for level and
spread together; the statistic is the largest over the cuts. Its p-value comes from random orders of the ranks, drawn
once for each number of jobs: if the scores could have come in any order, a share `ALARM` of all checks raises an
alarm, whatever their distribution. (References from memory; a test holds the share.)

On an alarm the newest jobs from the likeliest cut on make the distribution alone: they are many enough for both ends
of a 90 % interval.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ALARM = 0.0025
"""Share of false alarms a check, so that a training, with four targets, raises one in at most 1 %."""

LEAST = 25
"""Jobs on either side of a cut: fewer newest jobs could not set a 90 % interval by themselves with room to spare."""

_ORDERS = 3999


@dataclass(frozen=True, slots=True)
class Drift:
    """The check of one target on `jobs` calibration jobs.

    The newest `window` of them, from `since` on, differ most from those before: against the forecast they took or
    gave `level_factor` times as much (1: the same) and scattered `spread_factor` times as widely. `recalibrated`: p is
    at most the share of false alarms, and the ranges rest on these newest jobs alone.
    """

    jobs: int
    window: int
    since: date
    statistic: float
    p: float
    level_factor: float
    spread_factor: float
    recalibrated: bool

    def as_json(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        return {**asdict(self), "since": self.since.isoformat()}

    @classmethod
    def from_json(cls, plain: Mapping[str, Any]) -> Drift:
        """The check as `as_json` gave it."""
        return cls(**{**plain, "since": date.fromisoformat(plain["since"])})


@dataclass(frozen=True, slots=True)
class Cut:
    """The likeliest cut of scores in order: newest `window` of them against the rest, with its p-value."""

    window: int
    statistic: float
    p: float


def likeliest_cut(scores: Floats, *, seed: int = 0) -> Cut | None:
    """The cut of scores (n,) in order of time after which they differ most; None for fewer than 2 × `LEAST`.

    Ties are broken at random, which leaves every order as likely as before.
    """
    n = len(scores)
    if n < 2 * LEAST:
        return None
    order = np.lexsort((np.random.default_rng(seed).uniform(size=n), scores))
    ranks = np.empty(n)
    ranks[order] = np.arange(n)
    found = _by_cut(ranks[None, :])[0]
    best = int(np.argmax(found))
    null = _null(n)
    above = len(null) - int(np.searchsorted(null, found[best] - 1e-9))
    return Cut(LEAST + best, float(found[best]), (1 + above) / (1 + len(null)))


def checked(
    residuals: Floats, scores: Floats, days: NDArray[np.datetime64], *, seed: int = 0, alarm: float | None = None
) -> Drift | None:
    """The check of calibration jobs in order of time, all (n,): errors on the log scale, scores, days of the visits.
    `alarm` is the share of false alarms, `ALARM` unless told."""
    cut = likeliest_cut(scores, seed=seed)
    if cut is None:
        return None
    newest, before = residuals[-cut.window :], residuals[: -cut.window]
    level = float(np.exp(np.median(newest) - np.median(before)))
    usual = _spread(scores[: -cut.window])
    return Drift(
        jobs=len(scores),
        window=cut.window,
        since=days[-cut.window].astype("datetime64[D]").astype(object),
        statistic=cut.statistic,
        p=cut.p,
        level_factor=level,
        spread_factor=_spread(scores[-cut.window :]) / usual if usual > 0 else 1.0,
        recalibrated=cut.p <= (ALARM if alarm is None else alarm),
    )


def _spread(scores: Floats) -> float:
    """Median distance from the median."""
    return float(np.median(np.abs(scores - np.median(scores))))


def _by_cut(ranks: Floats) -> Floats:
    """Level² + spread², standardised, of the newest 25, 26, … n − 25: of orders of the ranks (m, n), as (m, cuts)."""
    n = ranks.shape[1]
    windows = np.arange(LEAST, n - LEAST + 1)
    centred = ranks - (n - 1) / 2
    return np.asarray(_standardised(centred, windows) ** 2 + _standardised(centred**2, windows) ** 2)


def _standardised(values: Floats, windows: NDArray[np.intp]) -> Floats:
    """Mean of the newest w values of each order (m, n), less that of all, over its standard error."""
    n = values.shape[1]
    newest = np.cumsum(values[:, ::-1], axis=1)[:, windows - 1] / windows
    error = np.sqrt(values[0].var(ddof=1) / windows * (1 - windows / n))
    return np.asarray((newest - values[0].mean()) / error)


@lru_cache(maxsize=64)
def _null(n: int) -> Floats:
    """The statistic of `_ORDERS` random orders of n ranks, sorted."""
    rng = np.random.default_rng(n)
    orders = rng.permuted(np.tile(np.arange(n, dtype=float), (_ORDERS, 1)), axis=1)
    return np.sort(_by_cut(orders).max(axis=1))
