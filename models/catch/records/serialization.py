"""A watch as plain data for JSON: the shape that `sludgebook watch --json` prints."""

from __future__ import annotations

import math
from dataclasses import asdict
from datetime import datetime

from models.catch.records.watch_result import EmitterWatch, OneMoreHour, QuarterHour, Watch
from models.quantiles import Quantiles


def as_json(watch: Watch) -> dict[str, object]:
    """`{"firm_id", "job_id", "at", "caught_kg", "remaining_kg": {p05 … p95} | null,
    "if_flow_goes_on_kg": {…} | null, "minutes_left": {…} | null, "basis", "level_off_at": {p05 …:
    ISO time} | null, "emitters": […], "next_quarter_hour": [{"emitter_no", "expected_kg", "kg", "chance_best"}, …],
    "where_next", "one_more_hour": {…} | null, "findings": […], "answer", "minutes",
    "non_magnetic_kg", …}`; masses dry, in kg. No NaN or infinity: null stands in their place."""
    level_at = watch.level_off_at
    written = {
        "firm_id": watch.firm_id,
        "job_id": watch.job_id,
        "at": watch.at,
        "minutes": watch.minutes,
        "is_finished": watch.is_finished,
        "answer": watch.answer,
        "caught_kg": watch.caught_kg,
        "non_magnetic_kg": watch.non_magnetic_kg,
        "remaining_kg": _quantiles(watch.remaining_kg),
        "if_flow_goes_on_kg": _quantiles(watch.if_flow_goes_on_kg),
        "minutes_left": _quantiles(watch.minutes_left),
        "basis": watch.basis,
        "level_off_at": None if level_at is None else dict(level_at),
        "level_off_minutes": _quantiles(watch.level_off_minutes),
        "emitters": [_emitter(emitter) for emitter in watch.emitters],
        "next_quarter_hour": [_quarter(each) for each in watch.next_quarter_hour],
        "where_next": watch.where_next,
        "one_more_hour": _hour(watch.one_more_hour),
        "findings": [finding.as_dict() for finding in watch.findings],
    }
    return {key: _clean(value) for key, value in written.items()}


def _quantiles(quantiles: Quantiles | None) -> dict[str, float] | None:
    return None if quantiles is None else dict(quantiles.as_dict())


def _emitter(emitter: EmitterWatch) -> dict[str, object]:
    return {
        "emitter_no": emitter.emitter_no,
        "caught_kg": emitter.caught_kg,
        "focus_minutes": emitter.focus_minutes,
        "catches": emitter.catches,
        "state": emitter.state,
        "remaining_kg": _quantiles(emitter.remaining_kg),
        "sentence": emitter.sentence,
    }


def _quarter(each: QuarterHour) -> dict[str, object]:
    return {
        "emitter_no": each.emitter_no,
        "expected_kg": each.expected_kg,
        "kg": _quantiles(each.kg),
        "chance_best": each.chance_best,
    }


def _hour(hour: OneMoreHour | None) -> dict[str, object] | None:
    if hour is None:
        return None
    return {
        "expected_kg": _quantiles(hour.expected_kg),
        "cost": hour.cost,
        "cost_per_kg": hour.cost_per_kg,
        "currency": hour.currency,
        "callback_change": None if hour.callback_change is None else asdict(hour.callback_change),
    }


def _clean(value: object) -> object:
    """Times as ISO text, numbers that are not finite as null, all the way down."""
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _clean(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_clean(item) for item in value]
    return value
