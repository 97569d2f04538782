"""The band of similar jobs: at each minute of flushing, what the middle job and 8 jobs in 10 had caught."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from models.refusals import NotEnoughData

if TYPE_CHECKING:
    import pandas as pd

JOBS_NEEDED = 8
"""Under this many jobs a band of 8 in 10 would rest on its outermost job alone."""
GRID_POINTS = 120
EMITTERS_APART = 3


@dataclass(frozen=True, slots=True)
class Band:
    """Quantiles of cumulative dry magnetite over flush minutes: arrays of one length, `jobs` behind them."""

    minutes: NDArray[np.float64]
    low_kg: NDArray[np.float64]
    middle_kg: NDArray[np.float64]
    high_kg: NDArray[np.float64]
    jobs: int


def catch_band(curves: pd.DataFrame) -> Band:
    """10 %, 50 % and 90 % quantiles over jobs of the magnetite caught by each flush minute.

    `curves`: magnet rows of `ftr_catch_curve` of many jobs. Between weighings a job holds its last
    figure (what is in the trap is not known), after its last weighing it holds that to the end. The
    grid ends at the 90 % quantile of the jobs' last weighings. Raises NotEnoughData under 8 jobs.
    """
    jobs = [own for _, own in curves.groupby(["firm_id", "job_id"], sort=False)]
    if len(jobs) < JOBS_NEEDED:
        raise NotEnoughData(what="similar jobs with weighings", needed=JOBS_NEEDED, found=len(jobs))
    last = np.array([float(own["minutes_since_start"].max()) for own in jobs])
    grid = np.linspace(0.0, float(np.quantile(last, 0.9)), GRID_POINTS)
    held = np.array([held_at(own, grid) for own in jobs])
    low, middle, high = np.quantile(held, [0.1, 0.5, 0.9], axis=0)
    return Band(grid, low, middle, high, len(jobs))


def held_at(own: pd.DataFrame, minutes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Magnetite of one job [kg] known by each of `minutes`: the last weighing at or before it, else 0."""
    ordered = own.sort_values("minutes_since_start")
    known = np.concatenate([[0.0], ordered["cumulative_magnetite_kg"].to_numpy(dtype=float)])
    times = ordered["minutes_since_start"].to_numpy(dtype=float)
    return np.asarray(known[np.searchsorted(times, minutes, side="right")], dtype=float)


def similar_mask(jobs: pd.DataFrame, job: pd.Series) -> pd.Series:
    """Which of `jobs` are like `job`: same system type, emitter count within 3, and not the job itself.

    Needs `firm_id`, `job_id`, `system_type`, `emitter_count`. A job without a count is like any other
    of its type.
    """
    itself = (jobs["firm_id"] == job["firm_id"]) & (jobs["job_id"] == job["job_id"])
    alike = jobs["system_type"] == job["system_type"]
    if job["emitter_count"] == job["emitter_count"]:
        alike &= (jobs["emitter_count"] - job["emitter_count"]).abs() <= EMITTERS_APART
    mask: pd.Series = alike & ~itself
    return mask
