"""Every number of a practice audit as rows, each with its unit and what it means: for a file to keep."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from dashboard.words import firm_against_others
from models.catch.release_effects import ReleaseEffects
from models.practice.results.audit_result import Audit, PracticeEffect
from models.practice.results.curve_results import CumulativeIncidence, PracticeCurves, SurvivalCurve
from models.practice.results.engineer_results import Funnel
from models.practice.results.pool_results import OwnFirm, PooledEffect

Row = tuple[str, str, str, float | None, float | None, float | None, str, str]
COLUMNS = ("part", "of", "quantity", "value", "low", "high", "unit", "definition")
SHARE, COUNT = "share of jobs", "count"
_EFFECT = (
    ("jobs_with", COUNT, "jobs done with the practice that have a usable record, before trimming"),
    ("jobs_without", COUNT, "jobs done without the practice that have a usable record, before trimming"),
    ("callbacks_with", COUNT, "debris callbacks seen within the horizon among the jobs with"),
    ("callbacks_without", COUNT, "debris callbacks seen within the horizon among the jobs without"),
    ("risk_with", SHARE, "adjusted risk of a debris callback within the horizon, had all jobs been done with it"),
    ("risk_without", SHARE, "adjusted risk of a debris callback within the horizon, had all jobs been done without it"),
    ("standard_error", SHARE, "standard error of the adjusted difference"),
    ("p_value", "probability", "of a difference as large by chance, were there none"),
    ("q_value", "probability", "p after control of the false-discovery rate over all practices (Benjamini-Hochberg)"),
    (
        "e_value",
        "risk ratio",
        "strength that something not on record would need, with practice and callbacks both, to "
        "explain the estimate away",
    ),
    ("e_value_limit", "risk ratio", "the same for the nearer end of the interval; 1 where it holds no effect"),
    ("detectable_difference", SHARE, "difference that these jobs show with 80 % chance"),
    ("target_difference", SHARE, "difference that `jobs_needed` is worked out for"),
    ("jobs_needed", COUNT, "about so many more jobs would show the target difference with 80 % chance"),
    ("trimmed_share", SHARE, "left out because no comparable job was done the other way"),
    ("effective_sample_size", "jobs", "equally weighted jobs that would tell as much (Kish)"),
)


def numbers(audit: Audit, view: OwnFirm | None = None, within: ReleaseEffects | None = None) -> pd.DataFrame:
    """One row a number: columns `COLUMNS`; `low` and `high` are the ends of its interval, empty where it has none.

    With `view` also one firm against the others of its pool, with `within` what heat and flow do within a job.
    """
    rows = [*_whole(audit), *(row for each in audit.practices for row in _practice(each)), *_doses(audit)]
    rows += [*_engineers(audit.funnel), *(row for each in audit.pool for row in _pooled(each))]
    rows += firm_against_others.numbers(view) if view is not None else []
    rows += [*_within(within), *(row for each in audit.curves.values() for row in _curve(each))]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _whole(audit: Audit) -> Iterator[Row]:
    yield "audit", "all", "jobs", audit.jobs, None, None, COUNT, "jobs followed up for at least a day"
    yield (
        "audit",
        "all",
        "callbacks",
        audit.callbacks,
        None,
        None,
        COUNT,
        f"debris callbacks within {audit.horizon_days} days of the visit",
    )
    for reason, number in audit.left_out.items():
        yield "audit", reason, "left_out", number, None, None, COUNT, "jobs left out of the whole audit, by reason"
    kg = audit.risk_per_kg
    yield (
        "audit",
        "all",
        "risk_per_kg",
        kg.per_kg,
        kg.low,
        kg.high,
        "share of jobs per kg",
        kg.refused or "change of the risk for one more dry kilogram caught",
    )


def _practice(effect: PracticeEffect) -> Iterator[Row]:
    name = effect.contrast
    told = effect.refused or f"adjusted difference, with less without, 95 % interval; {effect.verdict_words}"
    yield "practice", name, "difference", effect.difference, effect.low, effect.high, SHARE, told
    if effect.raw is not None:
        raw = effect.raw
        yield (
            "practice",
            name,
            "raw_difference",
            raw.difference,
            raw.low,
            raw.high,
            SHARE,
            "difference in cumulative incidence as the records stand, nothing adjusted",
        )
    for quantity, unit, meaning in _EFFECT:
        yield "practice", name, quantity, getattr(effect, quantity), None, None, unit, meaning
    for reason, number in effect.left_out.items():
        yield "practice", name, "left_out", number, None, None, COUNT, f"jobs left out: {reason}"
    for group in effect.subgroups:
        told = group.refused or f"adjusted difference among: {group.label}; interval widened for several looks"
        yield ("practice", name, f"difference, {group.code}", group.difference, group.low, group.high, SHARE, told)
    for each in effect.balance:
        yield (
            "practice",
            name,
            f"balance before, {each.known_as}",
            each.before,
            None,
            None,
            "standard deviations",
            f"difference of the groups before weighting: {each.label}",
        )
        yield (
            "practice",
            name,
            f"balance after, {each.known_as}",
            each.after,
            None,
            None,
            "standard deviations",
            f"difference of the groups after weighting: {each.label}",
        )
    yield from _worth(effect)


def _worth(effect: PracticeEffect) -> Iterator[Row]:
    worth, name = effect.worth, effect.contrast
    if worth is None:
        return
    money = worth.currency
    yield "practice", name, "cost_per_job", worth.cost_per_job, None, None, money, f"of the practice: {worth.basis}"
    yield (
        "practice",
        name,
        "cost_per_callback",
        worth.cost_per_callback,
        None,
        None,
        money,
        "of one return visit, by the firm's settings",
    )
    yield (
        "practice",
        name,
        "cost_per_avoided",
        worth.cost_per_avoided,
        None,
        None,
        money,
        "of one callback avoided; empty unless the verdict says that it cuts callbacks",
    )
    yield (
        "practice",
        name,
        "net_per_job",
        worth.net_per_job,
        worth.net_low,
        worth.net_high,
        money,
        "callbacks avoided times the cost of one, less the cost of the practice",
    )


def _doses(audit: Audit) -> Iterator[Row]:
    for dose in audit.doses:
        ends = zip(dose.doses, dose.risk, dose.low, dose.high, strict=True)
        for amount, risk, low, high in ends:
            yield (
                "dose",
                dose.column,
                f"risk at {amount:.1f} {dose.unit}",
                risk,
                low,
                high,
                SHARE,
                "adjusted risk, had all jobs been given this dose",
            )
        for amount, jobs in zip(dose.doses, dose.jobs, strict=True):
            yield (
                "dose",
                dose.column,
                f"jobs at {amount:.1f} {dose.unit}",
                int(jobs),
                None,
                None,
                COUNT,
                "jobs that had about that dose",
            )
        yield (
            "dose",
            dose.column,
            "trend_p",
            dose.trend_p,
            None,
            None,
            "probability",
            dose.refused or "of a straight trend over the doses as clear by chance, were there none",
        )


def _engineers(funnel: Funnel) -> Iterator[Row]:
    for each in funnel.engineers:
        name = f"{each.firm_id}, {each.engineer_id}"
        yield "engineer", name, "jobs", each.jobs, None, None, COUNT, f"jobs led; {each.place}"
        if each.observed is None:
            continue
        yield "engineer", name, "observed", each.observed, None, None, COUNT, "debris callbacks within the horizon"
        yield (
            "engineer",
            name,
            "expected",
            each.expected,
            None,
            None,
            COUNT,
            "debris callbacks that the mix of jobs leads to expect",
        )
        yield (
            "engineer",
            name,
            "ratio",
            each.ratio,
            each.low_95,
            each.high_95,
            "ratio",
            "observed over expected; low and high are the limits of chance at 95 %, not an interval",
        )
        yield (
            "engineer",
            name,
            "shrunk_ratio",
            each.shrunk_ratio,
            each.shrunk_low,
            each.shrunk_high,
            "ratio",
            "drawn towards 1 by how little is known, 95 % interval",
        )
    limits = (("95 %", funnel.wide_low_95, funnel.wide_high_95), ("99.8 %", funnel.wide_low_998, funnel.wide_high_998))
    for level, lows, highs in limits:
        for at, low, high in zip(funnel.grid, lows, highs, strict=True):
            yield (
                "engineers",
                "all",
                f"limits at {at:.2f} expected, {level}",
                None,
                low,
                high,
                "ratio",
                "seen over expected between which chance keeps engineers, over-dispersion allowed for",
            )


def _pooled(each: PooledEffect) -> Iterator[Row]:
    yield (
        "pool",
        each.contrast,
        "difference",
        each.difference,
        each.low,
        each.high,
        SHARE,
        each.refused or f"random-effects mean over {each.firms_used} firms",
    )
    yield (
        "pool",
        each.contrast,
        "one more firm",
        each.difference,
        each.prediction_low,
        each.prediction_high,
        SHARE,
        "where a further firm would lie, 95 %",
    )
    yield "pool", each.contrast, "tau", each.tau, None, None, SHARE, "spread of true effects between firms"
    yield (
        "pool",
        each.contrast,
        "i_squared",
        each.i_squared,
        None,
        None,
        "share",
        "of the variation between firms that is beyond chance",
    )


def _within(effects: ReleaseEffects | None) -> Iterator[Row]:
    for each in effects.effects if effects is not None else ():
        yield (
            "within jobs",
            each.per,
            "times as fast",
            each.ratio,
            each.low,
            each.high,
            "ratio",
            "pace at which debris comes, each job compared with itself; 95 % interval, jobs apart",
        )


_CURVES = {
    "debris": "share of jobs with a first callback for debris by that day, other causes competing (Aalen-Johansen)",
    "other cause": "share of jobs with a first callback of another cause by that day, debris competing",
    "debris, alike": "the same for debris, jobs weighted to be alike in what was known before",
    "free of debris": "share of jobs without a debris callback by that day, were there no other cause (Kaplan-Meier)",
}


def _curve(curves: PracticeCurves) -> Iterator[Row]:
    for row in curve_points(curves).itertuples(index=False):
        name, day, share, low, high, *_ = row
        yield (
            "curve",
            curves.contrast,
            f"{name}, day {day:.0f}",
            share,
            low,
            high,
            SHARE,
            f"{_CURVES[name.rpartition(', ')[0]]}; pointwise 95 % interval",
        )


def curve_points(curves: PracticeCurves) -> pd.DataFrame:
    """Every point of every curve of one practice, one row each."""
    named: dict[str, CumulativeIncidence | SurvivalCurve | None] = {
        "debris, with": curves.debris_with,
        "debris, without": curves.debris_without,
        "other cause, with": curves.other_with,
        "other cause, without": curves.other_without,
        "debris, alike, with": curves.adjusted_with,
        "debris, alike, without": curves.adjusted_without,
        "free of debris, with": curves.free_with,
        "free of debris, without": curves.free_without,
    }
    frames = [
        pd.DataFrame(
            {
                "Curve": name,
                "Day": curve.days,
                "Share": curve.estimate.round(5),
                "from": curve.low.round(5),
                "to": curve.high.round(5),
                "At risk": curve.at_risk,
                "Events": curve.events,
            }
        )
        for name, curve in named.items()
        if curve is not None
    ]
    return pd.concat(frames, ignore_index=True)
