"""What will still be caught on a job, and how long it will take, as crews of this book work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.posterior.job_arrays import JobArrays, job_arrays
from models.catch.records.job import JobCatch
from models.catch.stopping.landmark_features import Kind, glance
from models.catch.stopping.stopping_regression import Moment, features, is_bare, moment
from models.catch.stopping.train_stopping import Learnt
from models.quantiles import LEVELS, Quantiles

SEVEN = np.array(list(LEVELS.values()))


@dataclass(frozen=True, slots=True)
class CrewForecast:
    """Quantiles of kilograms (dry) still to be caught on this job and of flush minutes until it ends."""

    kg: Quantiles
    minutes: Quantiles
    kind: Kind
    jobs: int


def expect(learnt: Learnt, job: JobCatch, now: float) -> CrewForecast | None:
    """For a job as known at flush minute `now`; None before anything was caught."""
    one = job_arrays(job, learnt.pace)
    return None if one is None else expect_of(learnt, one, now)


def expect_of(learnt: Learnt, one: JobArrays, now: float) -> CrewForecast | None:
    """The same for a job laid out already."""
    seen = glance(one, now)
    if seen is None:
        return None
    expected = None if learnt.emitters is None else learnt.emitters.expected(one)
    at = moment(seen, learnt.emitters, expected)
    wider: tuple[Kind, ...] = (at.kind, "any") if at.pools is not None else (at.kind, "together", "any")
    if is_bare(one):
        wider = ("bare", *wider)
    kind = next((each for each in wider if each in learnt.crews), None)
    if kind is None:
        return None
    at = at if kind == at.kind else Moment(kind, seen, None)
    crew = learnt.crews[kind]
    plan = learnt.prospect.usual if kind == "bare" else learnt.prospect.of(one)
    row, start = features(one, at, plan, crew.weights)
    kg, minutes = crew.quantiles(row, start, SEVEN)
    return CrewForecast(Quantiles.from_values(kg), Quantiles.from_values(minutes), at.kind, crew.jobs)
