"""What crews of this book go on to catch from a moment on, and for how long: learnt from past jobs.

Not what a house still holds but what is then caught: crews stop when it is no longer worth while, or when
the day is over, and when they do so is learnt, not assumed. A line on the log scale about what the
pools promise, its spread by a second line, and the order of scores on later jobs as the distribution.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.moments import EPS_KG
from models.catch.ragged import Floats
from models.catch.ridge import Ridge, fit_ridge
from models.quote.conformal import Ladder

EPS_MINUTES = 5.0
LEAST_SPREAD, MOST_SPREAD = 0.05, 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """Line, its spread and calibration scores of one target on the scale log(value + eps)."""

    line: Ridge
    spread: Ridge
    ladder: Ladder
    eps: float
    calibration_jobs: int

    def quantiles(self, x: Floats, start: Floats, levels: Floats) -> Floats:
        """Quantiles (n, levels) of the value, never below 0; x (n, features), start (n,) on the log scale."""
        centre, scale = centre_and_spread(self.line, self.spread, x, start)
        log_value = centre[:, None] + scale[:, None] * self.ladder.quantiles(levels)[None, :]
        return np.maximum(np.exp(np.minimum(log_value, 12.0)) - self.eps, 0.0)


def centre_and_spread(line: Ridge, spread: Ridge, x: Floats, start: Floats) -> tuple[Floats, Floats]:
    """Centre and scale (n,) on the log scale."""
    scale = np.exp(np.clip(spread.predict(x), np.log(LEAST_SPREAD), np.log(MOST_SPREAD)))
    return start + line.predict(x), scale


def fit_lines(x: Floats, start: Floats, value: Floats, eps: float, weight: Floats) -> tuple[Ridge, Ridge]:
    """The line of log(value + eps) − start, and that of the log of its absolute residual."""
    aim = np.log(value + eps) - start
    line = fit_ridge(x, aim, weight)
    rest = np.abs(aim - line.predict(x))
    # ln|z| of a normal z has mean −0.635: so that the scale is near a standard deviation
    spread = fit_ridge(x, np.log(np.maximum(rest, 0.02)) + 0.635, weight)
    return line, spread


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
