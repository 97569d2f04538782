"""Least squares for `M · (1 − exp(−x / tau))` by variable projection, for many curves at once.

M is linear: for any tau its best value is a ratio of two sums. What is left is a search in one
dimension, theta = log(tau): a grid over every tau that the points could tell apart, one step an octave,
then Newton steps held inside the grid cells beside each peak until nothing moves. No start is needed,
and the flat false optimum at tiny tau, in which local methods end on hostile data, is only one grid point
among others. A curve with more than one peak on the grid has every one of them refined.

Method: Golub and Pereyra (1973), SIAM J. Numer. Anal. 10:413-432 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.catch.curve_fit.newton_refine import DOT, Bracket, refined, slope_and_bend
from models.catch.curve_fit.padded_arrays import Block
from models.catch.records.ragged_arrays import Floats, Ints

LARGEST_TAU_PER_LAST_X = 1000.0  # beyond: at most 0.1 % of the asymptote reached, a straight line
SMALLEST_TAU_PER_FIRST_X = 1.0 / 14.0  # below: all points on the plateau to one part in a million
LEAST_FIRST_X, LEAST_LAST_X = 1e-9, 1e-200  # so that no exponential overflows, whatever is handed in
OCTAVE = float(np.log(2.0))

FITTED, STRAIGHT, FLAT, NOTHING, TOO_FEW = 0, 1, 2, 3, 4
MIN_DISTINCT_X = 4


@dataclass(frozen=True, slots=True, eq=False)
class Projected:
    """Per curve, shape (curves,): log(tau), NaN unless fitted, and which of FITTED … TOO_FEW it ended as."""

    theta: Floats
    status: Ints


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Gain at each octave downwards from `highest`, shape (octaves, curves); `cells` is the last one of a curve."""

    highest: Floats
    cells: Ints
    gain: Floats


def project(block: Block, start_theta: Floats | None = None) -> Projected:
    """Best log(tau) of each curve; `start_theta`, shape (curves,), adds one candidate each."""
    grid = _grid(block)
    best = np.argmax(grid.gain, axis=0)
    theta, status = np.full(best.size, np.nan), np.full(best.size, FITTED, dtype=np.intp)
    status[best >= grid.cells] = FLAT
    status[~(grid.gain.max(axis=0) > 0)] = NOTHING
    ends = np.flatnonzero((best == 0) & (status == FITTED))
    if ends.size:
        slope, _, _ = slope_and_bend(block.take(ends), grid.highest[ends], exact=True)
        status[ends[slope >= 0]] = STRAIGHT
    inside = np.flatnonzero(status == FITTED)
    theta[inside] = _peak(block, grid, inside, best[inside])
    _other_peaks(block, grid, theta, status)
    if start_theta is not None:
        _better_of(block, theta, status, start_theta)
    status[block.distinct_positive_x() < MIN_DISTINCT_X] = TOO_FEW
    theta[status != FITTED] = np.nan
    return Projected(theta, status)


def lowest_theta(first_positive_x: Floats, last_x: Floats) -> Floats:
    """Lower end of the search in log(tau); a first x under a billionth of the last is taken for that."""
    first = np.maximum(first_positive_x, np.maximum(last_x, LEAST_LAST_X) * LEAST_FIRST_X)
    return np.asarray(np.log(first * SMALLEST_TAU_PER_FIRST_X), dtype=float)


def _grid(block: Block) -> _Grid:
    """Gains by octave: what the curve at that tau, M ≥ 0, takes off the sum of squares, in squared units of y.

    Halving tau squares e^(−x/tau), so one exponential serves all octaves; and Σg² = n − 2·Σe + Σe², whose last
    sum is the first one of the octave below.
    """
    last = np.maximum(block.last_x(), LEAST_LAST_X)
    highest = np.log(last * LARGEST_TAU_PER_LAST_X)
    lowest = lowest_theta(np.minimum(block.first_positive_x(), last), last)
    cells = np.ceil((highest - lowest) / OCTAVE).astype(np.intp)
    gain = np.empty((int(cells.max()) + 1, last.size))
    decay = np.exp(-block.x * np.exp(-highest))
    total, around = block.y.sum(axis=0), decay.sum(axis=0)
    for octave in range(gain.shape[0]):
        cross = total - np.einsum(DOT, decay, block.y)
        below = np.multiply(decay, decay, out=decay).sum(axis=0)
        square = np.maximum(len(decay) - 2.0 * around + below, np.finfo(float).tiny)
        gain[octave] = np.maximum(cross, 0.0) ** 2 / square
        around = below
    gain[np.arange(gain.shape[0])[:, None] > cells] = -np.inf
    return _Grid(highest, cells, gain)


