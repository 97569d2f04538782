"""Conformal predictive system: calibration scores in order are the predictive distribution.

A score is (observed − centre) / scale on a job that centre and scale had not seen. With n of them in order, the
distribution of a new job's score has its quantile at level q at rank (n + 1)·q, rounded outward from the
median, so that under exchangeability an interval covers at least what it claims: Vovk, Shen, Manokhin and
Xie (2019), Machine Learning 108:445; coverage given the calibration set follows Beta(n + 1 − l, l),
l = floor((n + 1)·a): Romano, Patterson and Candès (2019). (References from memory; a test holds the
quantiles equal to another implementation's and the coverage to that law.)

Both ends of an interval at 80, 90, 95 % come from the scores themselves from n = 9, 19, 39 on (one end at
80, 90, 95 %: n = 4, 9, 19). Where n is too small for a level, a stated normal tail is used if it is wider
than the furthest score.

Where nought is an outcome of its own (many jobs leave no other debris at all), the scores are those of the jobs above
it, and a stated share of the distribution lies at nought: the scores' levels share the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

PERCENTS: Floats = np.arange(1, 100) / 100.0
"""p01…p99, the levels kept for drawing."""

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class ConformalDistribution:
    """Calibration scores in order, shape (n,), and the spread of the normal tail beyond their reach.

    `zero_mass` of the distribution lies at nought, below every score.
    """

    scores: Floats
    tail_sd: float
    zero_mass: float = 0.0

    @classmethod
    def of(cls, scores: ArrayLike, tail_sd: float) -> ConformalDistribution:
        """A ladder of scores (n,) in any order; ValueError without a score."""
        ordered = np.sort(np.asarray(scores, dtype=float))
        if len(ordered) == 0 or not np.all(np.isfinite(ordered)):
            raise ValueError("a ladder needs at least one score, all finite")
        return cls(ordered, float(tail_sd))

    def quantiles(self, levels: ArrayLike) -> Floats:
        """Scores at the levels (any shape) in 0..1, exclusive; they never cross. Levels at nought give −∞."""
        asked = np.asarray(levels, dtype=float)
        at_nought = asked <= self.zero_mass if self.zero_mass else np.zeros(asked.shape, dtype=bool)
        q = np.where(at_nought, 0.5, (asked - self.zero_mass) / (1 - self.zero_mass))
        n = len(self.scores)
        rank = (n + 1) * q
        down, up = np.floor(rank + _ROUNDING), np.ceil(rank - _ROUNDING)
        k = np.where(q <= 0.5, down, up).astype(int)
        found = self.scores[np.clip(k - 1, 0, n - 1)]
        tail = _normal_quantiles(q) * self.tail_sd
        found = np.where(k < 1, np.minimum(found, tail), found)
        found = np.where(k > n, np.maximum(found, tail), found)
        return np.asarray(np.where(at_nought, -np.inf, found))

    def reaches(self, level: float) -> bool:
        """Whether the scores themselves give the quantile at that level."""
        k = (len(self.scores) + 1) * min(level, 1 - level)
        return bool(k >= 1 - _ROUNDING)

    def share_below(self, scores: ArrayLike) -> Floats:
        """Predictive probability of a smaller score: (number below + ½ if tied) / (n + 1), any shape."""
        s = np.asarray(scores, dtype=float)
        below = np.searchsorted(self.scores, s, side="left")
        upto = np.searchsorted(self.scores, s, side="right")
        share = (below + upto + 1) / 2 / (len(self.scores) + 1)
        return np.asarray(self.zero_mass + (1 - self.zero_mass) * share)

    def pit(self, scores: ArrayLike, draws: ArrayLike, *, at_floor: ArrayLike) -> Floats:
        """Randomised PIT of observed scores (n,), `draws` uniform in 0..1.

        `at_floor` marks observations at the lowest value the target can take (0): every predictive mass
        below them belongs to that value too; where a share lies at nought, they are that share.
        """
        s, floor, u = (np.asarray(each) for each in (scores, at_floor, draws))
        if self.zero_mass:
            above = ConformalDistribution(self.scores, self.tail_sd).pit(s, u, at_floor=np.zeros(s.shape, dtype=bool))
            return np.where(floor, self.zero_mass * u, self.zero_mass + (1 - self.zero_mass) * above)
        below = np.searchsorted(self.scores, s, side="left")
        upto = np.searchsorted(self.scores, s, side="right")
        below = np.where(floor.astype(bool), 0, below)
        return np.asarray((below + u * (upto - below + 1)) / (len(self.scores) + 1))


def centred(scores: ArrayLike) -> float:
    """The score that `ConformalDistribution.quantiles` puts at 0.5; taken off all scores, the centre is the median."""
    ordered = np.sort(np.asarray(scores, dtype=float))
    return float(ordered[max((len(ordered) + 1) // 2 - 1, 0)])


def _normal_quantiles(levels: Floats) -> Floats:
    unique, place = np.unique(levels, return_inverse=True)
    standard = NormalDist()
    values = np.array([standard.inv_cdf(min(max(float(q), 1e-12), 1 - 1e-12)) for q in unique])
    return np.asarray(values[place].reshape(levels.shape))
