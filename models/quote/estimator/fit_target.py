"""From past jobs to the forecast of one target: which method, fitted on all jobs, each forecast without it.

In a book of several firms the centre is fitted on the jobs of all of them. A firm with enough jobs of its own has its
middle and its ranges set by those alone: it borrows the shape of the forecast, never its calibration.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from models.drift_scan import checked
from models.quote.base.targets import TargetModel, TargetSpec, to_log
from models.quote.estimator.boosted import Boosted, calibrate, fit_boosted
from models.quote.estimator.rules import BOOSTED_FROM, per_emitter_rule, typical_rule
from models.splits import Index, interleaved

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]
Firms = NDArray[np.str_]

LEAST_FIRM_JOBS = 19
"""Jobs of its own from which a firm in a pool has its own ranges: both ends of 90 % come from them."""

MOST_SCORES = 1000
"""Newest jobs that set the ranges: they settle the cover of 80 % to ± 1.3 points; older ones say less of today."""

ZERO_MASS_FROM = 0.05
"""Share of jobs at nought, and of jobs above it, from which nought is an outcome of its own."""


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """The model of one target, and for each past job (n,) its calibration score (NaN: not calibrated on).

    `own` holds the same for each firm of a pool with ranges of its own.
    """

    model: TargetModel
    scores: Floats
    own: Mapping[str, Learned] = field(default_factory=dict)

    def by_firm(self, firms: Firms) -> Iterator[tuple[TargetModel, NDArray[np.bool_]]]:
        """Each model that speaks for some of the jobs of the firms (n,), with the mask (n,) of those."""
        rest = np.ones(len(firms), dtype=bool)
        for firm, learned in self.own.items():
            mine = firms == firm
            rest &= ~mine
            if mine.any():
                yield learned.model, mine
        if rest.any():
            yield self.model, rest


def learn_target(
    spec: TargetSpec, x: Floats, y: Floats, days: Days, *, firms: Firms | None = None, seed: int = 0
) -> Learned:
    """Typical rule, per-emitter rule or boosting, by how many of the n jobs have the target known.

    `x` (n, p), `y` (n,) with NaN where not known, `days` (n,), `firms` (n,) whose job it was (None: all one firm's).
    """
    known = np.flatnonzero(np.isfinite(y))
    none = np.full(len(y), np.nan)
    if len(known) == 0:
        return Learned(typical_rule(spec), none)
    if len(known) < BOOSTED_FROM or len(np.unique(days[known])) < 2:
        return Learned(per_emitter_rule(spec, x[known], y[known]), none)
    return learn_boosted(spec, x, y, days, known, firms=firms, seed=seed)


@dataclass(frozen=True, slots=True, eq=False)
class _Unseen:
    """Of n jobs: target on the log scale less its centre, and scale, by forecasts that had not seen the job; whether it
    gave nothing, as an outcome of its own; its day."""

    residuals: Floats
    scale: Floats
    is_nought: NDArray[np.bool_]
    days: Days

    def at(self, rows: Index) -> _Unseen:
        return _Unseen(self.residuals[rows], self.scale[rows], self.is_nought[rows], self.days[rows])


def learn_boosted(
    spec: TargetSpec, x: Floats, y: Floats, days: Days, rows: Index, *, firms: Firms | None = None, seed: int = 0
) -> Learned:
    """Boosting on the rows, all with the target known: each is forecast without it, and those scores set the ranges.

    The newest `MOST_SCORES` of them; where the newest jobs have drifted from those before, those alone.
    """
    rows = rows[np.argsort(days[rows], kind="stable")]
    fitted, unseen = _cross_fitted(spec, x[rows], y[rows], days[rows], seed)
    everyone = np.arange(len(rows))
    pooled = _calibrated(fitted, spec, unseen, everyone, seed=seed)
    whose = np.zeros(len(rows)) if firms is None else firms[rows]
    own: dict[str, Learned] = {}
    for firm in np.unique(whose) if firms is not None else ():
        mine = np.flatnonzero(whose == firm)
        if LEAST_FIRM_JOBS <= len(mine) < len(rows):
            found = _calibrated(fitted, spec, unseen, mine, seed=seed)
            own[str(firm)] = replace(found, model=replace(found.model, borrowed=len(rows) - len(mine)))
    own = {firm: _by_row(found, rows, len(y)) for firm, found in own.items()}
    return replace(_by_row(pooled, rows, len(y)), own=own)


def _by_row(found: Learned, rows: Index, n: int) -> Learned:
    """The same with its scores in the places of the rows among all n jobs."""
    scores = np.full(n, np.nan)
    scores[rows] = found.scores
    return replace(found, scores=scores)


def _cross_fitted(spec: TargetSpec, x: Floats, y: Floats, days: Days, seed: int) -> tuple[Boosted, _Unseen]:
    """The forecast fitted on n jobs, and how each lies in a forecast without it; one at nought is in none."""
    is_nought = (y <= 0) & _has_zero_mass(spec, y)
    used = ~is_nought
    cross = fit_boosted(spec, x[used], y[used], interleaved(days[used]), seed=seed)
    centre, scale = np.empty(len(y)), np.empty(len(y))
    centre[used], scale[used] = cross.centre, cross.scale
    centre[is_nought], scale[is_nought] = cross.fitted.centre(x[is_nought]), cross.fitted.scale(x[is_nought])
    return cross.fitted, _Unseen(to_log(spec, y) - centre, scale, is_nought, days)


def _has_zero_mass(spec: TargetSpec, y: Floats) -> bool:
    """Whether jobs that gave nothing are an outcome of their own, by the target (n,)."""
    nothing = float(np.mean(y <= 0))
    return spec.may_be_zero and ZERO_MASS_FROM <= nothing <= 1 - ZERO_MASS_FROM


def _calibrated(fitted: Boosted, spec: TargetSpec, unseen: _Unseen, rows: Index, *, seed: int) -> Learned:
    """The forecast with the ladder of the newest of those jobs; its scores (n,) are NaN at all others."""
    jobs, rows = len(rows), rows[-MOST_SCORES:]
    model, scores = _with_ladder(fitted, spec, unseen.at(rows), jobs=jobs)
    drift = checked(unseen.residuals[rows], scores, unseen.days[rows], seed=seed)
    if drift is not None and drift.recalibrated:
        rows = rows[-drift.window :]
        model, scores = _with_ladder(fitted, spec, unseen.at(rows), jobs=jobs)
    by_row = np.full(len(unseen.scale), np.nan)
    by_row[rows] = scores
    return Learned(replace(model, drift=drift), by_row)


def _with_ladder(fitted: Boosted, spec: TargetSpec, unseen: _Unseen, *, jobs: int) -> tuple[TargetModel, Floats]:
    """The model calibrated on those jobs (m,), and their scores; those at nought lie below all others."""
    above = ~unseen.is_nought
    if above.all() or not above.any():
        return calibrate(spec, fitted, unseen.residuals, unseen.scale, jobs=jobs)
    model, some = calibrate(spec, fitted, unseen.residuals[above], unseen.scale[above], jobs=jobs)
    scores = np.full(len(above), some.min() - 1.0)
    scores[above] = some
    share = (float((~above).sum()) + 0.5) / (len(above) + 1)
    return replace(model, ladder=replace(model.ladder, zero_mass=share), calibration_jobs=len(above)), scores


def known_rows(y: Floats, rows: Index) -> Index:
    """Those of the rows at which the target is known."""
    return rows[np.isfinite(y[rows])]
