"""Who goes where on which day: visits on working days, no engineer on two first days at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from synthetic_data.parameters import Parameters
from synthetic_data.streams import stream

SIZE_SD_LOG = 1.1
"""Spread of firm sizes in a pool: the largest has some hundred times the jobs of the smallest (assumption)."""
SMALLEST_FIRM = 5
FEWEST_ENGINEERS = 3


@dataclass(frozen=True, slots=True)
class Diary:
    """One entry a job, firm by firm in order of date: first day on site, engineer, firm, number in its firm.

    `engineer` and `firm` are indices; `firm_of_engineer` and `number_of_engineer` have one entry an engineer.
    """

    visit_date: NDArray[np.datetime64]
    engineer: NDArray[np.int64]
    firm: NDArray[np.int64]
    number: NDArray[np.int64]
    firm_of_engineer: NDArray[np.int64]
    number_of_engineer: NDArray[np.int64]

    @property
    def engineers(self) -> int:
        """Engineers of all firms."""
        return len(self.firm_of_engineer)


def firm_sizes(rng: np.random.Generator, jobs: int, firms: int) -> NDArray[np.int64]:
    """Jobs of each firm, largest first; they add up to `jobs`, none under `SMALLEST_FIRM` while jobs last."""
    if firms == 1:
        return np.array([jobs])
    weight = -np.sort(-np.exp(SIZE_SD_LOG * rng.standard_normal(firms)))
    least = min(SMALLEST_FIRM, jobs // firms)
    exact = weight / weight.sum() * (jobs - least * firms)
    sizes = np.floor(exact).astype(np.int64)
    sizes[np.argsort(sizes - exact, kind="stable")[: jobs - least * firms - int(sizes.sum())]] += 1
    return np.asarray(sizes + least)


def make_diary(jobs: int, seed: int, parameters: Parameters, firms: int = 1) -> Diary:
    """Spread `jobs` over firms and over the working days of the window, and hand them to engineers."""
    sizes = firm_sizes(stream(seed, "firms"), jobs, firms)
    parts, hired = [], 0
    for firm in np.flatnonzero(sizes):
        date, engineer, number = _one_firm(stream(seed, "diary", int(firm)), int(sizes[firm]), parameters)
        parts.append(
            (
                date,
                engineer + hired,
                np.full(len(date), firm),
                np.arange(len(date)) + 1,
                np.full(number, firm),
                np.arange(number) + 1,
            )
        )
        hired += number
    return Diary(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _one_firm(
    rng: np.random.Generator, jobs: int, parameters: Parameters
) -> tuple[NDArray[np.datetime64], NDArray[np.int64], int]:
    """Dates, engineers of those jobs, and how many engineers there are."""
    first, last = np.datetime64(parameters.first_visit), np.datetime64(parameters.last_visit)
    days = np.busday_offset(first, np.arange(int(np.busday_count(first, last + 1))), roll="forward")
    # one job in each of `jobs` equal slices of the window: dates rise with the job number
    at = np.minimum(((np.arange(jobs) + rng.random(jobs)) / jobs * len(days)).astype(np.int64), len(days) - 1)
    busiest = int(np.bincount(at).max())
    fewest = min(FEWEST_ENGINEERS, 1 + jobs // 20)
    engineers = max(fewest, busiest, round(jobs / parameters.crew.jobs_per_engineer))
    turn = np.argsort(rng.random((len(days), engineers)), axis=1)
    first_of_day = np.searchsorted(at, at)
    return days[at], turn[at, np.arange(jobs) - first_of_day], engineers
