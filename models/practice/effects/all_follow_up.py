"""The effect of a practice from every callback on record, also those after the year: beside the first year's estimate.

Hazards are constant in pieces of time and rise or fall by one factor a job (Poisson form: Holford 1980, Biometrics
36:299; Laird & Olivier 1981, JASA 76:231; both from memory). Each job's factor with and without the practice is a
penalised regression fitted on other jobs; standardised over the jobs compared, it gives risks at any day. That alone
would lean on the penalised fit, so it is augmented: what callbacks the jobs with the practice had beyond those expected
of them, weighted by one over the chance of what was done, over what they were watched. It is then right if either the
chance or the factor is, provided that a practice changes callbacks by the same factor early and late.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.practice.effects.estimators import Estimate
from models.practice.nuisance.information_matrix import Design
from models.practice.nuisance.nuisance_fits import crossed, with_practice

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

TWO_YEARS = 730
CUTS = (0.0, 60.0, 120.0, 180.0, 270.0, 365.0, 545.0, 730.0, 1095.0, 1825.0)
"""Days between which the hazard is constant; the last piece is open."""
LEAST_P_SAME = 0.05
"""p-value of the difference between the two estimates below which a practice is not taken to act the same early and
late, and the first year stands by itself."""
LEAST_HAZARD = 1e-9
"""A day, in a piece without a callback."""


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """Jobs (n,): days to the first debris callback or to the end of follow-up, whether it was a callback, whether the
    practice was done, its chance, the fold of each job; and what was known before."""

    days: Floats
    is_event: Flags
    a: Flags
    chance: Floats
    fold: Ints
    design: Design


@dataclass(frozen=True, slots=True, eq=False)
class Baseline:
    """Hazard a day in each piece (pieces,)."""

    hazard: Floats

    def cumulative(self, days: Floats) -> Floats:
        """Expected callbacks of a usual job by so many days, any shape."""
        return np.asarray(in_pieces(days) @ self.hazard)


def in_pieces(days: Floats) -> Floats:
    """Days of each piece that lie before so many days, shape (…, pieces)."""
    first = np.array(CUTS)
    length = np.diff(np.append(first, np.inf))
    return np.asarray(np.clip(np.asarray(days, dtype=float)[..., None] - first, 0.0, length))


def baseline(days: Floats, is_event: Flags, factor: Floats) -> Baseline:
    """Callbacks of each piece over the days watched in it, each job's counted by its factor (n,)."""
    piece = np.searchsorted(np.array(CUTS), days, side="left") - 1
    seen = np.bincount(np.maximum(piece[is_event], 0), minlength=len(CUTS)).astype(float)
    watched = factor @ in_pieces(days)
    return Baseline(np.maximum(seen / np.maximum(watched, 1e-9), LEAST_HAZARD))


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Baseline, and each job's hazard over it with the practice and without, (2, n)."""

    base: Baseline
    factor: Floats


def expected_callbacks(jobs: Watched) -> Expected:
    """Baseline and factors, each fitted on the other folds."""
    base = baseline(jobs.days, jobs.is_event, np.ones(len(jobs.days)))
    factor = _factors(jobs, base.cumulative(jobs.days))
    return Expected(baseline(jobs.days, jobs.is_event, np.where(jobs.a, factor[0], factor[1])), factor)


def _factors(jobs: Watched, watched: Floats) -> Floats:
    """Hazard of each job over the baseline with the practice and without, (2, n), fitted on the other folds."""
    design = jobs.design
    counted = Design(design.x, design.block, design.group, design.groups, np.log(np.maximum(watched, LEAST_HAZARD)))
    factor = np.empty((2, len(jobs.days)))
    y = jobs.is_event.astype(float)
    for rows, fit in crossed(with_practice(counted, jobs.a.astype(float)), y, "poisson", jobs.fold):
        part = design.rows(rows)
        for at, way in enumerate((1.0, 0.0)):
            factor[at, rows] = np.exp(fit.score(with_practice(part, np.full(len(rows), way))))
    return factor


def risks_by(jobs: Watched, expected: Expected, horizon: float) -> Estimate:
    """Risks with and without the practice by so many days, averaged over the jobs: standardised and augmented."""
    base, watched = expected.base, expected.base.cumulative(jobs.days)
    reach = float(base.cumulative(np.array(horizon)))
    means, influence = [], []
    for own, weight in zip(expected.factor, (jobs.a / jobs.chance, ~jobs.a / (1 - jobs.chance)), strict=True):
        free = np.exp(-reach * own)
        beyond = jobs.is_event - own * watched
        # callbacks beyond those expected, per callback of a usual job while watched, times what one more adds by then
        share = weight * watched / np.mean(weight * watched)
        added = weight * free * reach * beyond / np.mean(weight * watched)
        means.append(float((1 - free + added).mean()))
        influence.append((1 - free) - (1 - free).mean() + added - added.mean() * share)
    return Estimate(means[0], means[1], np.column_stack(influence))


def is_told(year_error: float, every_error: float, p_same: float) -> bool:
    """The rule which of the two estimates stands, fixed before any was seen: that of all follow-up where its standard
    error is the smaller, unless the first year alone says something else."""
    return every_error < year_error and p_same >= LEAST_P_SAME
