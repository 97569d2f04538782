"""Learn from finished jobs what crews of a book go on to catch; calibrate on later jobs than those learnt from.

START HERE for learning: `learn` → `Learnt` → `expect` at any moment of any job. Rolling origins give scores
of jobs that come later than what each was fitted on; their order is the predictive distribution. The lines
in use are then fitted on all jobs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from models.catch import moments
from models.catch.crew import EPS_MINUTES, CrewModel, Lines, Target, fit_lines, ladders, pool_weights, start_of
from models.catch.job import JobCatch
from models.catch.moments import EPS_KG, KINDS, Expected, Glance, Kind, Pools
from models.catch.prefix import EMITTER_PACE, Pace
from models.catch.priors import EmitterPrior, learn_emitters, learn_pace
from models.catch.ragged import Floats, Ints
from models.catch.release_effects import ReleaseEffects
from models.catch.ridge import Ridge, design, fit
from models.catch.sheet import Sheet, sheet
from models.refusals import NotEnoughData

MIN_JOBS = 40
MIN_KIND_JOBS = 30
MOST_JOBS = 3000  # the newest: habits change, and more add nothing
SHARES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
ORIGINS = (0.7, 0.8, 0.9)  # scores of lines from fewer jobs are too wide for the lines in use
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
class Learnt:
    """What is learnt from past jobs. `crews` lacks a kind of work with too few jobs; `any` serves it. `effects` of heat
    and flow are shown, and move no forecast: readings come too late and too seldom to run a clock by."""

    pace: Pace
    emitters: EmitterPrior | None
    prospect: Prospect
    crews: Mapping[Kind, CrewModel]
    jobs: int
    window_from: date
    window_to: date
    effects: ReleaseEffects | None = None


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


_Seen = tuple[Sheet, list[Glance]]
_Past = list[tuple[Sheet, list[Moment]]]


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Moments of many jobs of one kind, with what then came."""

    x: Floats
    start: Floats
    kg: Floats
    minutes: Floats
    job: Ints


@dataclass(frozen=True, slots=True, eq=False)
class _Fitted:
    """Everything but the calibration scores."""

    prior: EmitterPrior | None
    prospect: Prospect
    weights: Floats
    kg: Mapping[Kind, Lines]
    minutes: Mapping[Kind, Lines]
    jobs: Mapping[Kind, int]


def learn(
    jobs: Sequence[JobCatch], *, progress: Callable[[int, int], None] | None = None
) -> Learnt:
    """From finished jobs in any order; NotEnoughData under 40 with three weighings of the magnet each."""
    finished = sorted((job for job in jobs if job.is_finished), key=lambda job: (job.started_at, job.job_id))
    laid = [(job, sheet(job, EMITTER_PACE)) for job in finished[-MOST_JOBS:]]
    usable = [(job, one) for job, one in laid if one is not None and is_usable(one)]
    if len(usable) < MIN_JOBS:
        raise NotEnoughData(what="finished jobs with three weighings each", needed=MIN_JOBS, found=len(usable))
    pace = learn_pace([one for _, one in usable])
    seen = [_seen(one) for job, _ in usable for one in (sheet(job, pace),) if one is not None]
    steps, scores = len(ORIGINS) + 1, []
    for step, origin in enumerate(ORIGINS):
        cut, end = (round(share * len(seen)) for share in (origin, (*ORIGINS, 1.0)[step + 1]))
        scores.append(_scores(_fit(seen[:cut], pace), seen[cut:end]))
        if progress is not None:
            progress(step + 1, steps)
    fitted = _fit(seen, pace)
    crews = {kind: crew for kind in KINDS for crew in (_crew(kind, fitted, scores),) if crew is not None}
    if progress is not None:
        progress(steps, steps)
    days = [job.started_at.date() for job, _ in usable]
    return Learnt(pace, fitted.prior, fitted.prospect, crews, len(usable), days[0], days[-1])


def is_usable(one: Sheet) -> bool:
    """A finished job with weighings enough to be learnt from or judged by."""
    return bool(len(one.kg) >= MIN_CATCHES and one.end > 0 and float(one.kg.sum()) > 0)


def _seen(one: Sheet) -> _Seen:
    """A past job with glances at `SHARES` of its flush; they hang on no prior and are taken once."""
    found = (moments.glance(one, share * one.end) for share in SHARES)
    return one, [each for each in found if each is not None]


