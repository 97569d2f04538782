"""The clock and the readings of a job as arrays, so that what they say at any moment is a look-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.catch.records.flush_clock import DayOnSite
from models.catch.records.ragged_arrays import Floats
from models.catch.records.sensor_readings import WHOLE, Readings
from pipeline.contract.units import MINUTES_PER_HOUR


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The clock and the readings of a job: flush minutes before each day (days,) and the clock hour of its first
    moment; minutes, middle of flow and return [°C], turbidity [NTU] of readings (readings,), and whether the whole
    system had the flow."""

    day_from: Floats
    day_hour: Floats
    read_at: Floats
    water_c: Floats
    turbidity_ntu: Floats
    is_whole: Floats


def course_of(days: Sequence[DayOnSite], readings: Readings) -> Course:
    """Of the days and readings that a job is known by."""
    first = [day.first_at for day in days]
    return Course(
        day_from=np.array([day.minutes_before for day in days], dtype=float),
        day_hour=np.array([at.hour + (at.minute + at.second / 60.0) / MINUTES_PER_HOUR for at in first], dtype=float),
        read_at=readings.minutes,
        water_c=readings.water_c,
        turbidity_ntu=readings.turbidity_ntu,
        is_whole=np.asarray(readings.emitter_no == WHOLE, dtype=float),
    )
