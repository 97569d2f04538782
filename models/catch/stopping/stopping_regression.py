"""Lines fitted on past jobs: what a job is expected to give before it begins, and what follows from any moment of it.

A past job is looked at by the clock, every 20 minutes of its flush to the last, as a crew would look: shares of a flush
are shares of an end that nobody knows while it goes on. Each job counts once, however long it took. Everything here is
fitted on the jobs that it is given; `models.catch.stopping.train_stopping` sets the ranges.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.catch.posterior.cumulative_posterior import Pace
from models.catch.posterior.job_arrays import JobArrays
from models.catch.posterior.priors import EmitterPrior, learn_emitters
from models.catch.posterior.ridge import Ridge, RidgeDesign, design, fit
from models.catch.records.ragged_arrays import Floats, Ints
from models.catch.stopping import landmark_features
from models.catch.stopping.landmark_features import EPS_KG, KINDS, Glance, Kind, PlanForecast, Pools
from models.catch.stopping.stopping_model import EPS_MINUTES, Lines, fit_lines, pool_weights, start_of
from models.survey_features import FEATURE_NAMES

MIN_KIND_JOBS = 30
EVERY_MINUTES = 20.0
MIN_CATCHES = 3


@dataclass(frozen=True, slots=True, eq=False)
class Prospect:
    """What a job is expected to give before it begins: lines of log kilograms and log minutes; and the usual job."""

    kg: Ridge
    minutes: Ridge
    usual: PlanForecast

    def of(self, one: JobArrays) -> PlanForecast:
        """For one job, from survey, plan and the minutes quoted."""
        return self.of_all([one])[0]

    def of_all(self, sheets: Sequence[JobArrays]) -> list[PlanForecast]:
        """The same for many jobs."""
        rows = np.stack([prospect_row(one) for one in sheets])
        return [
            PlanForecast(*each)
            for each in zip(self.kg.predict(rows).tolist(), self.minutes.predict(rows).tolist(), strict=True)
        ]


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """One moment of one job: kind of work, what the weighings say, pools if one emitter at a time."""

    kind: Kind
    seen: Glance
    pools: Pools | None


PLAN_FEATURES = (*FEATURE_NAMES, "log_quoted_minutes", "log_emitters")
"""What is known before the flush begins, in order: answers of survey and plan as `job_arrays` transforms them."""


def prospect_row(one: JobArrays) -> Floats:
    """`PLAN_FEATURES` (features,) of a job."""
    return np.append(one.survey, [np.log(max(one.quoted_minutes, 1.0)), np.log(max(len(one.numbers), 1))])


def moment(seen: Glance, prior: EmitterPrior | None, expected: Floats | None) -> Moment:
    """The moment of a glance; `expected` are the emitters' mean log kilograms by the prior."""
    if seen.standing is None:
        return Moment(seen.kind, seen, None)
    if prior is None or expected is None:
        return Moment("any", seen, None)
    return Moment(seen.kind, seen, landmark_features.pools_of(seen.standing, prior, expected))


def features(one: JobArrays, at: Moment, plan: PlanForecast, weights: Floats) -> tuple[Floats, float]:
    """Feature row and start on the log scale of kilograms."""
    if at.pools is None:
        return landmark_features.house_row(0 if at.kind == "bare" else len(one.numbers), at.seen, plan), 0.0
    base = float(weights @ np.array([at.pools.hand, at.pools.waiting, at.pools.behind]))
    return landmark_features.by_emitter_row(len(one.numbers), at.seen, plan, at.pools, base), start_of(base)


Seen = tuple[JobArrays, list[Glance]]
"""A past job with glances every `EVERY_MINUTES` of its flush."""
Past = list[tuple[JobArrays, list[Moment]]]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Moments of many jobs of one kind, x (n, features) by name, with what then came."""

    features: tuple[str, ...]
    x: Floats
    start: Floats
    kg: Floats
    minutes: Floats
    job: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """All moments of many jobs, with what then came: `house` rows (n, features) of each as if several emitters were
    open, `bare` rows as if nothing but weighings were known, and rows with their start of those done one at a time, at
    the places `alone`."""

    kind: NDArray[np.str_]
    house: Floats
    bare: Floats
    alone: Ints
    by_emitter: Floats
    start: Floats
    kg: Floats
    minutes: Floats
    job: Ints

    def of(self, kind: Kind) -> Rows:
        """The moments of a kind; for `any` all of them, as if nothing were known of the way of working."""
        if kind == "one_at_a_time":
            at, x, start = self.alone, self.by_emitter, self.start
        else:
            at = np.flatnonzero(np.isin(self.kind, landmark_features.COVERS.get(kind, (kind,))))
            x, start = (self.bare if kind == "bare" else self.house)[at], np.zeros(len(at))
        return Rows(landmark_features.features_of(kind), x, start, self.kg[at], self.minutes[at], self.job[at])


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """Everything but the calibration scores; `jobs` of each kind."""

    prior: EmitterPrior | None
    prospect: Prospect
    weights: Floats
    kg: Mapping[Kind, Lines]
    minutes: Mapping[Kind, Lines]
    jobs: Mapping[Kind, int]


def is_usable(one: JobArrays) -> bool:
    """A finished job with weighings enough to be learnt from or judged by."""
    return bool(len(one.kg) >= MIN_CATCHES and one.end > 0 and float(one.kg.sum()) > 0)


def is_bare(one: JobArrays) -> bool:
    """Nothing is known of the house: no answer of survey or plan, no time quoted, no emitter's size, kind or state."""
    known = (np.isfinite(one.survey).any(), np.isfinite(one.quoted_minutes), np.isfinite(one.emitters).any())
    return not any(known)


