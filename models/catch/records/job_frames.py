"""`JobCatch` from the tables of a build, or from rows typed in on site."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import pandas as pd

from models.catch.records.flush_clock import DayOnSite
from models.catch.records.job import MAGNET, Catch, EmitterFacts, JobCatch
from models.catch.records.sensor_frames import ReadingFrames
from pipeline.contract.findings import BadInput
from pipeline.contract.nights import flush_days

KEY = ["firm_id", "job_id"]


@dataclass(frozen=True, slots=True, eq=False)
class CatchFrames:
    """The frames that a watch reads, for one job or many: `jobs`, `ftr_job_day`, `ftr_catch_curve`,
    `ftr_emitter_curve`, `ftr_emitter`; `ftr_quote` where what was learnt from past jobs is to be used, and
    `readings` and `ftr_volume` for the warnings (columns in pipeline.contract.built_tables)."""

    jobs: pd.DataFrame
    job_day: pd.DataFrame
    catch_curve: pd.DataFrame
    emitter_curve: pd.DataFrame
    emitters: pd.DataFrame
    survey: pd.DataFrame | None = None
    readings: pd.DataFrame | None = None
    volume: pd.DataFrame | None = None


PARTS = ("job_day", "catch_curve", "emitter_curve", "emitters")
Rows = list[dict[str, Any]]


def job_catches(frames: CatchFrames, *, hourly_cost: float | None = None, currency: str = "") -> Iterator[JobCatch]:
    """Every job of the frames, in their order, grouped once so that thousands of jobs stay quick.

    `hourly_cost` is in `currency`; None leaves the cost of one more hour out. A job without a start of
    flush in `jobs` raises BadInput.
    """
    parts = {name: _by_job(getattr(frames, name), name) for name in PARTS}
    surveys = _surveys(frames.survey)
    more = ReadingFrames(frames.readings, frames.volume, frames.survey)
    for row in _records(frames.jobs):
        key = (row["firm_id"], row["job_id"])
        own = {name: part.get(key, []) for name, part in parts.items()}
        job = _one(row, own, surveys.get(key, ()), hourly_cost, currency)
        yield replace(job, readings=more.readings(key, job.days), setup=more.setup(key, row))


def job_catch(
    frames: CatchFrames, firm_id: str, job_id: str, *, hourly_cost: float | None = None, currency: str = ""
) -> JobCatch:
    """One job out of the frames; BadInput with the remedy where it is not among them."""
    of_job = {
        name: frame[(frame["firm_id"] == firm_id) & (frame["job_id"] == job_id)]
        for name in ("jobs", *PARTS, "survey", "readings", "volume")
        for frame in (getattr(frames, name),)
        if frame is not None
    }
    for job in job_catches(CatchFrames(**of_job), hourly_cost=hourly_cost, currency=currency):
        return job
    raise BadInput(f"Job {job_id!r} of firm {firm_id!r} is not in the book; load it first or check the name.")


SORTED_BY = {
    "job_day": ["day_no"],
    "catch_curve": ["minutes_since_start", "catch_no"],
    "emitter_curve": ["catch_no"],
    "emitters": ["emitter_no"],
}
NEEDED = {
    "job_day": ["first_at", "last_at", "minutes_before", "minutes"],
    "catch_curve": ["catch_no", "minutes_since_start", "focus_emitter_no", "trap", "dry_g", "is_magnetic"],
    "emitter_curve": ["catch_no", "focus_minutes"],
    "emitters": ["emitter_no", "emitter_kind", "content_mid_l", "cold_at_survey", "valve_kind"],
}


def _by_job(frame: pd.DataFrame, name: str) -> dict[tuple[str, str], Rows]:
    """The rows of each job, in order, empty cells as None; one pass over plain columns, not a group at a time."""
    columns = [column for column in (*KEY, *NEEDED[name]) if column in frame]
    ordered = frame.sort_values(SORTED_BY[name])[columns]
    found: dict[tuple[str, str], Rows] = {}
    for row in _records(ordered):
        found.setdefault((row["firm_id"], row["job_id"]), []).append(row)
    return found


def _records(frame: pd.DataFrame) -> Rows:
    known = frame.notna().to_numpy()
    values = [
        [value if is_known else None for value, is_known in zip(frame[name].tolist(), column, strict=True)]
        for name, column in zip(frame.columns, known.T, strict=True)
    ]
    names = [str(name) for name in frame.columns]
    return [dict(zip(names, row, strict=True)) for row in zip(*values, strict=True)]


def _surveys(frame: pd.DataFrame | None) -> dict[tuple[str, str], tuple[float, ...]]:
    if frame is None:
        return {}
    from models.survey_features import encode

    keys = zip(frame["firm_id"], frame["job_id"], strict=True)
    return {key: tuple(row) for key, row in zip(keys, encode(frame).tolist(), strict=True)}


def _one(
    row: Mapping[str, Any], own: Mapping[str, Rows], survey: tuple[float, ...], hourly_cost: float | None, currency: str
) -> JobCatch:
    started, ended = _moment(row.get("flush_started_at")), _moment(row.get("flush_ended_at"))
    if started is None:
        raise BadInput(
            f"Job {row['job_id']!r} has no start of the flush, so that there is no catch to watch; add "
            "flush_started_at and flush_ended_at to its row."
        )
    days, knows_minutes = _days(own["job_day"], started, ended or started)
    quoted = row.get("quoted_minutes")
    return JobCatch(
        firm_id=str(row["firm_id"]),
        job_id=str(row["job_id"]),
        started_at=started,
        ended_at=ended,
        days=days,
        catches=_catches(own["catch_curve"], own["emitter_curve"]),
        emitters=_emitters(own["emitters"]),
        hourly_cost=hourly_cost,
        currency=currency,
        survey=survey,
        isolation=str(row.get("isolation") or ""),
        quoted_minutes=None if quoted is None else float(quoted),
        knows_minutes=knows_minutes,
    )


def _days(rows: Rows, started: datetime, ended: datetime) -> tuple[tuple[DayOnSite, ...], bool]:
    """The days of a flush whose place on its clock is known, and whether that is all of them."""
    if not rows:
        rows = [
            {
                "first_at": pd.Timestamp(day.first_at),
                "last_at": pd.Timestamp(day.last_at),
                "minutes_before": day.minutes_before,
                "minutes": day.minutes,
            }
            for day in flush_days((started, ended))
        ]
    days = tuple(
        DayOnSite(day["first_at"].to_pydatetime(), day["last_at"].to_pydatetime(), float(day["minutes_before"]))
        for day in rows
        if day["minutes_before"] is not None
    )
    return days, len(days) == len(rows) and all(day.get("minutes", 0.0) is not None for day in rows)


def _moment(value: Any) -> datetime | None:
    return None if value is None or pd.isna(value) else pd.Timestamp(value).to_pydatetime()


def _catches(curve: Rows, by_emitter: Rows) -> tuple[Catch, ...]:
    focus = {row["catch_no"]: float(row["focus_minutes"]) for row in by_emitter}
    return tuple(
        Catch(
            minutes=float(row["minutes_since_start"]),
            emitter_no=None if row["focus_emitter_no"] is None else int(row["focus_emitter_no"]),
            focus_minutes=focus.get(row["catch_no"]),
            trap=str(row["trap"]),
            dry_g=float(row["dry_g"]),
            sticks_to_magnet=None if row.get("is_magnetic") is None else bool(row["is_magnetic"]),
        )
        for row in curve
        if row["minutes_since_start"] is not None and row["dry_g"] is not None
    )


def _emitters(rows: Rows) -> tuple[EmitterFacts, ...]:
    return tuple(
        EmitterFacts(
            emitter_no=int(row["emitter_no"]),
            kind=row["emitter_kind"] or "",
            content_l=None if row.get("content_mid_l") is None else float(row["content_mid_l"]),
            is_cold=None if row["cold_at_survey"] is None else bool(row["cold_at_survey"]),
            valve_kind=row.get("valve_kind") or "",
        )
        for row in rows
    )


@dataclass(frozen=True, slots=True)
class HandWeighing:
    """A weighing as typed in: flush minutes since the start, emitter that had the flow (None: whole system),
    grams, weighed `wet` or `dry`, and the trap."""

    minutes: float
    emitter_no: int | None
    grams: float
    weighed: str = "wet"
    trap: str = MAGNET


def job_catch_by_hand(
    rows: Sequence[HandWeighing],
    *,
    started_at: datetime,
    wet_dry_ratio: float,
    emitters: Sequence[EmitterFacts] = (),
    hourly_cost: float | None = None,
    currency: str = "",
    job_id: str = "by hand",
) -> JobCatch:
    """A job still in progress, from rows typed in, in any order.

    Wet grams are divided by `wet_dry_ratio`. The minutes since the magnet was last opened count for the
    emitter of the row. BadInput names every fault of every row at once.
    """
    _check(rows, wet_dry_ratio)
    spent: dict[int, float] = {}
    catches, opened = [], 0.0
    for row in sorted(rows, key=lambda row: row.minutes):
        focus = None
        if row.trap == MAGNET:
            if row.emitter_no is not None:
                focus = spent[row.emitter_no] = spent.get(row.emitter_no, 0.0) + row.minutes - opened
            opened = row.minutes
        dry_g = row.grams / (wet_dry_ratio if row.weighed == "wet" else 1.0)
        catches.append(Catch(row.minutes, row.emitter_no, focus, row.trap, dry_g))
    last = started_at + timedelta(minutes=max((row.minutes for row in rows), default=0.0))
    return JobCatch(
        "own",
        job_id,
        started_at,
        None,
        (DayOnSite(started_at, last, 0.0),),
        tuple(catches),
        tuple(emitters),
        hourly_cost,
        currency,
    )


def _check(rows: Sequence[HandWeighing], wet_dry_ratio: float) -> None:
    faults = [] if wet_dry_ratio >= 1.0 else [f"the wet/dry ratio is {wet_dry_ratio}, it must be at least 1"]
    for number, row in enumerate(rows, start=1):
        if not 0.0 <= row.minutes < float("inf"):
            faults.append(f"row {number}: minutes is {row.minutes}, it must be 0 or more")
        if not 0.0 <= row.grams <= 20_000.0:
            faults.append(f"row {number}: grams is {row.grams}, it must lie in 0..20000")
        if row.weighed not in ("wet", "dry"):
            faults.append(f"row {number}: weighed is {row.weighed!r}, it must be wet or dry")
        if row.emitter_no is not None and row.emitter_no < 1:
            faults.append(f"row {number}: emitter is {row.emitter_no}, emitters count from 1")
    if faults:
        raise BadInput("These weighings cannot be used: " + "; ".join(faults) + ".")
