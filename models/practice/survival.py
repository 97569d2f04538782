"""Kaplan-Meier and Aalen-Johansen curves with standard errors, intervals and numbers at risk.

Kaplan & Meier 1958, JASA 53:457; Greenwood's standard error, log-log interval (Kalbfleisch & Prentice). Cumulative
incidence by Aalen & Johansen 1978, Scand. J. Stat. 5:141, with the variance of Marubini & Valsecchi 1995 (as in the
common software). At one day callbacks come before the end of follow-up. Days are whole or not; arrays are (n,).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from models.practice.results.curve_results import CumulativeIncidence, SurvivalCurve

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
LEVEL = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class RiskTable:
    """Distinct days (steps,) with events of any kind: at risk just before, events by kind (kinds, steps)."""

    days: Floats
    at_risk: Floats
    events: Floats
    at_risk_jobs: Ints
    event_jobs: Ints


def risk_table(days: Floats, kind: Ints, kinds: int = 1, weight: Floats | None = None) -> RiskTable:
    """Count over days. `kind` (n,): 0 for the end of follow-up, 1..kinds for an event. ValueError without jobs."""
    if not len(days):
        raise ValueError("a curve needs at least one job")
    w = np.ones(len(days)) if weight is None else weight
    distinct, place = np.unique(days, return_inverse=True)
    left = np.bincount(place, w, len(distinct))
    at_risk = np.cumsum(left[::-1])[::-1]
    jobs = np.cumsum(np.bincount(place, minlength=len(distinct))[::-1])[::-1]
    events = np.array([np.bincount(place, w * (kind == k), len(distinct)) for k in range(1, kinds + 1)])
    counts = np.array([np.bincount(place[kind == k], minlength=len(distinct)) for k in range(1, kinds + 1)])
    some = counts.sum(axis=0) > 0
    return RiskTable(distinct[some], at_risk[some], events[:, some], jobs[some], counts[:, some])


def kaplan_meier(days: Floats, is_event: Flags, level: float = LEVEL) -> SurvivalCurve:
    """Share without the event; days of follow-up or of the event."""
    table = risk_table(np.asarray(days, dtype=float), np.asarray(is_event, dtype=np.int64))
    at_risk, events = table.at_risk, table.events[0]
    estimate = np.cumprod(1.0 - events / at_risk)
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(events / (at_risk * (at_risk - events)))
        error = np.where(estimate > 0, estimate * np.sqrt(greenwood), 0.0)
        low, high = _log_log(estimate, error, level)
    return SurvivalCurve(table.days, estimate, error, low, high, table.at_risk_jobs, table.event_jobs[0], level)


def _log_log(survival: Floats, error: Floats, level: float) -> tuple[Floats, Floats]:
    """Interval that stays within 0..1: on the scale of log(−log S)."""
    z = ndtri(0.5 + level / 2)
    inside = (survival > 0) & (survival < 1)
    safe = np.where(inside, survival, 0.5)
    half = np.where(inside, z * error / (safe * np.abs(np.log(safe))), 0.0)
    return (np.where(inside, safe ** np.exp(half), survival), np.where(inside, safe ** np.exp(-half), survival))


def cumulative_incidence(
    days: Floats,
    kind: Ints,
    of: int,
    kinds: int = 2,
    level: float = LEVEL,
    weight: Floats | None = None,
    name: str = "debris",
) -> CumulativeIncidence:
    """Share with an event of kind `of` as the first of all kinds by each day.

    `weight` (n,): jobs count so much; the standard error then is that of as many jobs as the weights are worth (Kish).
    """
    table = risk_table(np.asarray(days, dtype=float), np.asarray(kind), kinds, weight)
    worth = 1.0 if weight is None else float(weight.sum() / (weight**2).sum())
    every, own = table.events.sum(axis=0), table.events[of - 1]
    free = np.cumprod(1.0 - every / table.at_risk)
    before = np.r_[1.0, free[:-1]]
    estimate = np.cumsum(before * own / table.at_risk)
    error = np.sqrt(np.maximum(_variance(table.at_risk * worth, every * worth, own * worth, before, estimate), 0.0))
    low, high = _log_log(1.0 - estimate, error, level)
    return CumulativeIncidence(
        name,
        table.days,
        estimate,
        error,
        1.0 - high,
        1.0 - low,
        table.at_risk_jobs,
        table.event_jobs[of - 1],
        level,
        weight is not None,
    )


def _variance(at_risk: Floats, every: Floats, own: Floats, before: Floats, estimate: Floats) -> Floats:
    """Delta-method variance of a cumulative incidence at every step: three sums over the steps until then.

    Σ (F(t) − F(u))² d/(n(n−d)) + Σ S(u−)² d₁(n−d₁)/n³ − 2 Σ (F(t) − F(u)) S(u−) d₁/n², with the square opened so
    that all t come from running sums.
    """
    left = np.maximum(at_risk - every, 1e-9)
    a = np.where(at_risk > every, every / (at_risk * left), 0.0)
    c = before * own / at_risk**2
    sums = [np.cumsum(each) for each in (a, a * estimate, a * estimate**2, c, c * estimate)]
    own_part = np.cumsum(before**2 * own * (at_risk - own) / at_risk**3)
    first = estimate**2 * sums[0] - 2 * estimate * sums[1] + sums[2]
    return np.asarray(first + own_part - 2 * (estimate * sums[3] - sums[4]))


def value_at(curve: SurvivalCurve | CumulativeIncidence, day: float) -> tuple[float, float, float, float]:
    """Estimate, standard error, low and high of a step curve on a day."""
    at = int(np.searchsorted(curve.days, day, side="right")) - 1
    if at < 0:
        start = 1.0 if isinstance(curve, SurvivalCurve) else 0.0
        return start, 0.0, start, start
    estimate, error, low, high = (float(x[at]) for x in (curve.estimate, curve.standard_error, curve.low, curve.high))
    return estimate, error, low, high


def at_risk_on(days: Floats, grid: Ints) -> Ints:
    """Jobs still followed and without a callback just before each day of the grid."""
    ordered = np.sort(days)
    return np.asarray(len(ordered) - np.searchsorted(ordered, grid, side="left"), dtype=np.int64)
