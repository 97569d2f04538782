"""What the engineer does after a weighing: stay, move on, come back, go home, rinse, stop."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from synthetic_data.flush.flush import MOST_DAYS, MOST_MINUTES, STALE, by_job, catch, refresh, release, warm
from synthetic_data.flush.flush_state import DONE, FLUSHING, RINSING, Events, Flush, Readings, State, Weighings
from synthetic_data.flush.traps import empty_strainer, read, weigh
from synthetic_data.flush.world import LOOSENED_SHARES, World
from synthetic_data.house.house import Flags, Floats, Ints

EachMinute = Callable[[int, State], None]
DAY_MINUTES = 1440
LATEST_MIN = 18 * 60 + 30
WORTH_A_NIGHT_MIN = 75.0
NIGHT_SOFTENED = 0.04
LOOKED_INTO = 0.75
"""Flow against that through a clear strainer under which those who look into it do so there and then (assumption)."""


def _unvisited(s: State, world: World, rows: Ints) -> Flags:
    stations = np.arange(s.visits.shape[1])[None, :] < world.stations[s.row[rows], None]
    return np.asarray(stations & (s.visits[rows] == 0))


def due(s: State, world: World, minute: int) -> Ints:
    """Jobs whose magnet is cleaned this minute: the usual interval is over, or it feels full; nobody at lunch."""
    j = s.row
    full = by_job(s.magnet) > world.plans.full_share[j] * world.magnet_kg[j]
    since_lunch = (s.offset_min + minute) % DAY_MINUTES - world.plans.lunch_at_min[j]
    at_lunch = (since_lunch >= 0) & (since_lunch < world.plans.lunch_minutes[j])
    ready = full | (s.since_weigh_min >= world.plans.weigh_minutes[j])
    return np.flatnonzero((s.phase == FLUSHING) & ready & ~at_lunch)


def wants_to_leave(s: State, world: World, rows: Ints, rate_g_min: Floats, is_late: Flags) -> Flags:
    """True where the wet catch rate has fallen off, or too long was spent on one station."""
    j, crew = s.row[rows], world.parameters.crew
    limit = world.plans.leave_wet_g_min[j] * np.where(is_late, 2.0, 1.0)
    long_enough = s.focus_min[rows] >= world.plans.dwell_minutes[j]
    most = np.maximum(crew.most_dwell_minutes, 2.5 * world.plans.dwell_minutes[j])
    return np.asarray((long_enough & (rate_g_min < limit)) | (s.focus_min[rows] >= most))


def go_home(s: State, world: World, minute: int, rows: Ints, events: Events) -> None:
    """Stop for the night, and start again on the next working day; what floats settles, heat is lost."""
    if len(rows) == 0:
        return
    empty_strainer(s, world, minute, rows, events)
    j = s.row[rows]
    today = (s.offset_min[rows] + minute) // DAY_MINUTES
    is_friday = (world.weekday[j] + today) % 7 == 4
    again = world.plans.arrive_min[j] + 15 + (7 * (j % 4))
    s.offset_min[rows] = (today + np.where(is_friday, 3, 1)) * DAY_MINUTES + again - minute
    s.day[rows] += 1
    softened = s.consolidated[rows] * NIGHT_SOFTENED * world.parameters.flush.practice_effect
    s.consolidated[rows] -= softened
    for number, share in enumerate(LOOSENED_SHARES.tolist()):
        s.bed[rows, number] += share * softened
    settle_all(s, rows)
    s.temp_c[rows] = s.return_c[rows] = world.parameters.flush.room_c + 4.0
    s.emitter_c[rows] = world.parameters.flush.room_c + 4.0
    s.since_weigh_min[rows] = 0.0


def move_on(s: State, world: World, rows: Ints, may_return: Flags) -> Ints:
    """Point the flow at the next station; the rows that have none left are given back.

    First all stations in order, then once more those whose catch was nearest to going on.
    """
    unvisited = _unvisited(s, world, rows)
    has_new = unvisited.any(axis=1)
    again = world.parameters.crew.return_share * world.plans.leave_wet_g_min[s.row[rows], None]
    worth = np.where((s.visits[rows] == 1) & (s.last_rate[rows] > again), s.last_rate[rows], 0.0)
    comes_back = ~has_new & may_return & (worth.max(axis=1) > 0) & (world.stations[s.row[rows]] > 1)
    s.station[rows] = np.where(has_new, unvisited.argmax(axis=1), np.where(comes_back, worth.argmax(axis=1), 0))
    goes = has_new | comes_back
    s.focus_min[rows] = 0.0
    s.band[rows[goes]] = STALE
    return np.asarray(rows[~goes])


def begin_rinse(s: State, world: World, minute: int, rows: Ints, events: Events) -> None:
    """Dump to waste with mains water, everything open."""
    if len(rows):
        empty_strainer(s, world, minute, rows, events)
        s.phase[rows] = RINSING
        s.band[rows] = STALE


def finish(s: State, world: World, minute: int, events: Events) -> None:
    """End the rinse where it is over: last look at the traps, flow off, what floats settles again."""
    rinsing = s.phase == RINSING
    s.rinse_left[rinsing] -= 1
    rows = np.flatnonzero(rinsing & (s.rinse_left <= 0))
    if len(rows) == 0:
        return
    weigh(s, world, minute, rows[s.magnet[rows].sum(axis=1) > 0.008], events)
    empty_strainer(s, world, minute, rows, events)
    s.phase[rows] = DONE
    s.end_min[rows] = s.offset_min[rows] + minute
    for name in ("lift", "loosen", "shared_j_k", "clear_flow_l_min", "drop_turn"):
        getattr(s, name)[rows] = 0.0
    settle_all(s, rows)


def settle_all(s: State, rows: Ints) -> None:
    """The flow stops: what is carried settles where it was lifted."""
    s.bed[rows] += s.water[rows]
    s.water[rows] = 0.0


def decide(s: State, world: World, minute: int, events: Events) -> None:
    """Weigh where due, then stay, move on, go home or rinse."""
    finish(s, world, minute, events)
    s.focus_min += 1.0
    s.since_weigh_min += 1.0
    rows = due(s, world, minute)
    if len(rows) == 0:
        return
    since = s.since_weigh_min[rows].copy()
    rate = weigh(s, world, minute, rows, events) * 1000.0 / since
    s.last_rate[rows, s.station[rows]] = rate
    empty_strainer(s, world, minute, rows[s.flow_l_min[rows] < LOOKED_INTO * s.clear_flow_l_min[rows]], events)
    j = s.row[rows]
    clock = (s.offset_min[rows] + minute) % DAY_MINUTES
    is_late = clock >= world.plans.home_min[j]
    leaves = wants_to_leave(s, world, rows, rate, is_late)
    s.visits[rows[leaves], s.station[rows[leaves]]] += 1
    left_min = _unvisited(s, world, rows).sum(axis=1) * world.plans.dwell_minutes[j]
    left_min += np.where(~leaves, 6.0 * rate / world.plans.leave_wet_g_min[j], 0.0)
    sleeps = is_late & (left_min > WORTH_A_NIGHT_MIN) & (s.day[rows] < MOST_DAYS - 1)
    stops = ~sleeps & ((clock >= LATEST_MIN) | (is_late & leaves & (left_min <= 0)))
    go_home(s, world, minute, rows[sleeps], events)
    over = move_on(s, world, rows[leaves & ~stops], ~is_late[leaves & ~stops])
    begin_rinse(s, world, minute, np.concatenate([rows[stops], over]), events)


def run_flush(world: World, state: State, each_minute: EachMinute | None = None) -> Flush:
    """Flush every job of the chunk to its end. Rows of `state` are the chunk's jobs in order.

    `each_minute(minute, state)` is called with the jobs still being flushed, after each minute: for traces.
    """
    whole, s, events = state.take(slice(None)), state, Events([], [])  # type: ignore[arg-type]
    s.band[:] = STALE
    for minute in range(1, MOST_MINUTES):
        refresh(s, world, minute)
        warm(s, world, minute)
        release(s, world)
        catch(s, world)
        read(s, world, minute, events)
        decide(s, world, minute, events)
        if each_minute is not None:
            each_minute(minute, s)
        if minute % 15 == 0:
            is_done = s.phase == DONE
            s.take(is_done).put(whole)
            s = s.take(~is_done)
            if len(s.row) == 0:
                break
    if len(s.row):
        raise RuntimeError(f"{len(s.row)} jobs did not end within {MOST_MINUTES} minutes of flushing")
    weighings = Weighings(*(np.concatenate(column) for column in zip(*events.weighings, strict=True)))
    readings = Readings(*(np.concatenate(column) for column in zip(*events.readings, strict=True)))
    return Flush(whole, weighings, readings, world.plans.start_min, whole.end_min)
