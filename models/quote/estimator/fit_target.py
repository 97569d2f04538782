"""From past jobs to the forecast of one target: which method, fitted on older jobs, calibrated on newer.

In a book of several firms the centre is fitted on the older jobs of all of them. A firm with enough newer jobs of its
own has its middle and its ranges set by those alone: it borrows the shape of the forecast, never its calibration.
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
from models.splits import Index, Window, calibrate_by_firm, fit_and_calibrate

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]
Firms = NDArray[np.str_]

LEAST_FIRM_JOBS = 19
"""Calibration jobs of its own from which a firm in a pool has its own ranges: both ends of 90 % come from them."""

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
    return learn_boosted(spec, x, y, days, window_of(known, days, firms), firms=firms, seed=seed)


def window_of(rows: Index, days: Days, firms: Firms | None) -> Window:
    """Which of the rows to fit on, which to calibrate on: by time, in a pool by time within each firm."""
    if firms is None or len(np.unique(firms[rows])) < 2:
        window = fit_and_calibrate(days[rows])
    else:
        window = calibrate_by_firm(days[rows], firms[rows])
    return Window(rows[window.fit], rows[window.calibrate])


def learn_boosted(
    spec: TargetSpec, x: Floats, y: Floats, days: Days, window: Window, *, firms: Firms | None = None, seed: int = 0
) -> Learned:
    """Boosting on the rows `window.fit`, calibrated on `window.calibrate`; the target is known in all.

    Where the newest calibration jobs have drifted from those before, they alone are calibrated on.
    """
    fit, later = window.fit, window.calibrate
    jobs = len(fit) + len(later)
    if _has_zero_mass(spec, y[fit]):
        fit = fit[y[fit] > 0]
    fitted = fit_boosted(spec, x[fit], y[fit], seed=seed)
    pooled = _calibrated(fitted, spec, (x, y, days), window, later, jobs=jobs, seed=seed)
    if firms is None:
        return pooled
    own: dict[str, Learned] = {}
    for firm in np.unique(firms[later]):
        mine = later[firms[later] == firm]
        fitted_own = int((firms[window.fit] == firm).sum())
        borrowed = len(window.fit) - fitted_own
        if len(mine) < LEAST_FIRM_JOBS or borrowed == 0:
            continue
        found = _calibrated(fitted, spec, (x, y, days), window, mine, jobs=fitted_own + len(mine), seed=seed)
        own[str(firm)] = replace(found, model=replace(found.model, borrowed=borrowed))
    return replace(pooled, own=own)


def _has_zero_mass(spec: TargetSpec, fitted: Floats) -> bool:
    """Whether jobs that gave nothing are an outcome of their own, by the target (n,) of the jobs fitted on."""
    nothing = float(np.mean(fitted <= 0))
    return spec.may_be_zero and ZERO_MASS_FROM <= nothing <= 1 - ZERO_MASS_FROM


def _calibrated(
    fitted: Boosted,
    spec: TargetSpec,
    known: tuple[Floats, Floats, Days],
    window: Window,
    later: Index,
    *,
    jobs: int,
    seed: int,
) -> Learned:
    """The forecast with the ladder of the later jobs, or of the newest of them where those have drifted."""
    x, y, days = known
    apart = _has_zero_mass(spec, y[window.fit])
    model, scores = _with_ladder(fitted, spec, x[later], y[later], jobs=jobs, apart=apart)
    drift = checked(to_log(spec, y[later]) - fitted.centre(x[later]), scores, days[later], seed=seed)
    if drift is not None and drift.recalibrated:
        later = later[-drift.window :]
        model, scores = _with_ladder(fitted, spec, x[later], y[later], jobs=jobs, apart=apart)
    by_row = np.full(len(y), np.nan)
    by_row[later] = scores
    return Learned(replace(model, drift=drift), by_row)


def _with_ladder(
    fitted: Boosted, spec: TargetSpec, x: Floats, y: Floats, *, jobs: int, apart: bool
) -> tuple[TargetModel, Floats]:
    """The model calibrated on the jobs x (m, p), y (m,), and their scores; those at nought lie below all others."""
    above = y > 0
    if not apart or not above.any():
        return calibrate(spec, fitted, x, y, jobs=jobs)
    model, some = calibrate(spec, fitted, x[above], y[above], jobs=jobs)
    scores = np.full(len(y), some.min() - 1.0)
    scores[above] = some
    share = (float((~above).sum()) + 0.5) / (len(y) + 1)
    return replace(model, ladder=replace(model.ladder, zero_mass=share), calibration_jobs=len(y)), scores


def known_rows(y: Floats, rows: Index) -> Index:
    """Those of the rows at which the target is known."""
    return rows[np.isfinite(y[rows])]
