"""Least squares for `M · (1 − exp(−x / tau))` by variable projection, for many curves at once.

M is linear: for any tau its best value is a ratio of two sums. What is left is a search in one
dimension, theta = log(tau): a grid over every tau that the points could tell apart, then Newton
steps held inside the grid cell until nothing moves. No start is needed, and the flat false optimum at
tiny tau, in which local methods end on hostile data, is only one grid point among others.

Method: Golub and Pereyra (1973), SIAM J. Numer. Anal. 10:413-432 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.ragged import Floats, Ints, Ragged

LARGEST_TAU_PER_LAST_X = 1000.0  # beyond: at most 0.1 % of the asymptote reached, a straight line
SMALLEST_TAU_PER_FIRST_X = 1.0 / 14.0  # below: all points on the plateau to one part in a million
LEAST_FIRST_X, LEAST_LAST_X = 1e-9, 1e-200  # so that no exponential overflows, whatever is handed in
LARGEST_U = 700.0
STEPS_PER_OCTAVE = 3
CELL = np.log(2.0) / STEPS_PER_OCTAVE
NEWTON_LIMIT = 80

FITTED, STRAIGHT, FLAT, NOTHING, TOO_FEW = 0, 1, 2, 3, 4
MIN_DISTINCT_X = 4


@dataclass(frozen=True, slots=True, eq=False)
class Projected:
    """Per curve, shape (curves,): log(tau), M, and which of FITTED … TOO_FEW it ended as."""

    theta: Floats
    asymptote: Floats
    status: Ints


def project(curves: Ragged, start_theta: Floats | None = None) -> Projected:
    """Best log(tau) and M of each curve; `start_theta`, shape (curves,), adds one candidate each."""
    theta, status = _search(curves)
    if start_theta is not None:
        theta, status = _better_of(curves, theta, status, start_theta)
    status = np.where(curves.distinct_positive_x() < MIN_DISTINCT_X, TOO_FEW, status).astype(np.intp)
    asymptote = np.full(theta.size, np.nan)
    good = np.flatnonzero(status == FITTED)
    if good.size:
        chosen = curves.take(good)
        theta[good] = _newton(chosen, theta[good])
        asymptote[good] = best_asymptote(chosen, theta[good])
    theta[status != FITTED] = np.nan
    return Projected(theta, asymptote, status)


def best_asymptote(curves: Ragged, theta: Floats) -> Floats:
    """M of least squares at given log(tau), shape (curves,)."""
    shape = -np.expm1(-curves.x * np.exp(-curves.spread(theta)))
    return curves.sums(shape * curves.y) / curves.sums(shape * shape)


def lowest_theta(first_positive_x: Floats, last_x: Floats) -> Floats:
    """Lower end of the search in log(tau); a first x under a billionth of the last is taken for that."""
    first = np.maximum(first_positive_x, np.maximum(last_x, LEAST_LAST_X) * LEAST_FIRST_X)
    return np.asarray(np.log(first * SMALLEST_TAU_PER_FIRST_X), dtype=float)


def _search(curves: Ragged) -> tuple[Floats, Ints]:
    """Grid optimum of log(tau) and status; a gain is what the curve takes off the sum of squares."""
    last = np.maximum(curves.last_x(), LEAST_LAST_X)
    lowest = lowest_theta(np.minimum(curves.first_positive_x(), last), last)
    highest = np.log(last * LARGEST_TAU_PER_LAST_X)
    cells = np.ceil((highest - lowest) / CELL).astype(np.intp)
    octaves = int(cells.max()) // STEPS_PER_OCTAVE + 1
    steps = np.arange(STEPS_PER_OCTAVE)[:, None]
    shape = -np.expm1(-curves.x * np.exp(steps * CELL - curves.spread(highest)))
    gain = np.empty((octaves * STEPS_PER_OCTAVE, last.size))
    for octave in range(octaves):
        gain[octave * STEPS_PER_OCTAVE : (octave + 1) * STEPS_PER_OCTAVE] = _gain(curves, shape)
        shape = shape * (2.0 - shape)  # halves tau: 1 − (1 − g)², without another exponential
    gain[np.arange(gain.shape[0])[:, None] > cells] = -np.inf
    best = np.argmax(gain, axis=0)
    status = np.full(last.size, FITTED, dtype=np.intp)
    status[best == 0] = STRAIGHT
    status[best >= cells] = FLAT
    status[~(gain[best, np.arange(last.size)] > 0)] = NOTHING
    return highest - best * CELL, status


def _gain(curves: Ragged, shape: Floats) -> Floats:
    """Share of the sum of squares explained with M ≥ 0, in squared units of y; shape (…, curves)."""
    cross, square = curves.sums(shape * curves.y), curves.sums(shape * shape)
    return np.where(cross > 0, cross * cross / np.maximum(square, np.finfo(float).tiny), 0.0)


def _better_of(curves: Ragged, theta: Floats, status: Ints, start: Floats) -> tuple[Floats, Ints]:
    """The grid's candidate or the caller's, whichever leaves the smaller sum of squares."""
    at_grid = _gain(curves, -np.expm1(-curves.x * np.exp(-curves.spread(theta))))
    at_start = _gain(curves, -np.expm1(-curves.x * np.exp(-curves.spread(start))))
    better = (at_start > at_grid) & (status == FITTED)
    return np.where(better, start, theta), status


def _newton(curves: Ragged, theta: Floats) -> Floats:
    """Root of the slope in log(tau) within one grid cell either side; shape (curves,)."""
    low, high, theta = theta - CELL, theta + CELL, theta.copy()
    active = np.arange(theta.size)
    part = curves
    for _ in range(NEWTON_LIMIT):
        slope, bend = _slope(part, theta[active])
        rising = slope > 0  # the sum of squares still falls towards larger tau
        low[active] = np.where(rising, theta[active], low[active])
        high[active] = np.where(rising, high[active], theta[active])
        with np.errstate(divide="ignore", invalid="ignore"):
            step = theta[active] - slope / bend
        inside = (bend < 0) & (step > low[active]) & (step < high[active])
        moved = np.where(slope == 0, theta[active], np.where(inside, step, (low[active] + high[active]) / 2))
        going = np.abs(moved - theta[active]) > 4e-15 * np.maximum(1.0, np.abs(moved))
        theta[active] = moved
        if not going.any():
            break
        if not going.all():
            active = active[going]
            part = curves.take(active)
    return theta


def _slope(curves: Ragged, theta: Floats) -> tuple[Floats, Floats]:
    """Σ r·g′ and its derivative in log(tau), r the residual at the best M; 0 at the optimum."""
    u = np.minimum(curves.x * np.exp(-curves.spread(theta)), LARGEST_U)
    decay = np.exp(-u)
    g, g1, g2 = -np.expm1(-u), -u * decay, u * (1.0 - u) * decay
    square = curves.sums(g * g)
    m = curves.sums(g * curves.y) / square
    residual = curves.y - curves.spread(m) * g
    m1 = (curves.sums(g1 * residual) - m * curves.sums(g * g1)) / square
    slope = curves.sums(residual * g1)
    bend = curves.sums(residual * g2) - m1 * curves.sums(g * g1) - m * curves.sums(g1 * g1)
    return slope, bend
