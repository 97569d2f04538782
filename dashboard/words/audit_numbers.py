"""Every number of a practice audit as rows, each with its unit and what it means: for a file to keep."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import pandas as pd

from dashboard.words import firm_against_others
from dashboard.words.number_rows import COUNT, SHARE, NumberRow, number_table
from models.catch.release_effects import ReleaseEffects
from models.practice.results.audit_result import Audit, PracticeEffect
from models.practice.results.curve_results import CumulativeIncidence, PracticeCurves, SurvivalCurve
from models.practice.results.engineer_results import EngineerPoint, Funnel
from models.practice.results.pool_results import OwnFirm, PooledEffect

COLUMNS = ("part", "of", "quantity", "value", "low", "high", "unit", "definition")
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
    ("detectable_difference", SHARE, "difference that gets a verdict with 80 % chance from these jobs"),
    ("target_difference", SHARE, "difference worth knowing: a quarter of the risk without"),
    (
        "jobs_needed",
        COUNT,
        "about so many more jobs would show the target difference with 80 % chance, or settle it if the estimate stays",
    ),
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
    return number_table(rows, COLUMNS)


def _whole(audit: Audit) -> Iterator[NumberRow]:
    row = partial(NumberRow, "audit", "all")
    yield row("jobs", audit.jobs, COUNT, "jobs followed up for at least a day")
    yield row("callbacks", audit.callbacks, COUNT, f"debris callbacks within {audit.horizon_days} days of the visit")
    for reason, number in audit.left_out.items():
        yield NumberRow("audit", reason, "left_out", number, COUNT, "jobs left out of the whole audit, by reason")
    kg = audit.risk_per_kg
    told = kg.refused or "change of the risk for one more dry kilogram caught"
    yield row("risk_per_kg", kg.per_kg, "share of jobs per kg", told, kg.low, kg.high)


def _practice(effect: PracticeEffect) -> Iterator[NumberRow]:
    row = partial(NumberRow, "practice", effect.contrast)
    told = effect.refused or f"adjusted difference, with less without, 95 % interval; {effect.verdict_words}"
    yield row("difference", effect.difference, SHARE, told, effect.low, effect.high)
    told = "the same as prices and money count it: moved towards zero, since the clearest of many owe something to luck"
    yield row("shrunk_difference", effect.shrunk_difference, SHARE, told, effect.shrunk_low, effect.shrunk_high)
    if effect.raw is not None:
        raw = effect.raw
        told = "difference in cumulative incidence as the records stand, nothing adjusted"
        yield row("raw_difference", raw.difference, SHARE, told, raw.low, raw.high)
    yield from _follow_up(effect)
    for quantity, unit, meaning in _EFFECT:
        yield row(quantity, getattr(effect, quantity), unit, meaning)
    for reason, number in effect.left_out.items():
        yield row("left_out", number, COUNT, f"jobs left out: {reason}")
    for group in effect.subgroups:
        told = group.refused or f"adjusted difference among: {group.label}; interval widened for several looks"
        yield row(f"difference, {group.code}", group.difference, SHARE, told, group.low, group.high)
    for each in effect.balance:
        told = f"difference of the groups before weighting: {each.label}"
        yield row(f"balance before, {each.known_as}", each.before, "standard deviations", told)
        told = f"difference of the groups after weighting: {each.label}"
        yield row(f"balance after, {each.known_as}", each.after, "standard deviations", told)
    yield from _worth(effect)


def _follow_up(effect: PracticeEffect) -> Iterator[NumberRow]:
    row, year, every = partial(NumberRow, "practice", effect.contrast), effect.first_year, effect.all_follow_up
    if year is None or every is None:
        return
    yield row("first_year", year.difference, SHARE, "adjusted difference by the first year alone", year.low, year.high)
    used = "stands as the adjusted difference" if every.is_told else "stands beside the adjusted difference"
    for by in every.by:
        told = f"adjusted difference by day {by.horizon_days} from all follow-up; by day 365 it {used}"
        yield row(f"all_follow_up_{by.horizon_days}", by.difference, SHARE, told, by.low, by.high)
    yield row("later_callbacks", every.later_callbacks, COUNT, "debris callbacks after the first year among these jobs")


def _worth(effect: PracticeEffect) -> Iterator[NumberRow]:
    worth, row = effect.worth, partial(NumberRow, "practice", effect.contrast)
    if worth is None:
        return
    money = worth.currency
    yield row("cost_per_job", worth.cost_per_job, money, f"of the practice: {worth.basis}")
    yield row("cost_per_callback", worth.cost_per_callback, money, "of one return visit, by the firm's settings")
    told = "of one callback avoided; empty unless the verdict says that it cuts callbacks"
    yield row("cost_per_avoided", worth.cost_per_avoided, money, told)
    told = "callbacks avoided (the shrunk difference) times the cost of one, less the cost of the practice"
    yield row("net_per_job", worth.net_per_job, money, told, worth.net_low, worth.net_high)


def _doses(audit: Audit) -> Iterator[NumberRow]:
    for dose in audit.doses:
        row = partial(NumberRow, "dose", dose.column)
        told = "adjusted risk, had all jobs been given this dose"
        for amount, risk, low, high in zip(dose.doses, dose.risk, dose.low, dose.high, strict=True):
            yield row(f"risk at {amount:.1f} {dose.unit}", risk, SHARE, told, low, high)
        for amount, jobs in zip(dose.doses, dose.jobs, strict=True):
            yield row(f"jobs at {amount:.1f} {dose.unit}", int(jobs), COUNT, "jobs that had about that dose")
        told = dose.refused or "of a straight trend over the doses as clear by chance, were there none"
        yield row("trend_p", dose.trend_p, "probability", told)


def _engineers(funnel: Funnel) -> Iterator[NumberRow]:
    for each in funnel.engineers:
        yield from _engineer(each)
    told = "seen over expected between which chance keeps engineers, over-dispersion allowed for"
    limits = (("95 %", funnel.wide_low_95, funnel.wide_high_95), ("99.8 %", funnel.wide_low_998, funnel.wide_high_998))
    for level, lows, highs in limits:
        for at, low, high in zip(funnel.grid, lows, highs, strict=True):
            quantity = f"limits at {at:.2f} expected, {level}"
            yield NumberRow("engineers", "all", quantity, None, "ratio", told, low, high)


def _engineer(each: EngineerPoint) -> Iterator[NumberRow]:
    row = partial(NumberRow, "engineer", f"{each.firm_id}, {each.engineer_id}")
    yield row("jobs", each.jobs, COUNT, f"jobs led; {each.place}")
    if each.observed is None:
        return
    yield row("observed", each.observed, COUNT, "debris callbacks within the horizon")
    yield row("expected", each.expected, COUNT, "debris callbacks that the mix of jobs leads to expect")
    told = "observed over expected; low and high are the limits of chance at 95 %, not an interval"
    yield row("ratio", each.ratio, "ratio", told, each.low_95, each.high_95)
    told = "drawn towards 1 by how little is known, 95 % interval"
    yield row("shrunk_ratio", each.shrunk_ratio, "ratio", told, each.shrunk_low, each.shrunk_high)


def _pooled(each: PooledEffect) -> Iterator[NumberRow]:
    row = partial(NumberRow, "pool", each.contrast)
    told = each.refused or f"random-effects mean over {each.firms_used} firms"
    yield row("difference", each.difference, SHARE, told, each.low, each.high)
    told = "where a further firm would lie, 95 %"
    yield row("one more firm", each.difference, SHARE, told, each.prediction_low, each.prediction_high)
    yield row("tau", each.tau, SHARE, "spread of true effects between firms")
    yield row("i_squared", each.i_squared, "share", "of the variation between firms that is beyond chance")


def _within(effects: ReleaseEffects | None) -> Iterator[NumberRow]:
    told = "pace at which debris comes, each job compared with itself; 95 % interval, jobs apart"
    for each in effects.effects if effects is not None else ():
        yield NumberRow("within jobs", each.per, "times as fast", each.ratio, "ratio", told, each.low, each.high)


_CURVES = {
    "debris": "share of jobs with a first callback for debris by that day, other causes competing (Aalen-Johansen)",
    "other cause": "share of jobs with a first callback of another cause by that day, debris competing",
    "debris, alike": "the same for debris, jobs weighted to be alike in what was known before",
    "free of debris": "share of jobs without a debris callback by that day, were there no other cause (Kaplan-Meier)",
}


def _curve(curves: PracticeCurves) -> Iterator[NumberRow]:
    for name, day, share, low, high, *_ in curve_points(curves).itertuples(index=False):
        told = f"{_CURVES[name.rpartition(', ')[0]]}; pointwise 95 % interval"
        yield NumberRow("curve", curves.contrast, f"{name}, day {day:.0f}", share, SHARE, told, low, high)


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
