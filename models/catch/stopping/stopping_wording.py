"""Sentences of a watch that stand on what was learnt from past jobs."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from models.catch.stopping.predict_stopping import CrewForecast
from models.catch.wording import amount, kilograms
from models.drift_scan import Drift
from models.quantiles import Quantiles
from pipeline.contract.findings import Finding
from pipeline.contract.units import MINUTES_PER_HOUR

LATEST_HOUR = 20  # a crew still on site then is rare; common practice, no source
WIDE_BASIS = (
    "Taken from these weighings alone, with wide beliefs and no past jobs: what would come if the flow went on until "
    "nothing more did. Crews stop sooner, so less is then caught."
)


def learnt_basis(forecast: CrewForecast) -> str:
    """What the forecast of a job in progress stands on."""
    way = {
        "one_at_a_time": "done one emitter at a time",
        "groups": "done group by group",
        "all_open": "done with everything open",
        "together": "done with several emitters open at once",
        "any": "of any way of working",
        "bare": "as if no more were known of them than of this one",
    }[forecast.kind]
    return (
        f"What crews of this book go on to catch, learnt from {forecast.jobs} finished jobs {way} "
        "and set so that four in five of them, each told by the others, fall within the range."
    )


def changed(checks: Mapping[str, Drift]) -> tuple[Finding, ...]:
    """A finding for each target in which the newest jobs have changed, with what was done about it."""
    verb = {"kg": "brought {} times the debris", "minutes": "gone on {} times as long"}
    return tuple(
        Finding(
            "forecast_recalibrated",
            f"Since {check.since:%Y-%m-%d} jobs have {verb[target].format(f'{check.level_factor:.2g}')}"
            f"{' that' if target == 'kg' else ' as'} earlier ones led to expect from a moment on, scattered "
            f"{check.spread_factor:.2g} times as widely: the range rests on the newest {check.window} jobs alone.",
            {"target": target, **check.as_json()},
        )
        for target, check in checks.items()
        if check.recalibrated
    )


def expected_answer(
    forecast: CrewForecast, ends_at: dict[str, datetime], at: datetime, all_left: Quantiles | None
) -> str:
    """The one sentence on top while the flush goes on: what this job will still give, till when, and how much
    more there would be if the flow went on."""
    way = "by this book's usual jobs, as nothing but weighings is known of this house"
    told = way if forecast.kind == "bare" else "as your crews work"
    more = f"Expect {amount(forecast.kg)} {told}, {_till(forecast.minutes, ends_at, at)}"
    if all_left is None or all_left.p50 <= forecast.kg.p50:
        return f"{more}."
    return f"{more}; about {kilograms(all_left.p50)} kg if the flow went on till nothing came."


def _till(minutes: Quantiles, ends_at: dict[str, datetime], at: datetime) -> str:
    """Clock times while all of it is today's work, hours of flushing where it is not: nights do not count."""
    early, middle, late = (ends_at[name] for name in ("p10", "p50", "p90"))
    home = at.replace(hour=LATEST_HOUR, minute=0, second=0)
    if middle <= home:
        span = f"{early:%H:%M} to {late:%H:%M}" if late <= home else f"not before {early:%H:%M}"
        return f"to the end around {middle:%H:%M} ({span})"
    p50, p10, p90 = (getattr(minutes, name) / MINUTES_PER_HOUR for name in ("p50", "p10", "p90"))
    return f"in {p50:.0f} hours of flushing ({p10:.0f} to {p90:.0f}), so not today"
