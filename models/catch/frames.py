"""`JobCatch` from the tables of a build, or from rows typed in on site."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import pandas as pd

from models.catch.clock import DayOnSite
from models.catch.job import MAGNET, Catch, EmitterFacts, JobCatch
from pipeline.findings import BadInput

KEY = ["firm_id", "job_id"]


@dataclass(frozen=True, slots=True, eq=False)
class CatchFrames:
    """The frames that a watch reads, for one job or many: `jobs`, `ftr_job_day`, `ftr_catch_curve`,
    `ftr_emitter_curve`, `ftr_emitter` (columns in pipeline.built_tables)."""

    jobs: pd.DataFrame
    job_day: pd.DataFrame
    catch_curve: pd.DataFrame
    emitter_curve: pd.DataFrame
    emitters: pd.DataFrame


def job_catches(
    frames: CatchFrames, *, hourly_cost: float | None = None, currency: str = ""
) -> Iterator[JobCatch]:
    """Every job of the frames, in their order, grouped once so that thousands of jobs stay quick.

    `hourly_cost` is in `currency`; None leaves the cost of one more hour out. A job without a start of
    flush in `jobs` raises BadInput.
    """
    parts = {
        name: dict(tuple(getattr(frames, name).groupby(KEY, sort=False)))
        for name in ("job_day", "catch_curve", "emitter_curve", "emitters")
    }
    for record in frames.jobs.to_dict("records"):
        row = {str(name): value for name, value in record.items()}
        key = (row["firm_id"], row["job_id"])
        own = {name: part.get(key, getattr(frames, name).iloc[:0]) for name, part in parts.items()}
        yield _one(row, own, hourly_cost, currency)


def job_catch(
    frames: CatchFrames, firm_id: str, job_id: str, *, hourly_cost: float | None = None, currency: str = ""
) -> JobCatch:
    """One job out of the frames; BadInput with the remedy where it is not among them."""
    chosen = {
        name: frame[(frame["firm_id"] == firm_id) & (frame["job_id"] == job_id)]
        for name in ("jobs", "job_day", "catch_curve", "emitter_curve", "emitters")
        for frame in (getattr(frames, name),)
    }
    for job in job_catches(CatchFrames(**chosen), hourly_cost=hourly_cost, currency=currency):
        return job
    raise BadInput(f"Job {job_id!r} of firm {firm_id!r} is not in the book; load it first or check the name.")


def _one(
    row: Mapping[str, object], own: Mapping[str, pd.DataFrame], hourly_cost: float | None, currency: str
) -> JobCatch:
    started, ended = _moment(row.get("flush_started_at")), _moment(row.get("flush_ended_at"))
    if started is None:
        raise BadInput(f"Job {row['job_id']!r} has no start of the flush; add flush_started_at to its row.")
    days = tuple(
        DayOnSite(day["first_at"].to_pydatetime(), day["last_at"].to_pydatetime(), float(day["minutes_before"]))
        for day in own["job_day"].sort_values("day_no").to_dict("records")
    ) or (DayOnSite(started, ended or started, 0.0),)
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
    )


def _moment(value: Any) -> datetime | None:
    return None if value is None or pd.isna(value) else pd.Timestamp(value).to_pydatetime()


def _catches(curve: pd.DataFrame, by_emitter: pd.DataFrame) -> tuple[Catch, ...]:
    focus = dict(zip(by_emitter["catch_no"], by_emitter["focus_minutes"], strict=True))
    ordered = curve.sort_values(["minutes_since_start", "catch_no"])
    return tuple(
        Catch(
            minutes=float(row["minutes_since_start"]),
            emitter_no=None if pd.isna(row["focus_emitter_no"]) else int(row["focus_emitter_no"]),
            focus_minutes=float(focus[row["catch_no"]]) if row["catch_no"] in focus else None,
            trap=str(row["trap"]),
            dry_g=float(row["dry_g"]),
        )
        for row in ordered.to_dict("records")
    )


def _emitters(frame: pd.DataFrame) -> tuple[EmitterFacts, ...]:
    return tuple(
        EmitterFacts(
            emitter_no=int(row["emitter_no"]),
            kind="" if pd.isna(row["emitter_kind"]) else str(row["emitter_kind"]),
            content_l=None if pd.isna(row.get("content_mid_l")) else float(row["content_mid_l"]),
            is_cold=None if pd.isna(row["cold_at_survey"]) else bool(row["cold_at_survey"]),
        )
        for row in frame.sort_values("emitter_no").to_dict("records")
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
        "own", job_id, started_at, None, (DayOnSite(started_at, last, 0.0),), tuple(catches),
        tuple(emitters), hourly_cost, currency,
    )  # fmt: skip


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
