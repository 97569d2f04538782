"""Times as they are written: to the minute, or in steps of five by those who look at the clock that way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from synthetic_data.chunk import Chunk
from synthetic_data.flush.flush_state import MAGNET
from synthetic_data.house.house import Flags, Ints


@dataclass(frozen=True, slots=True)
class VisitClocks:
    """Wall-clock minutes since midnight of the first day, by job; in this order, however they are rounded."""

    arrived: Ints
    started: Ints
    ended: Ints
    left: Ints


def clock_step(chunk: Chunk) -> Ints:
    """Step of each job's clock [min]. Where steps of five would put two weighings at one time, it is 1."""
    step = chunk.staff.clock_step_min[chunk.plans.engineer].copy()
    w = chunk.flush.weighings
    magnet = w.trap == MAGNET
    row, five = w.row[magnet], np.round(w.wall_min[magnet] / 5).astype(np.int64)
    key, count = np.unique(row * 100_000 + five, return_counts=True)
    step[key[count > 1] // 100_000] = 1
    r = chunk.flush.readings
    key, count = np.unique(r.row * 100_000 + np.round(r.wall_min / 5).astype(np.int64), return_counts=True)
    step[key[count > 1] // 100_000] = 1
    return np.asarray(step)


def _down(minutes: Ints, step: Ints) -> Ints:
    return np.asarray(minutes // step * step)


def _up(minutes: Ints, step: Ints) -> Ints:
    return np.asarray(-(-minutes // step) * step)


def visit_clocks(chunk: Chunk) -> VisitClocks:
    """Arrival and start rounded down, end and leaving rounded up: whatever was noted in between lies within."""
    step, f, p = clock_step(chunk), chunk.flush, chunk.plans
    return VisitClocks(
        _down(p.arrive_min, step),
        _down(f.start_min, step),
        _up(f.end_min, step),
        _up(f.end_min + p.clear_minutes, step),
    )


def _nearest(minutes: Ints, step: Ints, has_step: Flags) -> Ints:
    return np.where(has_step, np.round(minutes / step).astype(np.int64) * step, minutes)


def catch_clock(chunk: Chunk) -> Ints:
    """Time of every weighing as written."""
    w, step = chunk.flush.weighings, clock_step(chunk)[chunk.flush.weighings.row]
    return _nearest(w.wall_min, step, step > 1)


def reading_clock(chunk: Chunk) -> Ints:
    """Time of every reading as written."""
    r, step = chunk.flush.readings, clock_step(chunk)[chunk.flush.readings.row]
    return _nearest(r.wall_min, step, step > 1)
