"""What crews of this book go on to catch from a moment on, and for how long: learnt from past jobs.

Not what a house still holds but what is then caught: crews stop when it is no longer worth while, or when
the day is over, and when they do so is learnt, not assumed. A line on the log scale about what the
pools promise, its spread by a second line, and the order of scores on later jobs as the distribution.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.posterior.ridge import Ridge, RidgeDesign, fit
from models.catch.records.ragged_arrays import Floats
from models.catch.stopping.landmark_features import EPS_KG, PROGRESS
from models.quote.base.conformal import ConformalDistribution

EPS_MINUTES = 5.0
STRETCHES = 3
LEAST_SPREAD, MOST_SPREAD = 0.05, 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Centre and spread on the log scale, each a line in the `features`, by name and in order; `low`, `high`
    (features,) bound what was learnt from: beyond, the lines stand still."""

    features: tuple[str, ...]
    line: Ridge
    spread: Ridge
    low: Floats
    high: Floats

    def centre_and_spread(self, x: Floats, start: Floats) -> tuple[Floats, Floats]:
        """Centre and scale (n,) of rows (n, features) that begin at start (n,)."""
        kept = np.clip(x, self.low, self.high)
        scale = np.exp(np.clip(self.spread.predict(kept), np.log(LEAST_SPREAD), np.log(MOST_SPREAD)))
        return start + self.line.predict(kept), scale


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """Lines of one target on the scale log(value + eps) and its calibration scores: one ladder for each stretch of
    the planned time, which `edges` (stretches − 1,) part, and last one of all moments. Half of what is told comes from
    the stretch, half from all: a stretch alone has few jobs, all together are wrong early and late."""

    lines: Lines
    ladders: tuple[ConformalDistribution, ...]
    edges: Floats
    eps: float
    calibration_jobs: int

    def quantiles(self, x: Floats, start: float, levels: Floats) -> Floats:
        """Quantiles (levels,) of the value, never below 0; x (features,), start on the log scale."""
        centre, scale = self.lines.centre_and_spread(x[None, :], np.array([start]))
        progress = x[self.lines.features.index(PROGRESS)]
        own = self.ladders[int(np.searchsorted(self.edges, progress))]
        score = 0.5 * (own.quantiles(levels) + self.ladders[-1].quantiles(levels))
        log_value = float(centre[0]) + float(scale[0]) * score
        return np.asarray(np.maximum(np.exp(np.minimum(log_value, 12.0)) - self.eps, 0.0), dtype=float)


def ladders(scores: Floats, progress: Floats) -> tuple[tuple[ConformalDistribution, ...], Floats]:
    """Ladders of the moments in `STRETCHES` by their share of the planned time, as many in each, and one of all; and
    the edges between; scores, progress (n,)."""
    edges = np.quantile(progress, np.arange(1, STRETCHES) / STRETCHES)
    stretch = np.searchsorted(edges, progress)
    tail = float(scores.std())
    parts = (*(scores[stretch == each] for each in range(STRETCHES)), scores)
    return tuple(ConformalDistribution.of(part if part.size else scores, tail) for part in parts), edges


def fit_lines(
    features: tuple[str, ...], x: Floats, rows: RidgeDesign, start: Floats, value: Floats, eps: float
) -> Lines:
    """The line of log(value + eps) − start, and that of the log of its absolute residual; x (n, features), `rows` the
    same made ready."""
    aim = np.log(value + eps) - start
    line = fit(rows, aim)
    rest = np.abs(aim - line.predict(x))
    # ln|z| of a normal z has mean −0.635: so that the scale is near a standard deviation
    spread = fit(rows, np.log(np.maximum(rest, 0.02)) + 0.635)
    return Lines(features, line, spread, x.min(axis=0), x.max(axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class CrewModel:
    """One kind of work: the weights of the pools (in hand, waiting, behind; empty where the kind has none), and
    what is caught and how long it takes from a moment on. `jobs` were learnt from."""

    weights: Floats
    kg: Target
    minutes: Target
    jobs: int

    def base(self, hand: float, waiting: float, behind: float) -> float:
        """Kilograms that crews would catch of these pools, before what the moment says besides."""
        return float(self.weights @ np.array([hand, waiting, behind]))


def pool_weights(pool: Floats, kg: Floats) -> Floats:
    """How much of each pool crews go on to catch, each in 0..1.5; pool (n, 3), kg (n,)."""
    from scipy.optimize import lsq_linear

    trust = 1.0 / (kg + 0.1)  # errors grow with the amount
    return np.asarray(lsq_linear(pool * trust[:, None], kg * trust, bounds=(0.0, 1.5)).x, dtype=float)


def start_of(base: float) -> float:
    """Where the line starts on the log scale."""
    return float(np.log(base + EPS_KG))
