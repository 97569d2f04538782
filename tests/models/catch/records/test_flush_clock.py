"""Flush minutes and clock times over a night."""

from __future__ import annotations

from datetime import datetime

import pytest

from models.catch.records.flush_clock import DayOnSite, clock_at, minutes_at

FIRST = DayOnSite(datetime(2031, 3, 4, 9, 0), datetime(2031, 3, 4, 16, 0), 0.0)
SECOND = DayOnSite(datetime(2031, 3, 5, 8, 0), datetime(2031, 3, 5, 11, 0), 420.0)


@pytest.mark.parametrize(
    ("at", "minutes"),
    [
        (datetime(2031, 3, 4, 8, 0), 0.0),
        (datetime(2031, 3, 4, 10, 30), 90.0),
        (datetime(2031, 3, 4, 22, 0), 420.0),
        (datetime(2031, 3, 5, 8, 0), 420.0),
        (datetime(2031, 3, 5, 9, 0), 480.0),
        (datetime(2031, 3, 6, 9, 0), 600.0),
    ],
)
def test_minutes_run_while_the_flush_runs_and_stand_still_at_night(at: datetime, minutes: float) -> None:
    assert minutes_at((FIRST, SECOND), at) == minutes


def test_a_minute_already_past_is_put_on_its_own_day() -> None:
    now = datetime(2031, 3, 5, 9, 0)

    assert clock_at((FIRST, SECOND), now, 480.0, 90.0) == datetime(2031, 3, 4, 10, 30)
    assert clock_at((FIRST, SECOND), now, 480.0, 450.0) == datetime(2031, 3, 5, 8, 30)


def test_a_minute_to_come_counts_on_from_now_without_knowing_of_the_next_day() -> None:
    now = datetime(2031, 3, 4, 15, 0)

    assert clock_at((FIRST, SECOND), now, 360.0, 480.0) == datetime(2031, 3, 4, 17, 0)


def test_a_forecast_without_end_stays_a_date() -> None:
    assert clock_at((FIRST,), datetime(2031, 3, 4, 15, 0), 360.0, 1e12).year == 2032
