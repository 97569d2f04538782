"""Learn from finished jobs what crews of a book go on to catch; calibrate on other jobs than those fitted on.

START HERE for learning: `learn` → `Learnt` → `expect` at any moment of any job. Each job in turn is told by lines that
were fitted without it (every tenth job in order of time is left out together); the order of these scores is the
predictive distribution. The lines in use are then fitted on all jobs. Where the newest jobs have changed, their scores
alone make the distribution.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from models.catch.posterior.cumulative_posterior import EMITTER_PACE, Pace
from models.catch.posterior.job_arrays import job_arrays
from models.catch.posterior.priors import EmitterPrior, learn_pace
from models.catch.records.job import JobCatch
from models.catch.release_effects import ReleaseEffects
from models.catch.stopping import landmark_features
from models.catch.stopping.cross_validation import ByKind, HeldOut, changes, cross_validated
from models.catch.stopping.landmark_features import EPS_KG, KINDS, Kind
from models.catch.stopping.stopping_model import EPS_MINUTES, CrewModel, Target, ladders
from models.catch.stopping.stopping_regression import Fitted, Prospect, fit_all, is_usable, seen_job
from models.drift_scan import LEAST, Drift
from models.refusals import NotEnoughData

MIN_JOBS = 40
MOST_JOBS = 3000  # the newest: habits change, and more add nothing


@dataclass(frozen=True, slots=True, eq=False)
class Learnt:
    """What is learnt from past jobs. `crews` lacks a kind of work with too few jobs; `any` serves it. `changes` are the
    checks of kilograms ("kg") and "minutes" for a change of habit, where there are jobs enough. `effects` of heat
    and flow are shown, and move no forecast: readings come too late and too seldom to run a clock by."""

    pace: Pace
    emitters: EmitterPrior | None
    prospect: Prospect
    crews: Mapping[Kind, CrewModel]
    jobs: int
    window_from: date
    window_to: date
    changes: Mapping[str, Drift]
    effects: ReleaseEffects | None = None


def learn(jobs: Sequence[JobCatch], *, progress: Callable[[int, int], None] | None = None) -> Learnt:
    """From finished jobs in any order; NotEnoughData under 40 with three weighings of the magnet each."""
    known = (job for job in jobs if job.is_finished and job.knows_minutes)
    finished = sorted(known, key=lambda job: (job.started_at, job.job_id))
    laid = [(job, job_arrays(job, EMITTER_PACE)) for job in finished[-MOST_JOBS:]]
    usable = [(job, one) for job, one in laid if one is not None and is_usable(one)]
    if len(usable) < MIN_JOBS:
        raise NotEnoughData(what="finished jobs with three weighings each", needed=MIN_JOBS, found=len(usable))
    pace = learn_pace([one for _, one in usable])
    seen = [seen_job(one) for job, _ in usable for one in (job_arrays(job, pace),) if one is not None]
    held_out = cross_validated(seen, pace, progress or (lambda done, of: None))
    fitted = fit_all(seen, pace)
    days = [job.started_at.date() for job, _ in usable]
    checks, first = changes(held_out, np.array(days, dtype="datetime64[D]"))
    crews = {kind: crew for kind in KINDS for crew in (_crew(kind, fitted, held_out, first),) if crew is not None}
    return Learnt(pace, fitted.prior, fitted.prospect, crews, len(usable), days[0], days[-1], checks)


def _crew(kind: Kind, fitted: Fitted, held_out: Sequence[ByKind], first: Mapping[str, int]) -> CrewModel | None:
    """Lines of all jobs with the scores of each by the others, from the place `first` on; None where there are too few
    of either. A kind with lines of its own shares its scores with the others that have: in units of its own spread they
    are alike."""
    alike = (
        [kind] if kind in landmark_features.COVERS else [each for each in KINDS if each not in landmark_features.COVERS]
    )
    parts = [by_kind[each] for by_kind in held_out for each in alike if each in by_kind]
    if kind not in fitted.kg or not parts:
        return None
    kg = _target("kg", fitted, kind, parts, first.get("kg", 0))
    return CrewModel(
        fitted.weights, kg, _target("minutes", fitted, kind, parts, first.get("minutes", 0)), fitted.jobs[kind]
    )


def _target(name: str, fitted: Fitted, kind: Kind, parts: Sequence[HeldOut], first: int) -> Target:
    """One target with the scores from the place `first` on; with all where a kind has too few since."""
    lines, eps = (fitted.kg[kind], EPS_KG) if name == "kg" else (fitted.minutes[kind], EPS_MINUTES)
    job = np.concatenate([part.job for part in parts])
    scores, log_left = (
        np.concatenate(each)
        for each in zip(*((part.errors[name].scores, part.log_left) for part in parts), strict=True)
    )
    since = job >= first if len(np.unique(job[job >= first])) >= LEAST else job >= 0
    return Target(lines, *ladders(scores[since], log_left[since], job[since]), eps, len(np.unique(job[since])))
