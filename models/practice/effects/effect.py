"""A contrast as a result: figures, E-value, balance, subgroups, power; q-values and verdicts once all are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import HORIZON_DAYS, Records
from models.practice.cohort.contrasts import Contrast
from models.practice.cohort.overlap import balance
from models.practice.effects.all_follow_up import TWO_YEARS
from models.practice.effects.cost_effectiveness import counted
from models.practice.effects.doubly_robust import Adjusted, Compared, adjust, compare, standard_error
from models.practice.effects.estimators import Estimate
from models.practice.effects.shrinkage import shrunk
from models.practice.effects.subgroups import subgroup_effects
from models.practice.effects.verdicts import (
    FALSE_SHARE,
    WORTHWHILE_SHARE,
    Z,
    detectable,
    e_values,
    is_no_difference,
    needed,
    planned_error,
    q_values,
    threshold,
    verdict,
)
from models.practice.results.audit_result import AllFollowUp, Balance, PracticeEffect, RawDifference, RiskBy
from models.practice.survival import kaplan_meier, value_at
from pipeline.contract.findings import Finding

Floats = NDArray[np.float64]
UNBALANCED = 0.1
"""Standardised difference above which a confounder is named as not balanced (common practice in the literature)."""
_FREE_OF_EFFECT = 1.0
RISK_DAYS = (HORIZON_DAYS, TWO_YEARS)


def practice_effect(records: Records, contrast: Contrast) -> tuple[PracticeEffect, Adjusted]:
    """The effect of one contrast, its verdict still open."""
    compared = compare(records, contrast)
    adjusted = adjust(records, compared)
    effect = _counted(records, adjusted)
    if adjusted.estimate is None or adjusted.standard_error is None:
        return effect, adjusted
    estimate, error = adjusted.estimate, adjusted.standard_error
    assert adjusted.kept is not None
    assert adjusted.chance is not None
    unit = records.unit[compared.rows][adjusted.kept]
    ratio = estimate.influence / np.maximum([estimate.with_mean, estimate.without_mean], 1e-9)
    of_ratio, nearer = e_values(
        estimate.with_mean, estimate.without_mean, standard_error(ratio[:, 0] - ratio[:, 1], unit)
    )
    balanced = balance(records.known.beside(contrast.column), compared.rows, compared.a, adjusted.chance)
    return replace(
        effect,
        risk_with=float(np.clip(estimate.with_mean, 0, 1)),
        risk_without=float(np.clip(estimate.without_mean, 0, 1)),
        difference=estimate.difference,
        low=estimate.difference - Z * error,
        high=estimate.difference + Z * error,
        standard_error=error,
        p_value=adjusted.p_value,
        e_value=of_ratio,
        e_value_limit=nearer,
        balance=balanced,
        subgroups=subgroup_effects(records, adjusted),
        findings=_findings(effect, balanced),
        first_year=_first_year(records, adjusted),
        all_follow_up=_all_follow_up(records, adjusted),
    ), adjusted


def _first_year(records: Records, adjusted: Adjusted) -> RiskBy | None:
    """The effect from the first year alone."""
    return None if adjusted.year is None else _risk_by(records, adjusted, adjusted.year, HORIZON_DAYS)


def _all_follow_up(records: Records, adjusted: Adjusted) -> AllFollowUp | None:
    """The effect from every callback on record."""
    wide = adjusted.wide
    if wide is None:
        return None
    by = (_risk_by(records, adjusted, found, day) for day, found in zip(RISK_DAYS, wide.by, strict=True))
    later = adjusted.compared.is_event & (adjusted.compared.days > HORIZON_DAYS)
    return AllFollowUp(int(later[adjusted.kept].sum()), tuple(by), wide.p_same, wide.is_told)


def _risk_by(records: Records, adjusted: Adjusted, found: Estimate, horizon: int) -> RiskBy:
    error = standard_error(found.of_difference, records.unit[adjusted.compared.rows][adjusted.kept])
    risk_with, risk_without = (float(np.clip(each, 0, 1)) for each in (found.with_mean, found.without_mean))
    low, high = found.difference - Z * error, found.difference + Z * error
    return RiskBy(horizon, risk_with, risk_without, found.difference, low, high, error)


def _counted(records: Records, adjusted: Adjusted) -> PracticeEffect:
    """All that can be said without adjustment."""
    compared = adjusted.compared
    contrast, a = compared.contrast, compared.a
    neither = len(records.days) - len(a)
    trimmed = adjusted.overlap.trimmed_jobs if adjusted.overlap else 0
    left_out = {"did neither, or not known": neither, "no comparable job done the other way": trimmed}
    return PracticeEffect(
        contrast=contrast.name,
        column=contrast.column,
        with_value=contrast.with_value,
        without_value=contrast.without_value,
        label=contrast.label,
        jobs=len(a),
        jobs_with=int(a.sum()),
        jobs_without=int((~a).sum()),
        callbacks_with=compared.callbacks(True),
        callbacks_without=compared.callbacks(False),
        raw=_raw(compared),
        risk_with=None,
        risk_without=None,
        difference=None,
        low=None,
        high=None,
        standard_error=None,
        p_value=None,
        q_value=None,
        e_value=None,
        e_value_limit=None,
        verdict="cannot be told yet",
        detectable_difference=None,
        target_difference=None,
        jobs_needed=None,
        overlap=adjusted.overlap,
        refused=adjusted.refused,
        left_out={reason: jobs for reason, jobs in left_out.items() if jobs},
    )


def _raw(compared: Compared) -> RawDifference | None:
    """Kaplan-Meier risks at the horizon, as the jobs come."""
    if not compared.a.any() or compared.a.all():
        return None
    curves = [
        kaplan_meier(compared.days[compared.a == way], compared.is_event[compared.a == way]) for way in (True, False)
    ]
    (first, e1, *_), (second, e0, *_) = (value_at(curve, HORIZON_DAYS) for curve in curves)
    half = Z * float(np.hypot(e1, e0))
    difference = second - first
    return RawDifference(1 - first, 1 - second, difference, difference - half, difference + half)


def _findings(effect: PracticeEffect, balanced: Sequence[Balance]) -> tuple[Finding, ...]:
    found = []
    off = [each for each in balanced if abs(each.after) > UNBALANCED]
    if off:
        names = ", ".join(each.label.lower() for each in off[:3])
        found.append(
            Finding(
                "not_quite_balanced",
                f"After weighting the two groups still differ in {len(off)} of {len(balanced)} figures known before "
                f"({names}); the outcome model takes up the rest.",
                {"count": len(off), "of": len(balanced)},
            )
        )
    return tuple(found)


def judge(effects: Sequence[PracticeEffect], overall_risk: float) -> tuple[PracticeEffect, ...]:
    """Add q-values over all practices, verdicts, what prices count, and how many jobs would be needed."""
    effects = _shrunk(effects)
    p = np.array([np.nan if each.p_value is None else each.p_value for each in effects])
    q = q_values(p)
    verdicts, tested = int((q <= FALSE_SHARE).sum()), int((~np.isnan(p)).sum())
    return tuple(
        _judged(each, float(own), overall_risk, threshold(verdicts, tested + int(np.isnan(own))))
        for each, own in zip(effects, q, strict=True)
    )


def _shrunk(effects: Sequence[PracticeEffect]) -> list[PracticeEffect]:
    """The effects that prices count, and the worth by them."""
    tested = [(at, each) for at, each in enumerate(effects) if each.difference is not None and each.standard_error]
    means, spreads = shrunk(
        np.array([each.difference for _, each in tested], dtype=float),
        np.array([each.standard_error for _, each in tested], dtype=float),
    )
    out = list(effects)
    for (at, each), mean, spread in zip(tested, means.tolist(), spreads.tolist(), strict=True):
        out[at] = replace(
            each,
            shrunk_difference=mean,
            shrunk_low=mean - Z * spread,
            shrunk_high=mean + Z * spread,
            worth=None if each.worth is None else counted(each.worth, mean, spread),
        )
    return out


def _judged(effect: PracticeEffect, q: float, overall_risk: float, p: float) -> PracticeEffect:
    said, worth = verdict(effect.difference, q), effect.worth
    if worth is not None and said != "cuts callbacks":  # an interval alone shows nothing: of many, one is clear by luck
        worth = replace(worth, cost_per_avoided=None)
    effect = replace(effect, q_value=None if np.isnan(q) else q, verdict=said, worth=worth)
    if effect.standard_error is not None and effect.risk_without is not None:
        return _with_power(effect, effect.standard_error, max(effect.risk_without, 0.01), p)
    share = effect.jobs_with / effect.jobs if effect.jobs else 0.0
    if not 0 < share < 1 or effect.overlap is not None or overall_risk <= 0:
        return effect  # nobody does the one or the other, or more of the same jobs would compare no better
    return _with_power(effect, planned_error(effect.jobs, share, overall_risk), overall_risk, p)


def _with_power(effect: PracticeEffect, error: float, base_risk: float, p: float) -> PracticeEffect:
    """What such a standard error shows of a quarter of the risk, and how many more jobs would settle it."""
    target, is_open = WORTHWHILE_SHARE * base_risk, effect.verdict == "cannot be told yet"
    effect = replace(effect, detectable_difference=detectable(error, p), target_difference=-target)
    if is_open and is_no_difference(effect.low, effect.high, target):
        return replace(effect, verdict="no difference worth knowing")
    return replace(effect, jobs_needed=needed(effect.jobs, error, target, p, effect.difference)) if is_open else effect
