"""Who goes where on which day: visits on working days, no engineer on two first days at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from synthetic_data.parameters import Parameters
from synthetic_data.streams import stream


@dataclass(frozen=True, slots=True)
class Diary:
    """One entry a job, in order of date: first day on site, engineer (index)."""

    visit_date: NDArray[np.datetime64]
    engineer: NDArray[np.int64]
    engineers: int


def make_diary(jobs: int, seed: int, parameters: Parameters) -> Diary:
    """Spread `jobs` over the working days of the window and hand them to engineers."""
    rng = stream(seed, "diary")
    first, last = np.datetime64(parameters.first_visit), np.datetime64(parameters.last_visit)
    days = np.busday_offset(first, np.arange(int(np.busday_count(first, last + 1))), roll="forward")
    # one job in each of `jobs` equal slices of the window: dates rise with the job number
    at = np.minimum(((np.arange(jobs) + rng.random(jobs)) / jobs * len(days)).astype(np.int64), len(days) - 1)
    busiest = int(np.bincount(at).max())
    engineers = max(3, busiest, round(jobs / parameters.crew.jobs_per_engineer))
    turn = np.argsort(rng.random((len(days), engineers)), axis=1)
    first_of_day = np.searchsorted(at, at)
    return Diary(days[at], turn[at, np.arange(jobs) - first_of_day], engineers)