def _peak(block: Block, grid: _Grid, curves: Ints, octave: Ints) -> Floats:
    """log(tau) of the peak at that octave of each of those curves, held between the octaves beside it."""
    if curves.size == 0:
        return np.empty(0)
    highest, cells = grid.highest[curves], grid.cells[curves]
    above, below = np.maximum(octave - 1, 0), np.minimum(octave + 1, cells)
    part = block if curves.size == grid.cells.size else block.take(curves)
    point, low, high = (highest - at * OCTAVE for at in (octave, below, above))
    bracket = Bracket(point, grid.gain[octave, curves], low, high)
    return refined(part, bracket, point - _top(grid.gain, curves, octave, cells) * OCTAVE)


def _top(gain: Floats, curves: Ints, octave: Ints, cells: Ints) -> Floats:
    """Where the curve through five octaves has its top, in octaves from the middle one; 0 where that is not told."""
    middle = np.clip(octave, 2, np.maximum(cells - 2, 2))
    g0, g1, g2, g3, g4 = (gain[np.minimum(middle + step, gain.shape[0] - 1), curves] for step in range(-2, 3))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        c1, c2 = (g0 - 8 * g1 + 8 * g3 - g4) / 12, (-g0 + 16 * g1 - 30 * g2 + 16 * g3 - g4) / 24
        c3, c4 = (-g0 + 2 * g1 - 2 * g3 + g4) / 12, (g0 - 4 * g1 + 6 * g2 - 4 * g3 + g4) / 24
        t = 0.5 * (g1 - g3) / (g1 - 2 * g2 + g3)
        for _ in range(3):
            t = t - (c1 + t * (2 * c2 + t * (3 * c3 + t * 4 * c4))) / (2 * c2 + t * (6 * c3 + t * 12 * c4))
        return np.where((np.abs(t) < 1.0) & (middle == octave), t, 0.0)


def _other_peaks(block: Block, grid: _Grid, theta: Floats, status: Ints) -> None:
    """Where the grid has more than one peak, refine each and keep the best; changes `theta`, `status`."""
    peaks = _peaks(grid)
    many = np.flatnonzero((peaks.sum(axis=0) > 1) & (status != NOTHING))
    for octave in range(1, grid.gain.shape[0] - 1):
        rivals = many[peaks[octave, many] & (octave < grid.cells[many])]
        if rivals.size:
            found = _peak(block, grid, rivals, np.full(rivals.size, octave, dtype=np.intp))
            _keep_better(block.take(rivals), rivals, found, theta, status, grid.gain.max(axis=0)[rivals])


def _peaks(grid: _Grid) -> NDArray[np.bool_]:
    """Octaves whose gain is above both neighbours', shape (octaves, curves)."""
    edge = np.full((1, grid.cells.size), -np.inf)
    return np.asarray(
        (grid.gain > np.concatenate([edge, grid.gain[:-1]])) & (grid.gain >= np.concatenate([grid.gain[1:], edge])),
        dtype=bool,
    )


def _keep_better(part: Block, curves: Ints, candidate: Floats, theta: Floats, status: Ints, without: Floats) -> None:
    """Take the candidate where it gains more than what stands; `without`: what stands where nothing is fitted."""
    stands = np.where(status[curves] == FITTED, _gain(part, np.nan_to_num(theta[curves])), without)
    better = _gain(part, candidate) > stands
    theta[curves[better]], status[curves[better]] = candidate[better], FITTED


def _better_of(block: Block, theta: Floats, status: Ints, start: Floats) -> None:
    """The caller's candidate where, refined, it leaves a smaller sum of squares."""
    fitted = np.flatnonzero(status == FITTED)
    if fitted.size:
        part = block.take(fitted)
        near = np.clip(start[fitted], *_bounds(part))
        bracket = Bracket(near, _gain(part, near), near - OCTAVE, near + OCTAVE)
        found = refined(part, bracket, near)
        _keep_better(part, fitted, found, theta, status, np.zeros(near.size))


def _bounds(block: Block) -> tuple[Floats, Floats]:
    last = np.maximum(block.last_x(), LEAST_LAST_X)
    return lowest_theta(block.first_positive_x(), last), np.log(last * LARGEST_TAU_PER_LAST_X)


def _gain(block: Block, theta: Floats) -> Floats:
    """Gain at one log(tau) of each curve, shape (curves,)."""
    g = -np.expm1(-block.x * np.exp(-theta))
    cross, square = (g * block.y).sum(axis=0), (g * g).sum(axis=0)
    return np.asarray(np.maximum(cross, 0.0) ** 2 / np.maximum(square, np.finfo(float).tiny), dtype=float)
