"""Every past job as lines that were fitted without it told it: scores, and whether the newest jobs still go as before.

Each fold of jobs is spread evenly over the book, so that lines fitted without it know as much of a change of habit as
those in use. Scores of the newest jobs are then those that the lines in use would give.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.catch.posterior.cumulative_posterior import Pace
from models.catch.records.ragged_arrays import Floats, Ints
from models.catch.stopping import landmark_features
from models.catch.stopping.landmark_features import EPS_KG, Kind
from models.catch.stopping.stopping_model import EPS_MINUTES, Lines
from models.catch.stopping.stopping_regression import Fitted, Seen, fit_all, laid, past_moments
from models.drift_scan import Drift, checked

FOLDS = 10  # lines from a fifth fewer jobs strew their scores too wide
TARGETS = ("kg", "minutes")
CHANGE_ALARM = 0.005
"""Share of false alarms a check, so that a training, which checks kilograms and minutes, raises one in at most 1 %."""


@dataclass(frozen=True, slots=True, eq=False)
class Errors:
    """How far moments (n,) fell from the centre, on the log scale, and the same in units of the spread: scores."""

    log: Floats
    scores: Floats


@dataclass(frozen=True, slots=True, eq=False)
class HeldOut:
    """Moments of one kind, shape (n,): errors by target ("kg", "minutes"), log of the minutes left as forecast, job's
    place."""

    errors: Mapping[str, Errors]
    log_left: Floats
    job: Ints


ByKind = Mapping[Kind, HeldOut]


def cross_validated(seen: Sequence[Seen], pace: Pace, progress: Callable[[int, int], None]) -> list[ByKind]:
    """Every job by lines fitted without it, a fold of jobs after the other."""
    fold, found = np.arange(len(seen)) % FOLDS, []
    for number in range(FOLDS):
        others = [one for one, of in zip(seen, fold, strict=True) if of != number]
        found.append(_held_out(fit_all(others, pace), seen, np.flatnonzero(fold == number)))
        progress(number + 1, FOLDS)
    return found


def _held_out(fitted: Fitted, seen: Sequence[Seen], places: Ints) -> ByKind:
    """The jobs at some places by kind of work."""
    mine = [seen[place] for place in places]
    table = laid(past_moments(mine, fitted.prior), fitted.prospect, fitted.weights)
    found: dict[Kind, HeldOut] = {}
    for kind in fitted.kg:
        rows = table.of(kind)
        if len(rows.x) == 0:
            continue
        kg = _errors(fitted.kg[kind], rows.x, rows.start, rows.kg + EPS_KG)
        none = np.zeros(len(rows.x))
        minutes = _errors(fitted.minutes[kind], rows.x, none, rows.minutes + EPS_MINUTES)
        log_left = fitted.minutes[kind].centre_and_spread(rows.x, none)[0]
        found[kind] = HeldOut({"kg": kg, "minutes": minutes}, log_left, places[rows.job])
    return found


def _errors(lines: Lines, x: Floats, start: Floats, value: Floats) -> Errors:
    centre, scale = lines.centre_and_spread(x, start)
    error = np.asarray(np.log(value) - centre, dtype=float)
    return Errors(error, error / scale)


def changes(held_out: Sequence[ByKind], days: NDArray[np.datetime64]) -> tuple[dict[str, Drift], dict[str, int]]:
    """The check of each target, where there are jobs enough, and the place of the first job of those that have changed;
    `days` (jobs,) of the jobs in order of time.

    A job counts once, by the mean over its moments: as one of its own kind of work where that is learnt.
    """
    checks: dict[str, Drift] = {}
    first: dict[str, int] = {}
    for name in TARGETS:
        mean = _by_job(held_out, len(days), name)
        known = np.flatnonzero(np.isfinite(mean.scores))
        check = checked(mean.log[known], mean.scores[known], days[known], alarm=CHANGE_ALARM)
        if check is not None:
            checks[name] = check
            first |= {name: int(known[-check.window])} if check.recalibrated else {}
    return checks, first


def _by_job(held_out: Sequence[ByKind], jobs: int, name: str) -> Errors:
    """Means (jobs,) over the moments of each job; NaN where it has none."""
    mean = Errors(np.full(jobs, np.nan), np.full(jobs, np.nan))
    own = [kind for kind in landmark_features.KINDS if kind not in landmark_features.COVERS]
    for kinds in (["any"], own):  # a kind of its own last: it stands where there is one
        parts = [one for by_kind in held_out for kind, one in by_kind.items() if kind in kinds]
        if not parts:
            continue
        job = np.concatenate([one.job for one in parts])
        count = np.bincount(job, minlength=jobs)
        log, scores = (
            np.bincount(job, weights=np.concatenate(each), minlength=jobs) / np.maximum(count, 1)
            for each in zip(*((one.errors[name].log, one.errors[name].scores) for one in parts), strict=True)
        )
        mean = Errors(np.where(count > 0, log, mean.log), np.where(count > 0, scores, mean.scores))
    return mean
