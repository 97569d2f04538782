"""Forecasts for a young book: a rule of common practice, then the firm's own kilograms per emitter.

No finished job: the typical rule (common practice, no source) with a wide spread. Under `BOOSTED_FROM` jobs:
median per emitter × count, with scores from leaving each job out in turn; levels beyond the reach of so few
scores keep the typical rule's spread, and the median's own error on top of it (one job is as far off the usual as the
next), so that the interval stays wide until the firm's jobs narrow it.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from models.quote.base.conformal import ConformalDistribution, centred
from models.quote.base.targets import TYPICAL_EMITTERS, Placement, TargetModel, TargetSpec, to_log
from models.survey_features import POSITION

Floats = NDArray[np.float64]

BOOSTED_FROM = 40
"""Finished jobs from which the boosted model is used (design limit of the quote)."""

_STEPS = 199


@dataclass(frozen=True, slots=True)
class PerEmitter:
    """`fixed + rate · emitters`, in the target's unit, then × exp(shift) on the log scale."""

    fixed: float
    rate: float
    offset: float
    shift: float = 0.0

    def place(self, x: Floats) -> Placement:
        """Centre and unit scale of each row of the feature matrix (n, p)."""
        value = self.fixed + self.rate * emitters_of(x)
        return Placement(np.log(value + self.offset) + self.shift, np.ones(len(x)))


def emitters_of(x: Floats) -> Floats:
    """Emitters of each row (n,); an ordinary system's number where the survey does not count them."""
    count = x[:, POSITION["emitter_count"]]
    return np.where(np.isfinite(count) & (count > 0), count, float(TYPICAL_EMITTERS))


def typical_rule(spec: TargetSpec, jobs: int = 0, *, fixed: float | None = None) -> TargetModel:
    """The rule of common practice with its stated log-normal spread; `fixed` in place of its own, in its unit."""
    placer = PerEmitter(spec.typical_fixed if fixed is None else fixed, spec.typical_per_emitter, spec.offset)
    return TargetModel(spec, placer, normal_ladder(spec.typical_log_sd), "typical_rule", jobs, 0)


def normal_ladder(sd: float) -> ConformalDistribution:
    """A ladder of `_STEPS` normal scores of that spread: a stated distribution in the shape of a ladder."""
    standard = NormalDist()
    levels = np.arange(1, _STEPS + 1) / (_STEPS + 1)
    return ConformalDistribution.of([sd * standard.inv_cdf(float(q)) for q in levels], sd)


def per_emitter_rate(x: Floats, y: Floats) -> float:
    """Median of y per emitter, in unit / emitter; rows (n, p) and (n,)."""
    return float(np.median(y / emitters_of(x)))


def per_emitter_rule(spec: TargetSpec, x: Floats, y: Floats) -> TargetModel:
    """The firm's own median per emitter × count, of n ≥ 1 jobs: features (n, p), target (n,)."""
    n = len(y)
    rate = per_emitter_rate(x, y)
    if n == 1:
        scores = np.zeros(1)
    else:
        others = [per_emitter_rate(np.delete(x, i, 0), np.delete(y, i)) for i in range(n)]
        forecast = np.array(others) * emitters_of(x)
        scores = to_log(spec, y) - to_log(spec, forecast)
    shift = centred(scores)
    placer = PerEmitter(0.0, rate, spec.offset, shift)
    ladder = ConformalDistribution.of(scores - shift, spec.typical_log_sd * np.sqrt(1 + 1 / n))
    return TargetModel(spec, placer, _widened(ladder), "per_emitter_rule", n, n)


def _widened(ladder: ConformalDistribution) -> ConformalDistribution:
    """The same ladder on `_STEPS` steps, the typical spread standing where the scores do not reach."""
    levels = np.arange(1, _STEPS + 1) / (_STEPS + 1)
    return ConformalDistribution.of(ladder.quantiles(levels), ladder.tail_sd)
