"""Learn from finished jobs what crews of a book go on to catch; calibrate on later jobs than those learnt from.

START HERE for learning: `learn` → `Learnt` → `expect` at any moment of any job. Two rolling origins give scores
of jobs that come later than what each was fitted on; their order is the predictive distribution. The lines
in use are then fitted on all jobs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from models.catch import moments
from models.catch.crew import EPS_MINUTES, CrewModel, Target, centre_and_spread, fit_lines, pool_weights, start_of
from models.catch.job import JobCatch
from models.catch.moments import EPS_KG, KINDS, Expected, Glance, Kind, Pools
from models.catch.prefix import EMITTER_PACE, Pace
from models.catch.priors import EmitterPrior, learn_emitters, learn_pace
from models.catch.ragged import Floats, Ints
from models.catch.ridge import Ridge, fit_ridge
from models.catch.sheet import Sheet, sheet
from models.quote.conformal import Ladder
from models.refusals import NotEnoughData

MIN_JOBS = 40
MIN_KIND_JOBS = 30
MOST_JOBS = 3000  # the newest: habits change, and more add nothing
SHARES = (0.1, 0.2, 0.25, 0.35, 0.5, 0.6, 0.75, 0.85, 0.95)
ORIGINS = (0.6, 0.8)
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
    """What `watch` takes from past jobs. `crews` lacks a kind of work with too few jobs; `any` serves it."""

    pace: Pace
    emitters: EmitterPrior | None
    prospect: Prospect
    crews: Mapping[Kind, CrewModel]
    jobs: int
    window_from: date
    window_to: date


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
class _Lines:
    """Everything but the calibration scores."""

    prior: EmitterPrior | None
    prospect: Prospect
    weights: Floats
    kg: Mapping[Kind, tuple[Ridge, Ridge]]
    minutes: Mapping[Kind, tuple[Ridge, Ridge]]
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
    lines = _fit(seen, pace)
    crews = {kind: crew for kind in KINDS for crew in (_crew(kind, lines, scores),) if crew is not None}
    if progress is not None:
        progress(steps, steps)
    days = [job.started_at.date() for job, _ in usable]
    return Learnt(pace, lines.prior, lines.prospect, crews, len(usable), days[0], days[-1])


def is_usable(one: Sheet) -> bool:
    """A finished job with weighings enough to be learnt from or judged by."""
    return bool(len(one.kg) >= MIN_CATCHES and one.end > 0 and float(one.kg.sum()) > 0)


def _seen(one: Sheet) -> _Seen:
    """A past job with glances at `SHARES` of its flush; they hang on no prior and are taken once."""
    found = (moments.glance(one, share * one.end) for share in SHARES)
    return one, [each for each in found if each is not None]


def _fit(seen: Sequence[_Seen], pace: Pace) -> _Lines:
    sheets = [one for one, _ in seen]
    prior = learn_emitters(sheets, pace)
    plan = np.stack([prospect_row(one) for one in sheets])
    total = np.array([float(one.kg.sum()) for one in sheets])
    end = np.array([one.end for one in sheets])
    prospect = Prospect(fit_ridge(plan, np.log(total + EPS_KG)), fit_ridge(plan, np.log(end)))
    past = _past(seen, prior)
    weights = _weights(past)
    kg, minutes, jobs = {}, {}, {}
    for kind in KINDS:
        rows = _rows(past, prospect, weights, kind)
        jobs[kind] = len(np.unique(rows.job))
        if jobs[kind] < MIN_KIND_JOBS * ORIGINS[0] and kind != "any":
            continue
        one_each = 1.0 / np.bincount(rows.job)[rows.job]
        kg[kind] = fit_lines(rows.x, rows.start, rows.kg, EPS_KG, one_each)
        minutes[kind] = fit_lines(rows.x, np.zeros(len(rows.x)), rows.minutes, EPS_MINUTES, one_each)
    return _Lines(prior, prospect, weights, kg, minutes, jobs)


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
    """The moments of a kind; for `any` all of them, as if the way of working were not known."""
    x, start, kg, minutes, job = [], [], [], [], []
    for number, (one, moments_of) in enumerate(past):
        plan = prospect.of(one)
        for found in moments_of:
            at = replace(found, kind="any", pools=None) if kind == "any" else found
            if at.kind != kind:
                continue
            row, begin = features(one, at, plan, weights)
            x.append(row)
            start.append(begin)
            kg.append(float(one.kg[at.seen.known :].sum()))
            minutes.append(one.end - at.seen.now)
            job.append(number)
    return _Rows(np.array(x), np.array(start), np.array(kg), np.array(minutes), np.array(job, dtype=np.intp))


_Scores = dict[Kind, tuple[Floats, Floats, int]]


def _scores(lines: _Lines, later: Sequence[_Seen]) -> _Scores:
    """Scores of later jobs by kind: kilograms, minutes, and of how many jobs."""
    found: _Scores = {}
    past = _past(later, lines.prior)
    for kind in lines.kg:
        rows = _rows(past, lines.prospect, lines.weights, kind)
        if len(rows.x) == 0:
            continue
        scores = []
        for pair, value, begin, eps in (
            (lines.kg[kind], rows.kg, rows.start, EPS_KG),
            (lines.minutes[kind], rows.minutes, np.zeros(len(rows.x)), EPS_MINUTES),
        ):
            centre, scale = centre_and_spread(*pair, rows.x, begin)
            scores.append((np.log(value + eps) - centre) / scale)
        found[kind] = (scores[0], scores[1], len(np.unique(rows.job)))
    return found


def _crew(kind: Kind, lines: _Lines, scores: Sequence[_Scores]) -> CrewModel | None:
    """Lines of all jobs with the scores of the later ones; None where there are too few of either."""
    if kind not in lines.kg or not any(kind in each for each in scores):
        return None
    parts = [each[kind] for each in scores if kind in each]
    calibrated = sum(jobs for _, _, jobs in parts)
    targets = []
    for which, (line, spread), eps in (
        (0, lines.kg[kind], EPS_KG), (1, lines.minutes[kind], EPS_MINUTES),
    ):  # fmt: skip
        all_scores = np.concatenate([part[which] for part in parts])
        targets.append(Target(line, spread, Ladder.of(all_scores, float(all_scores.std())), eps, calibrated))
    return CrewModel(lines.weights, targets[0], targets[1], lines.jobs[kind])
