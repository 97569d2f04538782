"""What tells that a crew is about to stop, besides what comes: the time of day, a weighing that is due and does not
come, and readings that say that the last rinse has begun (all emitters open again, water colder and clearer).

The end of a flush is not written down before it has come, so these signs are all that a forecast has of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from models.catch.records.course import Course
from models.catch.records.ragged_arrays import Floats
from pipeline.contract.units import MINUTES_PER_HOUR

AFTERNOON_H, LATE_H, HOME_H = 14.0, 16.0, 17.0
"""Clock hours from which an hour more counts by itself: after lunch, when packing up is thought of, when most go home
(common practice, no source)."""
MOST_HOURS = 8.0
MOST_OVERDUE = 4.0
CLEAR_NTU = 20.0  # a turbidity meter on site reads no finer
MOST_COOLED_K = 40.0
SIGNS = (
    "hours_after_lunch",
    "hours_late",
    "hours_past_home",
    "planned_hours_past_home",
    "late_by_log_minutes_left",
    "days_before",
    "weighing_overdue",
    "cooled_k",
    "log_cleared",
    "all_open_again",
    "no_readings",
)
"""Features of every kind of work, in order; see `signs_row`."""


@dataclass(frozen=True, slots=True)
class EndSigns:
    """The signs at one moment: clock hour, days before this one; and by the readings so far how much colder the water
    is than at its warmest [K] and the log of how much clearer than at its dirtiest (0: not known), and whether all
    emitters have the flow again after one had it alone."""

    clock_h: float
    days_before: int
    cooled_k: float
    log_cleared: float
    is_open_again: bool
    has_readings: bool


def signs_at(course: Course, now: float) -> EndSigns:
    """The signs at flush minute `now`; nothing later is used. At the very end of a day it is that evening."""
    day = max(int(np.searchsorted(course.day_from, now, side="left")) - 1, 0)
    clock_h = float(course.day_hour[day] + (now - course.day_from[day]) / MINUTES_PER_HOUR)
    known = int(np.searchsorted(course.read_at, now + 1.0 / 60.0, side="right"))
    water, turbidity = (_taken(each[:known]) for each in (course.water_c, course.turbidity_ntu))
    whole = course.is_whole[:known]
    return EndSigns(
        clock_h=clock_h,
        days_before=day,
        cooled_k=float(water.max() - water[-1]) if water.size else 0.0,
        log_cleared=float(np.log((turbidity.max() + CLEAR_NTU) / (turbidity[-1] + CLEAR_NTU)))
        if turbidity.size
        else 0.0,
        is_open_again=bool(known and whole[-1] > 0 and whole.min() == 0.0),
        has_readings=known > 0,
    )


def _taken(values: Floats) -> Floats:
    return np.asarray(values[np.isfinite(values)], dtype=float)


def _hours(hours: float) -> float:
    return min(max(hours, 0.0), MOST_HOURS)


def signs_row(signs: EndSigns, minutes_left: float, since_weighing: float, pace: float) -> dict[str, float]:
    """`SIGNS` by name; `minutes_left` by the plan, `since_weighing` and the usual time between weighings in minutes."""
    after = [_hours(signs.clock_h - hour) for hour in (AFTERNOON_H, LATE_H, HOME_H)]
    planned_end = signs.clock_h + minutes_left / MINUTES_PER_HOUR
    return {
        "hours_after_lunch": after[0],
        "hours_late": after[1],
        "hours_past_home": after[2],
        "planned_hours_past_home": _hours(planned_end - HOME_H),
        "late_by_log_minutes_left": after[1] * math.log(minutes_left),
        "days_before": float(signs.days_before),
        "weighing_overdue": min(max(since_weighing / pace - 1.0, 0.0), MOST_OVERDUE),
        "cooled_k": min(signs.cooled_k, MOST_COOLED_K),
        "log_cleared": signs.log_cleared,
        "all_open_again": float(signs.is_open_again),
        "no_readings": float(not signs.has_readings),
    }