def clock_moments(end: float, every: float = EVERY_MINUTES, first: float | None = None) -> list[float]:
    """Flush minutes before the end of a flush, `every` so many from `first` on (None: likewise); its middle where it is
    shorter."""
    return [float(at) for at in np.arange(every if first is None else first, end - 0.5, every)] or [0.5 * end]


def seen_job(one: JobArrays) -> Seen:
    """A past job with glances every `EVERY_MINUTES`, in their middle; they hang on no prior and are taken once."""
    moments = clock_moments(one.end, EVERY_MINUTES, EVERY_MINUTES / 2)
    found = (landmark_features.glance(one, at) for at in moments)
    return one, [each for each in found if each is not None]


def fit_all(seen: Sequence[Seen], pace: Pace) -> Fitted:
    """Prior, plan and lines of each kind of work with enough jobs, from past jobs."""
    sheets = [one for one, _ in seen]
    prior = learn_emitters(sheets, pace)
    plan = design(np.stack([prospect_row(one) for one in sheets]))
    total = np.array([float(one.kg.sum()) for one in sheets])
    end = np.array([one.end for one in sheets])
    usual = PlanForecast(float(np.log(np.median(total) + EPS_KG)), float(np.log(np.median(end))))
    prospect = Prospect(fit(plan, np.log(total + EPS_KG)), fit(plan, np.log(end)), usual)
    past = past_moments(seen, prior)
    weights = _weights(past)
    table = laid(past, prospect, weights)
    kg, minutes, jobs = {}, {}, {}
    for kind in KINDS:
        rows = table.of(kind)
        jobs[kind] = len(np.unique(rows.job))
        if jobs[kind] < MIN_KIND_JOBS and kind != "any":
            continue
        if kind == "bare" and 2 * sum(is_bare(one) for one in sheets) > len(sheets):
            continue  # in such a book these are the usual jobs, told by what their weighings say
        ready = design_by_job(rows)
        kg[kind] = fit_lines(rows.features, rows.x, ready, rows.start, rows.kg, EPS_KG)
        minutes[kind] = fit_lines(rows.features, rows.x, ready, np.zeros(len(rows.x)), rows.minutes, EPS_MINUTES)
    return Fitted(prior, prospect, weights, kg, minutes, jobs)


def design_by_job(rows: Rows) -> RidgeDesign:
    """Moments made ready for a fit in which each job counts once, however many moments it has."""
    return design(rows.x, 1.0 / np.bincount(rows.job)[rows.job], len(np.unique(rows.job)))


def past_moments(seen: Sequence[Seen], prior: EmitterPrior | None) -> Past:
    """Past jobs with their moments."""
    found = []
    for one, glances in seen:
        expected = None if prior is None else prior.expected(one)
        found.append((one, [moment(each, prior, expected) for each in glances]))
    return found


def _weights(past: Past) -> Floats:
    """Weights of the pools of jobs done one emitter at a time."""
    seen = [(one, at, at.pools) for one, moments_of in past for at in moments_of]
    pool = [[found.hand, found.waiting, found.behind] for _, _, found in seen if found is not None]
    kg = [float(one.kg[at.seen.known :].sum()) for one, at, found in seen if found is not None]
    return pool_weights(np.array(pool), np.array(kg)) if pool else np.zeros(3)


def laid(past: Past, prospect: Prospect, weights: Floats) -> Laid:
    """All moments of past jobs as rows."""
    plans = prospect.of_all([one for one, _ in past])
    jobs = enumerate(zip(past, plans, strict=True))
    found = [(job, one, plan, at) for job, ((one, some), plan) in jobs for at in some]
    alone = [number for number, (_, _, _, at) in enumerate(found) if at.pools is not None]
    own = [features(one, at, plan, weights) for _, one, plan, at in (found[number] for number in alone)]
    return Laid(
        kind=np.array([at.kind for *_, at in found], dtype=str),
        house=np.array([landmark_features.house_row(len(one.numbers), at.seen, plan) for _, one, plan, at in found]),
        bare=np.array([landmark_features.house_row(0, at.seen, prospect.usual) for *_, at in found]),
        alone=np.array(alone, dtype=np.intp),
        by_emitter=np.array([row for row, _ in own]),
        start=np.array([start for _, start in own]),
        kg=np.array([float(one.kg[at.seen.known :].sum()) for _, one, _, at in found]),
        minutes=np.array([one.end - at.seen.now for _, one, _, at in found]),
        job=np.array([job for job, *_ in found], dtype=np.intp),
    )
