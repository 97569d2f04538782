"""Bands over the debris curves of many jobs: what they had given by each minute of their flush.

Quick at a hundred thousand jobs: curves lie in two flat arrays, and a band rests on at most `MOST_JOBS` of the
jobs asked for, taken evenly over their order (the error of its quantiles from that is under 2 % of their spread).
"""

from __future__ import annotations

import numpy as np

from models.catch.records.ragged_arrays import Floats, Ints, Ragged
from models.catch.records.watch_result import CurveBand
from models.refusals import NotEnoughData

MIN_JOBS = 8
"""Under this many jobs a band of 8 in 10 would rest on its outermost job alone."""
MOST_JOBS = 4000
BAND_LEVELS = (0.10, 0.25, 0.50, 0.75, 0.90)
ENDED_SHARE = 0.9


def packed(minutes: Floats, cumulative_kg: Floats, place: Ints, jobs: int) -> Ragged:
    """Curves of `jobs` jobs from a long table in order of `place` (0 … jobs − 1) and of minutes; a job without a
    weighing has size 0."""
    size = np.bincount(place, minlength=jobs).astype(np.intp)
    return Ragged(minutes, cumulative_kg, (np.cumsum(size) - size).astype(np.intp), size)


def picked(curves: Ragged, places: Ints, most: int | None = None) -> Ragged:
    """The curves at those places that have a weighing; where there are more than `most`, evenly taken ones."""
    with_points = places[curves.size[places] > 0]
    if most is not None and with_points.size > most:
        with_points = with_points[np.linspace(0, with_points.size - 1, most).round().astype(np.intp)]
    size = curves.size[with_points]
    first = (np.cumsum(size) - size).astype(np.intp)
    points = np.repeat(curves.first[with_points] - first, size) + np.arange(int(size.sum()))
    return Ragged(curves.x[points].astype(float), curves.y[points].astype(float), first, size)


def as_share(curves: Ragged) -> Ragged:
    """The same curves as shares of what each job gave in all; jobs that gave nothing are left out."""
    some = picked(curves, np.flatnonzero(totals(curves) > 0))
    return Ragged(some.x, some.y / some.spread(totals(some)), some.first, some.size)


def totals(curves: Ragged) -> Floats:
    """Last figure of each curve, shape (curves,); every curve has a point."""
    return np.asarray(curves.y[curves.first + curves.size - 1], dtype=float)


def band(curves: Ragged, *, steps: int = 61) -> CurveBand:
    """Quantiles over curves by flush minute.

    Each curve starts at 0 at minute 0, is straight between weighings and stays at its last figure once it has
    ended; the band runs in `steps` equal steps to the minute by which nine in ten had ended. NotEnoughData under
    8 jobs.
    """
    if curves.size.size < MIN_JOBS:
        raise NotEnoughData(what="jobs with weighings", needed=MIN_JOBS, found=int(curves.size.size))
    grid = np.linspace(0.0, float(np.quantile(curves.last_x(), ENDED_SHARE)), steps)
    p10, p25, p50, p75, p90 = np.quantile(_on_grid(curves, grid), BAND_LEVELS, axis=0)
    return CurveBand(grid, p10, p25, p50, p75, p90, int(curves.size.size))


def minutes_to(share: float, band: CurveBand) -> float | None:
    """Flush minute at which the middle curve of a band of shares reaches that share; None if it does not."""
    reached = np.flatnonzero(band.p50 >= share)
    if reached.size == 0 or reached[0] == 0:
        return None
    at = int(reached[0])
    return float(np.interp(share, band.p50[at - 1 : at + 1], band.minutes[at - 1 : at + 1]))


def _on_grid(curves: Ragged, grid: Floats) -> Floats:
    """Every curve at the grid, shape (curves, grid): one interpolation along all curves laid end to end.

    Curve k lies in [k·length, (k + 1)·length): a zero at its start, its weighings, its total held to the
    end. No weighing and no grid minute lies in the last unit of a curve, so neighbours never mix.
    """
    number = np.arange(curves.size.size, dtype=float)
    length = float(curves.x.max()) + 2.0
    x = np.concatenate([number * length, curves.x + curves.spread(number) * length, (number + 1) * length - 1.0])
    y = np.concatenate([np.zeros(number.size), curves.y, totals(curves)])
    order = np.argsort(x, kind="stable")
    return np.asarray(np.interp(grid + number[:, None] * length, x[order], y[order]), dtype=float)
