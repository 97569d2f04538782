"""Learn from finished jobs what crews of a book go on to catch; calibrate on other jobs than those fitted on.

START HERE for learning: `learn` → `Learnt` → `expect` at any moment of any job. Each job in turn is told by lines that
were fitted without it (every tenth job in order of time is left out together, of many jobs every fifth); the order of
these scores is the predictive distribution. The lines in use are then fitted on all jobs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from models.catch import moments
from models.catch.crew import EPS_MINUTES, CrewModel, Lines, Target, ladders
from models.catch.fitted import Fitted, Prospect, Seen, fit_all, is_usable, past_moments, rows_of, seen_job
from models.catch.job import JobCatch
from models.catch.moments import EPS_KG, KINDS, Kind
from models.catch.prefix import EMITTER_PACE, Pace
from models.catch.priors import EmitterPrior, learn_pace
from models.catch.ragged import Floats, Ints
from models.catch.release_effects import ReleaseEffects
from models.catch.sheet import sheet
from models.refusals import NotEnoughData

MIN_JOBS = 40
MOST_JOBS = 3000  # the newest: habits change, and more add nothing
FEW_JOBS, FOLDS_OF_FEW, FOLDS = 300, 10, 5  # lines from a fifth fewer of few jobs strew their scores too wide


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
    seen = [seen_job(one) for job, _ in usable for one in (sheet(job, pace),) if one is not None]
    scores = _told_by_others(seen, pace, progress or (lambda done, of: None))
    fitted = fit_all(seen, pace)
    crews = {kind: crew for kind in KINDS for crew in (_crew(kind, fitted, scores),) if crew is not None}
    days = [job.started_at.date() for job, _ in usable]
    return Learnt(pace, fitted.prior, fitted.prospect, crews, len(usable), days[0], days[-1])


@dataclass(frozen=True, slots=True, eq=False)
class _Scores:
    """Scores of jobs of one kind, shape (moments,): kilograms, minutes, share of the planned time, job's place."""

    kg: Floats
    minutes: Floats
    progress: Floats
    job: Ints


def _told_by_others(
    seen: Sequence[Seen], pace: Pace, progress: Callable[[int, int], None]
) -> list[dict[Kind, _Scores]]:
    """Scores of every job by lines fitted without it, a fold of jobs after the other."""
    folds = FOLDS_OF_FEW if len(seen) <= FEW_JOBS else FOLDS
    fold, found = np.arange(len(seen)) % folds, []
    for number in range(folds):
        others = [one for one, of in zip(seen, fold, strict=True) if of != number]
        found.append(_scores(fit_all(others, pace), seen, np.flatnonzero(fold == number)))
        progress(number + 1, folds + 1)
    return found


def _scores(fitted: Fitted, seen: Sequence[Seen], places: Ints) -> dict[Kind, _Scores]:
    """Scores by kind of work of the jobs at some places, by lines that were fitted without them."""
    mine = [seen[place] for place in places]
    past, plans = past_moments(mine, fitted.prior), [fitted.prospect.of(one) for one, _ in mine]
    found: dict[Kind, _Scores] = {}
    for kind in fitted.kg:
        rows = rows_of(past, plans, fitted.weights, kind)
        if len(rows.x) == 0:
            continue
        kg = _score(fitted.kg[kind], rows.x, rows.start, rows.kg + EPS_KG)
        minutes = _score(fitted.minutes[kind], rows.x, np.zeros(len(rows.x)), rows.minutes + EPS_MINUTES)
        found[kind] = _Scores(kg, minutes, rows.x[:, moments.PROGRESS], places[rows.job])
    return found


def _score(lines: Lines, x: Floats, start: Floats, value: Floats) -> Floats:
    centre, scale = lines.centre_and_spread(x, start)
    return np.asarray((np.log(value) - centre) / scale, dtype=float)


def _crew(kind: Kind, fitted: Fitted, scores: Sequence[Mapping[Kind, _Scores]]) -> CrewModel | None:
    """Lines of all jobs with the scores of each by the others; None where there are too few of either. A kind that
    is told shares its scores with the others that are: in units of its own spread they are alike."""
    alike = [kind] if kind in moments.COVERS else [each for each in KINDS if each not in moments.COVERS]
    parts = [by_kind[each] for by_kind in scores for each in alike if each in by_kind]
    if kind not in fitted.kg or not parts:
        return None
    jobs = len(np.unique(np.concatenate([part.job for part in parts])))
    progress = np.concatenate([part.progress for part in parts])
    kg = ladders(np.concatenate([part.kg for part in parts]), progress)
    minutes = ladders(np.concatenate([part.minutes for part in parts]), progress)
    return CrewModel(
        fitted.weights,
        Target(fitted.kg[kind], *kg, EPS_KG, jobs),
        Target(fitted.minutes[kind], *minutes, EPS_MINUTES, jobs),
        fitted.jobs[kind],
    )
