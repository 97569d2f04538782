"""What tells that a crew is about to stop: the clock, a weighing overdue, readings of the last rinse; by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from models.catch.records.course import course_of
from models.catch.records.flush_clock import DayOnSite
from models.catch.records.sensor_readings import NO_READINGS, Readings
from models.catch.stopping.end_signs import SIGNS, signs_at, signs_row

DAYS = (
    DayOnSite(datetime(2031, 3, 4, 9, 30), datetime(2031, 3, 4, 16, 30), 0.0),
    DayOnSite(datetime(2031, 3, 5, 8, 0), datetime(2031, 3, 5, 12, 0), 420.0),
)
READ = Readings(
    minutes=np.array([10.0, 60.0, 200.0, 430.0]),
    emitter_no=np.array([0, 3, 4, 0]),
    flow_l_min=np.full(4, 20.0),
    water_c=np.array([20.0, 60.0, np.nan, 15.0]),
    turbidity_ntu=np.array([30.0, 180.0, 80.0, np.nan]),
    pressure_bar=np.full(4, 1.0),
)


def test_the_clock_goes_on_after_the_night_and_the_end_of_a_day_is_that_evening() -> None:
    course = course_of(DAYS, NO_READINGS)

    told = {now: (signs_at(course, now).clock_h, signs_at(course, now).days_before) for now in (0.0, 420.0, 421.0)}

    assert told[0.0] == (9.5, 0)
    assert told[420.0] == (16.5, 0)
    assert told[421.0] == (pytest.approx(8.0 + 1 / 60), 1)


def test_readings_of_the_rinse_are_seen_once_they_are_taken() -> None:
    course = course_of(DAYS, READ)
    before, since = signs_at(course, 429.0), signs_at(course, 430.0)

    assert (before.cooled_k, before.is_open_again) == (0.0, False)
    assert (since.cooled_k, since.is_open_again) == (45.0, True)
    # the dirtiest was 180 NTU, the last one read 80: a meter on site reads no finer than 20
    assert before.log_cleared == since.log_cleared == pytest.approx(np.log(200.0 / 100.0))
    assert signs_at(course, 9.0).has_readings is False


def test_a_house_that_was_open_all_the_time_is_not_open_again() -> None:
    whole = replace(READ, emitter_no=np.zeros(4, dtype=np.int64))

    assert not signs_at(course_of(DAYS, whole), 430.0).is_open_again


def test_hours_are_counted_from_lunch_from_late_and_from_the_time_most_go_home() -> None:
    signs = signs_at(course_of(DAYS, READ), 420.0)

    row = signs_row(signs, minutes_left=90.0, since_weighing=24.0, pace=8.0)

    assert tuple(row) == SIGNS
    assert (row["hours_after_lunch"], row["hours_late"], row["hours_past_home"]) == (2.5, 0.5, 0.0)
    assert row["planned_hours_past_home"] == pytest.approx(1.0)
    assert row["late_by_log_minutes_left"] == pytest.approx(0.5 * np.log(90.0))
    assert row["weighing_overdue"] == 2.0
