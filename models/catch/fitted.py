"""Lines fitted on past jobs: what a job is expected to give before it begins, and what follows from any moment of it.

A past job is looked at at even steps of its flush, so that a moment counts as often as crews stand in it. Everything
here is fitted on the jobs that it is given; `models.catch.learn` sets the ranges.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.catch import moments
from models.catch.crew import EPS_MINUTES, Lines, fit_lines, pool_weights, start_of
from models.catch.moments import EPS_KG, KINDS, Expected, Glance, Kind, Pools
from models.catch.prefix import Pace
from models.catch.priors import EmitterPrior, learn_emitters
from models.catch.ragged import Floats, Ints
from models.catch.ridge import Ridge, design, fit
from models.catch.sheet import Sheet

MIN_KIND_JOBS = 30
SHARES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
MIN_CATCHES = 3


@dataclass(frozen=True, slots=True, eq=False)
class Prospect:
    """What a job is expected to give before it begins: lines of log kilograms and log minutes."""

    kg: Ridge
    minutes: Ridge

    def of(self, one: Sheet) -> Expected:
        """For one job, from survey, plan and the minutes quoted."""
        row = prospect_row(one)[None, :]
        return Expected(float(self.kg.predict(row)[0]), float(self.minutes.predict(row)[0]))


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """One moment of one job: kind of work, what the weighings say, pools if one emitter at a time."""

    kind: Kind
    seen: Glance
    pools: Pools | None


def prospect_row(one: Sheet) -> Floats:
    """Features (features,) known before the flush begins."""
    return np.append(one.survey, [np.log(max(one.quoted_minutes, 1.0)), np.log(max(len(one.numbers), 1))])


def moment(one: Sheet, seen: Glance, prior: EmitterPrior | None, expected: Floats | None) -> Moment:
    """The moment of a glance; `expected` are the emitters' mean log kilograms by the prior."""
    kind = moments.kind_of(one, seen.now)
    if kind != "one_at_a_time":
        return Moment(kind, seen, None)
    if prior is None or expected is None:
        return Moment("any", seen, None)
    return Moment(kind, seen, moments.pools(one, seen.known, prior, expected))


def features(one: Sheet, at: Moment, plan: Expected, weights: Floats) -> tuple[Floats, float]:
    """Feature row and start on the log scale of kilograms."""
    if at.pools is None:
        return moments.house_row(one, at.seen, plan), 0.0
    base = float(weights @ np.array([at.pools.hand, at.pools.waiting, at.pools.behind]))
    return moments.by_emitter_row(one, at.seen, plan, at.pools, base), start_of(base)


Seen = tuple[Sheet, list[Glance]]
"""A past job with glances at `SHARES` of its flush."""
Past = list[tuple[Sheet, list[Moment]]]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Moments of many jobs of one kind, with what then came."""

    x: Floats
    start: Floats
    kg: Floats
    minutes: Floats
    job: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """Everything but the calibration scores; `jobs` of each kind."""

    prior: EmitterPrior | None
    prospect: Prospect
    weights: Floats
    kg: Mapping[Kind, Lines]
    minutes: Mapping[Kind, Lines]
    jobs: Mapping[Kind, int]


def is_usable(one: Sheet) -> bool:
    """A finished job with weighings enough to be learnt from or judged by."""
    return bool(len(one.kg) >= MIN_CATCHES and one.end > 0 and float(one.kg.sum()) > 0)


def seen_job(one: Sheet) -> Seen:
    """A past job with glances at `SHARES` of its flush; they hang on no prior and are taken once."""
    found = (moments.glance(one, share * one.end) for share in SHARES)
    return one, [each for each in found if each is not None]


def fit_all(seen: Sequence[Seen], pace: Pace) -> Fitted:
    """Prior, plan and lines of each kind of work with enough jobs, from past jobs."""
    sheets = [one for one, _ in seen]
    prior = learn_emitters(sheets, pace)
    plan = design(np.stack([prospect_row(one) for one in sheets]))
    total = np.array([float(one.kg.sum()) for one in sheets])
    end = np.array([one.end for one in sheets])
    prospect = Prospect(fit(plan, np.log(total + EPS_KG)), fit(plan, np.log(end)))
    plans = [prospect.of(one) for one in sheets]
    past = past_moments(seen, prior)
    weights = _weights(past)
    kg, minutes, jobs = {}, {}, {}
    for kind in KINDS:
        rows = rows_of(past, plans, weights, kind)
        jobs[kind] = len(np.unique(rows.job))
        if jobs[kind] < MIN_KIND_JOBS and kind != "any":
            continue
        ready = design(rows.x, 1.0 / np.bincount(rows.job)[rows.job], jobs[kind])  # each job counts once
        kg[kind] = fit_lines(rows.x, ready, rows.start, rows.kg, EPS_KG)
        minutes[kind] = fit_lines(rows.x, ready, np.zeros(len(rows.x)), rows.minutes, EPS_MINUTES)
    return Fitted(prior, prospect, weights, kg, minutes, jobs)


def past_moments(seen: Sequence[Seen], prior: EmitterPrior | None) -> Past:
    """Past jobs with their moments at `SHARES` of the flush."""
    found = []
    for one, glances in seen:
        expected = None if prior is None else prior.expected(one)
        found.append((one, [moment(one, each, prior, expected) for each in glances]))
    return found


def _weights(past: Past) -> Floats:
    """Weights of the pools of jobs done one emitter at a time."""
    seen = [(one, at, at.pools) for one, moments_of in past for at in moments_of]
    pool = [[found.hand, found.waiting, found.behind] for _, _, found in seen if found is not None]
    kg = [float(one.kg[at.seen.known :].sum()) for one, at, found in seen if found is not None]
    return pool_weights(np.array(pool), np.array(kg)) if pool else np.zeros(3)


def rows_of(past: Past, plans: Sequence[Expected], weights: Floats, kind: Kind) -> Rows:
    """The moments of a kind; for `any` all of them, as if nothing were known of the way of working."""
    x, start, kg, minutes, job = [], [], [], [], []
    for number, ((one, moments_of), plan) in enumerate(zip(past, plans, strict=True)):
        for found in moments_of:
            if found.kind not in moments.COVERS.get(kind, (kind,)):
                continue
            at = replace(found, kind=kind, pools=None) if kind in moments.COVERS else found
            row, begin = features(one, at, plan, weights)
            x.append(row)
            start.append(begin)
            kg.append(float(one.kg[at.seen.known :].sum()))
            minutes.append(one.end - at.seen.now)
            job.append(number)
    return Rows(np.array(x), np.array(start), np.array(kg), np.array(minutes), np.array(job, dtype=np.intp))
