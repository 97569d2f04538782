"""The simulated world for its pictures: the only module here, commands aside, that runs the simulator.

A stored picture would show yesterday's mechanism; these are made by the mechanism itself, on demand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import streamlit as st

if TYPE_CHECKING:
    from synthetic_data.illustrations.trace import JobTrace

SEED = 1
"""Worlds shown are those of this seed."""
FIRM_JOBS = 300
"""Jobs of a firm that are simulated for its distributions, at most."""
ENTRIES = 8
"""Jobs and firms kept in memory."""
DAY_MINUTES = 1440


@dataclass(frozen=True, slots=True)
class World:
    """A world to choose: name, what it is for, and how many jobs it has."""

    name: str
    meaning: str
    jobs: int


@dataclass(frozen=True, slots=True)
class SimulatedJob:
    """One job. Masses kg dry.

    `minutes`: one row a flush minute with `minute`, `clock`, `water_c`, `return_c`, `flow_l_min`, `pressure_bar`,
    `magnet_kg`, `out_kg` (magnetite out of the water), `weighed_kg` of it, `is_weighing`, `focus`.
    `emitters`: one row each with `emitter_no`, `kind`, `loose_before_kg`, `baked_before_kg`, `out_kg`, `rinsed_kg`,
    `moved_in_kg`, `loose_left_kg`, `baked_left_kg`, `other_before_kg`, `other_left_kg`.
    `pools`: one row a minute and emitter with `minute`, `emitter_no`, `baked_kg`, `loose_kg`, `has_flow` (alone).
    `events`: `minute`, `clock`, `event`. `house` and `plan` are sentences.
    """

    job: int
    house: tuple[str, ...]
    plan: tuple[str, ...]
    minutes: pd.DataFrame
    emitters: pd.DataFrame
    pools: pd.DataFrame
    events: pd.DataFrame
    before_kg: float
    out_kg: float
    rinsed_kg: float
    left_kg: float
    flush_minutes: int


@dataclass(frozen=True, slots=True)
class SimulatedFirm:
    """Jobs of a world as a whole; columns of the frames as in `synthetic_data.illustrations.distributions`."""

    jobs: pd.DataFrame
    practices: pd.DataFrame
    callbacks: pd.DataFrame


def worlds() -> dict[str, World]:
    """The worlds there are, by name."""
    from synthetic_data.scenarios import SCENARIOS

    return {name: World(name, s.meaning, s.default_jobs) for name, s in SCENARIOS.items()}


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def job(scenario: str, number: int) -> SimulatedJob:
    """Flush one job of a world again and write down every minute. BadInput where there is no such job."""
    from synthetic_data.illustrations.trace import trace_job
    from synthetic_data.illustrations.trace_words import house_words, plan_words

    trace = trace_job(scenario, SEED, number)
    magnetite = trace.magnetite
    last = {name: float(getattr(magnetite, name)[-1].sum()) for name in ("out_kg", "rinsed_kg", "left_kg")}
    before = float(trace.loose_before_kg.sum() + trace.consolidated_before_kg.sum())
    return SimulatedJob(
        number,
        house_words(trace),
        plan_words(trace),
        _minutes(trace),
        _emitters(trace),
        _pools(trace),
        _events(trace),
        before,
        **last,
        flush_minutes=int(trace.minutes[-1]),
    )


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def firm(scenario: str) -> SimulatedFirm:
    """Simulate the jobs of a world, `FIRM_JOBS` at most, to the last callback."""
    from synthetic_data.illustrations.distributions import firm_distributions

    found = firm_distributions(scenario, SEED, min(FIRM_JOBS, worlds()[scenario].jobs))
    return SimulatedFirm(
        *(pd.DataFrame(frame.to_dict(as_series=False)) for frame in (found.jobs, found.practices, found.callbacks))
    )


def clock_words(clock_min: int) -> str:
    """Wall clock from minutes since midnight of the first day: `09:05`, `day 2, 08:40`.

    Days are counted on the calendar, so that a weekend between counts too.
    """
    day, rest = divmod(clock_min, DAY_MINUTES)
    return (f"day {day + 1}, " if day else "") + f"{rest // 60:02d}:{rest % 60:02d}"


def _minutes(trace: JobTrace) -> pd.DataFrame:
    from synthetic_data.illustrations.trace_words import events

    weighed = {event.minute for event in events(trace) if event.kind == "weighing"}
    pools = trace.magnetite
    return pd.DataFrame(
        {
            "minute": trace.minutes,
            "clock": [clock_words(int(minute)) for minute in trace.clock_min],
            "water_c": trace.water_c,
            "return_c": trace.return_c,
            "flow_l_min": trace.flow_l_min,
            "pressure_bar": trace.pressure_bar,
            "magnet_kg": trace.magnet_load_kg,
            "out_kg": pools.out_kg.sum(axis=1),
            "weighed_kg": (pools.caught_kg + pools.strained_kg).sum(axis=1),
            "is_weighing": [int(minute) in weighed for minute in trace.minutes],
            "focus": trace.focus_emitter_no,
        }
    )


def _emitters(trace: JobTrace) -> pd.DataFrame:
    pools, other = trace.magnetite, trace.other
    return pd.DataFrame(
        {
            "emitter_no": trace.emitter_no,
            "kind": trace.emitter_kind,
            "loose_before_kg": trace.loose_before_kg,
            "baked_before_kg": trace.consolidated_before_kg,
            "out_kg": pools.out_kg[-1],
            "rinsed_kg": pools.rinsed_kg[-1],
            "moved_in_kg": pools.moved_in_kg[-1],
            "loose_left_kg": (pools.loose_kg + pools.carried_kg)[-1],
            "baked_left_kg": pools.consolidated_kg[-1],
            "other_before_kg": trace.other_before_kg,
            "other_left_kg": other.left_kg[-1],
        }
    )


def _pools(trace: JobTrace) -> pd.DataFrame:
    minutes, count = len(trace.minutes), len(trace.emitter_kind)
    focus, numbers = trace.focus_emitter_no.repeat(count), np.tile(trace.emitter_no, minutes)
    return pd.DataFrame(
        {
            "minute": trace.minutes.repeat(count),
            "emitter_no": numbers,
            "baked_kg": trace.magnetite.consolidated_kg.ravel(),
            "loose_kg": (trace.magnetite.loose_kg + trace.magnetite.carried_kg).ravel(),
            "has_flow": focus == numbers,
        }
    )


def _events(trace: JobTrace) -> pd.DataFrame:
    from synthetic_data.illustrations.trace_words import events

    return pd.DataFrame(
        [{"minute": e.minute, "clock": clock_words(e.clock_min), "event": e.words} for e in events(trace)]
    )