def _fit(seen: Sequence[_Seen], pace: Pace) -> _Fitted:
    sheets = [one for one, _ in seen]
    prior = learn_emitters(sheets, pace)
    plan = design(np.stack([prospect_row(one) for one in sheets]))
    total = np.array([float(one.kg.sum()) for one in sheets])
    end = np.array([one.end for one in sheets])
    prospect = Prospect(fit(plan, np.log(total + EPS_KG)), fit(plan, np.log(end)))
    past = _past(seen, prior)
    weights = _weights(past)
    kg, minutes, jobs = {}, {}, {}
    for kind in KINDS:
        rows = _rows(past, prospect, weights, kind)
        jobs[kind] = len(np.unique(rows.job))
        if jobs[kind] < MIN_KIND_JOBS and kind != "any":
            continue
        ready = design(rows.x, 1.0 / np.bincount(rows.job)[rows.job], jobs[kind])  # each job counts once
        kg[kind] = fit_lines(rows.x, ready, rows.start, rows.kg, EPS_KG)
        minutes[kind] = fit_lines(rows.x, ready, np.zeros(len(rows.x)), rows.minutes, EPS_MINUTES)
    return _Fitted(prior, prospect, weights, kg, minutes, jobs)


def _past(seen: Sequence[_Seen], prior: EmitterPrior | None) -> _Past:
    """Past jobs with their moments at `SHARES` of the flush."""
    found = []
    for one, glances in seen:
        expected = None if prior is None else prior.expected(one)
        found.append((one, [moment(one, each, prior, expected) for each in glances]))
    return found


def _weights(past: _Past) -> Floats:
    """Weights of the pools of jobs done one emitter at a time."""
    seen = [(one, at, at.pools) for one, moments_of in past for at in moments_of]
    pool = [[found.hand, found.waiting, found.behind] for _, _, found in seen if found is not None]
    kg = [float(one.kg[at.seen.known :].sum()) for one, at, found in seen if found is not None]
    return pool_weights(np.array(pool), np.array(kg)) if pool else np.zeros(3)


def _rows(past: _Past, prospect: Prospect, weights: Floats, kind: Kind) -> _Rows:
    """The moments of a kind; for `any` all of them, as if nothing were known of the way of working."""
    x, start, kg, minutes, job = [], [], [], [], []
    for number, (one, moments_of) in enumerate(past):
        plan = prospect.of(one)
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
    return _Rows(np.array(x), np.array(start), np.array(kg), np.array(minutes), np.array(job, dtype=np.intp))


@dataclass(frozen=True, slots=True, eq=False)
class _Scores:
    """Scores of later jobs of one kind, shape (moments,): kilograms, minutes, share of the planned time, job."""

    kg: Floats
    minutes: Floats
    progress: Floats
    job: Ints


def _scores(fitted: _Fitted, later: Sequence[_Seen]) -> dict[Kind, _Scores]:
    """Scores of later jobs by kind of work."""
    past = _past(later, fitted.prior)
    found: dict[Kind, _Scores] = {}
    for kind in fitted.kg:
        rows = _rows(past, fitted.prospect, fitted.weights, kind)
        if len(rows.x) == 0:
            continue
        kg = _score(fitted.kg[kind], rows.x, rows.start, rows.kg + EPS_KG)
        minutes = _score(fitted.minutes[kind], rows.x, np.zeros(len(rows.x)), rows.minutes + EPS_MINUTES)
        found[kind] = _Scores(kg, minutes, rows.x[:, moments.PROGRESS], rows.job)
    return found


def _score(lines: Lines, x: Floats, start: Floats, value: Floats) -> Floats:
    centre, scale = lines.centre_and_spread(x, start)
    return np.asarray((np.log(value) - centre) / scale, dtype=float)


def _crew(kind: Kind, fitted: _Fitted, scores: Sequence[Mapping[Kind, _Scores]]) -> CrewModel | None:
    """Lines of all jobs with the scores of the later ones; None where there are too few of either. A kind that
    is told shares its scores with the others that are: in units of its own spread they are alike."""
    alike = [kind] if kind in moments.COVERS else [each for each in KINDS if each not in moments.COVERS]
    parts = [by_kind[each] for by_kind in scores for each in alike if each in by_kind]
    if kind not in fitted.kg or not parts:
        return None
    jobs = sum(len(np.unique(part.job)) for part in parts)
    progress = np.concatenate([part.progress for part in parts])
    kg = ladders(np.concatenate([part.kg for part in parts]), progress)
    minutes = ladders(np.concatenate([part.minutes for part in parts]), progress)
    return CrewModel(
        fitted.weights,
        Target(fitted.kg[kind], *kg, EPS_KG, jobs),
        Target(fitted.minutes[kind], *minutes, EPS_MINUTES, jobs),
        fitted.jobs[kind],
    )
