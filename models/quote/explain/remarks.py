"""What a quote should say beside its numbers: thin data, simulated data, label limits, unlike requests."""

from __future__ import annotations

from collections.abc import Mapping

from models.drift_scan import Drift
from models.quote.base.quote_result import TARGETS, Target
from models.quote.estimator.rules import BOOSTED_FROM
from models.quote.model.quote_model import QuoteModel
from pipeline.contract.findings import Finding
from pipeline.contract.firm import Firm

_PLAIN: dict[Target, str] = {
    "magnetite_kg": "magnetite",
    "non_magnetic_kg": "non-magnetic debris",
    "flush_minutes": "flush time",
    "site_minutes": "time on site",
}
_VERBS: dict[Target, str] = {t: "taken" if t.endswith("minutes") else "given" for t in _PLAIN}
_DAY_DIFFERS_MINUTES = 60


def of_the_records(model: QuoteModel, firm: Firm) -> tuple[Finding, ...]:
    """Findings that hold for every quote from this model."""
    found = [*_simulated(model), *(f for t in TARGETS if (f := _thin(model, t)) is not None)]
    found += _pooled(model)
    found += of_drift({target: one.drift for target, one in model.targets.items()})
    return (*found, *_day(model, firm))


def _day(model: QuoteModel, firm: Firm) -> tuple[Finding, ...]:
    """Where past jobs went into a second day at another length than the settings say."""
    day = model.second_day.day(firm.day_minutes).minutes
    if abs(day - firm.day_minutes) <= _DAY_DIFFERS_MINUTES or not model.second_day.is_told(firm.day_minutes):
        return ()
    told = f"Past jobs went into a second day above about {day:.0f} minutes on site, not {firm.day_minutes}"
    if not model.second_day.second_days:
        longer = model.second_day.longer_on_the_day(firm.day_minutes)
        told = f"{longer} past jobs took more than {firm.day_minutes} minutes on site and none a second day, not"
    facts = {"records_minutes": day, "settings_minutes": firm.day_minutes}
    return (Finding("day_length_differs", f"{told} as in firm.toml: the quote follows the records.", facts),)


def of_drift(checks: Mapping[Target, Drift | None]) -> tuple[Finding, ...]:
    """A finding for each target whose newest jobs have drifted, with what was done about it."""
    return tuple(
        Finding(
            "forecast_recalibrated",
            f"Since {drift.since:%Y-%m-%d} jobs have {_VERBS[target]} {drift.level_factor:.2g} times the "
            f"{_PLAIN[target]} that earlier jobs led to expect, scattered {drift.spread_factor:.2g} times as widely: "
            f"the range rests on the newest {drift.window} jobs alone.",
            {"target": target, **drift.as_json()},
        )
        for target, drift in checks.items()
        if drift is not None and drift.recalibrated
    )


def of_the_request(
    outside: tuple[str, ...], predose_days: float, label_ratio: float, firm: Firm
) -> tuple[Finding, ...]:
    """Findings of one request: where it lies outside the records, and a pre-dose beyond the label's days or dose."""
    found = []
    if outside:
        found.append(
            Finding(
                "outside_records",
                f"This job is unlike the records in {len(outside)} "
                f"{'answer' if len(outside) == 1 else 'answers'} ({'; '.join(outside)}): trust it less.",
                {"outside": list(outside)},
            )
        )
    if predose_days > firm.label_max_days == 0:
        sentence = (
            "A pre-dose is planned, but label_max_days of firm.toml does not say how long the label lets the cleaning "
            "chemical stay in: read the label and write it there."
        )
        found.append(Finding("label_days_not_known", sentence, {"days": predose_days}))
    elif predose_days > firm.label_max_days:
        found.append(
            Finding(
                "predose_beyond_label",
                f"The cleaning chemical would stay in for {predose_days:.0f} days, the label allows "
                f"{firm.label_max_days}: the label comes first.",
                {"days": predose_days, "allowed_days": firm.label_max_days},
            )
        )
    if label_ratio > 1:
        found.append(
            Finding(
                "predose_over_label_dose",
                f"The pre-dose is {label_ratio:.2g} times the label's: never more than the label allows.",
                {"label_ratio": label_ratio},
            )
        )
    return tuple(found)


def borrowed(model: QuoteModel) -> str:
    """What the forecast of one firm rests on in a book of several, in words; empty in a book of one firm."""
    records, magnetite = model.records, model.targets["magnetite_kg"]
    if records.firm_id is None:
        return ""
    everyone = f"all {records.jobs:,} jobs of {records.firms} firms"
    if not records.own_jobs:
        return f"No job in this book is of a firm {records.firm_id!r}: forecast and ranges rest on {everyone}."
    if not magnetite.borrowed:
        return (
            f"{records.firm_id} has {records.own_jobs} finished jobs on record, too few for ranges of its own: "
            f"forecast and ranges rest on {everyone}."
        )
    sentence = (
        f"The shape of the forecast is learnt from {magnetite.borrowed:,} jobs of {records.firms - 1} other firms and "
        f"{magnetite.jobs} of {records.firm_id}; its middle and ranges rest on {magnetite.calibration_jobs} jobs of "
        f"{records.firm_id} alone."
    )
    others = [_PLAIN[t] for t in TARGETS if not model.targets[t].borrowed and model.targets[t].method == "boosted"]
    return f"{sentence} Those of {' and '.join(others)} rest on all firms' jobs." if others else sentence


def _pooled(model: QuoteModel) -> list[Finding]:
    said, records = borrowed(model), model.records
    if not said:
        return []
    facts = {"firm_id": records.firm_id, "own_jobs": records.own_jobs, "jobs": records.jobs, "firms": records.firms}
    return [Finding("rests_on_other_firms", said, facts)]


def _simulated(model: QuoteModel) -> list[Finding]:
    share = model.records.simulated_share
    if model.records.jobs == 0 or share == 0:
        return []
    facts = {"simulated_share": share}
    if share == 1:
        sentence = "Every record behind this quote is simulated: it shows how the tool works, not what to charge."
        return [Finding("simulated_only", sentence, facts)]
    sentence = f"{share:.0%} of the records behind this quote are simulated."
    return [Finding("partly_simulated", sentence, facts)]


def _thin(model: QuoteModel, target: Target) -> Finding | None:
    one, name = model.targets[target], _PLAIN[target]
    facts = {"target": target, "jobs": one.jobs, "needed": BOOSTED_FROM}
    if one.method == "boosted":
        return None
    if one.method == "per_emitter_rule":
        sentence = (
            f"Only {one.jobs} finished {'job has' if one.jobs == 1 else 'jobs have'} {name} on record: the "
            f"forecast is your median per emitter with a wide interval, until there are {BOOSTED_FROM}."
        )
        return Finding("few_jobs", sentence, facts)
    if target == "site_minutes" and model.targets["flush_minutes"].method != "typical_rule":
        sentence = "No past job logs arrival and leaving: time on site is the flush plus setup_minutes of firm.toml."
        return Finding("site_time_not_logged", sentence, facts)
    sentence = (
        f"No finished job has {name} on record: the forecast is a rule of common practice, a wide guess. "
        "Your own jobs will replace it."
    )
    return Finding("no_own_jobs", sentence, facts)
