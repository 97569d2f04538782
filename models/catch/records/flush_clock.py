"""Flush minutes and clock times, nights left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from pipeline.contract.units import SECONDS_PER_MINUTE


@dataclass(frozen=True, slots=True)
class DayOnSite:
    """One day of a flush: its first and last known moment, and the flush minutes of the days before."""

    first_at: datetime
    last_at: datetime
    minutes_before: float


def known_by(days: Sequence[DayOnSite], at: datetime) -> tuple[DayOnSite, ...]:
    """The days that had begun at that moment; the first day always."""
    return tuple(day for day in days if day.first_at <= at) or tuple(days[:1])


def minutes_at(days: Sequence[DayOnSite], at: datetime) -> float:
    """Flush minutes at a clock time [min]; 0 before the start, standing still after a day's last moment."""
    day = known_by(days, at)[-1]
    moment = min(max(at, day.first_at), day.last_at)
    return day.minutes_before + (moment - day.first_at).total_seconds() / SECONDS_PER_MINUTE


def clock_at(days: Sequence[DayOnSite], at: datetime, now: float, minutes: float) -> datetime:
    """Clock time of a flush minute, seen from `at`, which is minute `now`.

    What lies ahead counts on without a night: nobody knows yet when the crew will stop. Times are cut to
    whole seconds, and a forecast beyond a year is held there so that it stays a date.
    """
    if minutes >= now:
        ahead = min(minutes - now, 366.0 * 24 * 60)
        return at + timedelta(seconds=round(ahead * SECONDS_PER_MINUTE))
    day = next(day for day in reversed(known_by(days, at)) if day.minutes_before <= max(minutes, 0.0))
    return day.first_at + timedelta(seconds=round((minutes - day.minutes_before) * SECONDS_PER_MINUTE))
