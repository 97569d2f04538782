"""What crews of this book go on to catch from a moment on, and for how long: learnt from past jobs.

Not what a house still holds but what is then caught: crews stop when it is no longer worth while, or when
the day is over, and when they do so is learnt, not assumed. A line on the log scale about what the
pools promise, its spread by a second line, and the order of scores on later jobs as the distribution.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.posterior.ridge import Ridge, RidgeDesign, fit
from models.catch.records.ragged_arrays import Floats, Ints
from models.catch.stopping.landmark_features import EPS_KG
from models.quote.base.conformal import ConformalDistribution

EPS_MINUTES = 5.0
JOBS_A_STRETCH, MOST_STRETCHES = 40, 5
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
    """Lines of one target on the scale log(value + eps) and its calibration scores: one ladder for each stretch of the
    minutes still to come as forecast, parted at the logs `edges` (stretches − 1,). How long it will go on is what makes
    a moment early or late; when a flush ends nobody knows before."""

    lines: Lines
    ladders: tuple[ConformalDistribution, ...]
    edges: Floats
    eps: float
    calibration_jobs: int

    def quantiles(self, x: Floats, start: float, log_left: float, levels: Floats) -> Floats:
        """Quantiles (levels,) of the value, never below 0; x (features,), start on the log scale, `log_left` the log of
        the minutes still to come as forecast."""
        centre, scale = self.lines.centre_and_spread(x[None, :], np.array([start]))
        score = self.ladders[int(np.searchsorted(self.edges, log_left))].quantiles(levels)
        log_value = float(centre[0]) + float(scale[0]) * score
        return np.asarray(np.maximum(np.exp(np.minimum(log_value, 12.0)) - self.eps, 0.0), dtype=float)


def ladders(scores: Floats, log_left: Floats, job: Ints) -> tuple[tuple[ConformalDistribution, ...], Floats]:
    """Ladders of the moments in stretches of the log minutes left as forecast, as many moments in each, and the edges
    between; scores, log_left, job (n,). Each job counts once, however many moments it has."""
    jobs, of = np.unique(job, return_inverse=True)
    stretches = int(np.clip(len(jobs) // JOBS_A_STRETCH, 1, MOST_STRETCHES))
    edges = np.quantile(log_left, np.arange(1, stretches) / stretches)
    stretch, weight = np.searchsorted(edges, log_left), 1.0 / np.bincount(of)[of]
    tail = float(scores.std())
    parts = [stretch == each for each in range(stretches)]
    parts = [part if part.any() else np.ones(len(scores), dtype=bool) for part in parts]
    return tuple(weighted_ladder(scores[part], weight[part], of[part], tail) for part in parts), edges


def weighted_ladder(scores: Floats, weight: Floats, job: Ints, tail: float) -> ConformalDistribution:
    """A ladder of scores (n,) that count by weight: as many rungs as there are jobs (n,) worth of them (Kish), since
    moments of one job are wrong together; evenly spaced by weight."""
    worth = float(weight.sum() ** 2 / (weight**2).sum())
    rungs = max(int(min(worth, len(np.unique(job)))), 1)
    order = np.argsort(scores, kind="stable")
    reached = np.cumsum(weight[order]) / weight.sum()
    at = np.searchsorted(reached, np.arange(1, rungs + 1) / (rungs + 1) - 1e-12)
    return ConformalDistribution.of(scores[order][np.minimum(at, len(order) - 1)], tail)


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

    def quantiles(self, x: Floats, start: float, levels: Floats) -> tuple[Floats, Floats]:
        """Quantiles (levels,) of kilograms and of minutes still to come at a moment, x (features,); start on the log
        scale of kilograms."""
        log_left = float(self.minutes.lines.centre_and_spread(x[None, :], np.zeros(1))[0][0])
        return self.kg.quantiles(x, start, log_left, levels), self.minutes.quantiles(x, 0.0, log_left, levels)

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
