"""The band of similar jobs: how many kilograms past jobs had given by each minute of their flush."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from models.catch.ragged import Floats, Ragged, checked_points, ragged
from models.catch.result import CurveBand
from models.refusals import NotEnoughData

MIN_JOBS = 5
BAND_LEVELS = (0.10, 0.25, 0.50, 0.75, 0.90)


def band_of_similar(
    minutes: ArrayLike, cumulative_kg: ArrayLike, job: ArrayLike, *, steps: int = 61
) -> CurveBand:
    """Quantiles of cumulative kilograms against flush minutes over many jobs.

    minutes, cumulative_kg, job: shape (weighings,), a long table in any order, job being any label. Each
    job's curve starts at 0 kg at minute 0, is straight between weighings and stays at its total once it has
    ended; the band runs in `steps` equal steps to the minute by which nine in ten jobs had ended.
    NotEnoughData under 5 jobs; ValueError with the facts for NaN, negative minutes or unequal lengths.
    """
    x, y = checked_points(minutes, cumulative_kg)
    labels = np.asarray(job)
    if labels.shape != x.shape:
        raise ValueError(f"job must name the job of each weighing; it has {labels.shape}, minutes {x.shape}.")
    names, curves = ragged(x, y, labels)
    if names.size < MIN_JOBS:
        raise NotEnoughData(what="similar jobs with weighings", needed=MIN_JOBS, found=int(names.size))
    grid = np.linspace(0.0, float(np.quantile(curves.last_x(), 0.9)), steps)
    p10, p25, p50, p75, p90 = np.quantile(_on_grid(curves, grid), BAND_LEVELS, axis=0)
    return CurveBand(grid, p10, p25, p50, p75, p90, int(names.size))


def _on_grid(curves: Ragged, grid: Floats) -> Floats:
    """Every curve at the grid, shape (curves, grid): one interpolation along all curves laid end to end.

    Curve k lies in [k·length, (k + 1)·length): a zero at its start, its weighings, its total held to the
    end. No weighing and no grid minute lies in the last unit of a curve, so neighbours never mix.
    """
    number = np.arange(curves.size.size, dtype=float)
    length = float(curves.x.max()) + 2.0
    totals = curves.y[curves.first + curves.size - 1]
    x = np.concatenate([number * length, curves.x + curves.spread(number) * length, (number + 1) * length - 1.0])
    y = np.concatenate([np.zeros(number.size), curves.y, totals])
    order = np.argsort(x, kind="stable")
    return np.asarray(np.interp(grid + number[:, None] * length, x[order], y[order]), dtype=float)
