"""From past jobs to the forecast of one target: which method, fitted on older jobs, calibrated on newer."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.quote.boosted import calibrate, fit_boosted
from models.quote.drift import checked
from models.quote.rules import BOOSTED_FROM, per_emitter_rule, typical_rule
from models.quote.targets import TargetModel, TargetSpec, to_log
from models.splits import Index, Window, fit_and_calibrate

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """The model of one target, and for each past job (n,) its calibration score (NaN: not calibrated on)."""

    model: TargetModel
    scores: Floats


def learn_target(spec: TargetSpec, x: Floats, y: Floats, days: Days, *, seed: int = 0) -> Learned:
    """Typical rule, per-emitter rule or boosting, by how many of the n jobs have the target known.

    `x` (n, p), `y` (n,) with NaN where not known, `days` (n,).
    """
    known = np.flatnonzero(np.isfinite(y))
    none = np.full(len(y), np.nan)
    if len(known) == 0:
        return Learned(typical_rule(spec), none)
    if len(known) < BOOSTED_FROM or len(np.unique(days[known])) < 2:
        return Learned(per_emitter_rule(spec, x[known], y[known]), none)
    window = fit_and_calibrate(days[known])
    return learn_boosted(spec, x, y, days, Window(known[window.fit], known[window.calibrate]), seed=seed)


def learn_boosted(
    spec: TargetSpec, x: Floats, y: Floats, days: Days, window: Window, *, seed: int = 0
) -> Learned:
    """Boosting on the rows `window.fit`, calibrated on `window.calibrate`; the target is known in all.

    Where the newest calibration jobs have drifted from those before, they alone are calibrated on.
    """
    fit, later = window.fit, window.calibrate
    fitted = fit_boosted(spec, x[fit], y[fit], seed=seed)
    jobs = len(fit) + len(later)
    model, scores = calibrate(spec, fitted, x[later], y[later], jobs=jobs)
    drift = checked(to_log(spec, y[later]) - fitted.centre(x[later]), scores, days[later], seed=seed)
    if drift is not None and drift.recalibrated:
        later = later[-drift.window :]
        model, scores = calibrate(spec, fitted, x[later], y[later], jobs=jobs)
    by_row = np.full(len(y), np.nan)
    by_row[later] = scores
    return Learned(replace(model, drift=drift), by_row)


def known_rows(y: Floats, rows: Index) -> Index:
    """Those of the rows at which the target is known."""
    return rows[np.isfinite(y[rows])]
