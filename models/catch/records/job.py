"""What a watch is told about one job: facts of the system and every weighing, nothing computed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np

from models.catch.records.flush_clock import DayOnSite, known_by
from models.catch.records.ragged_arrays import Floats
from models.catch.records.sensor_readings import NO_READINGS, Readings, Setup

MAGNET = "magnet"


@dataclass(frozen=True, slots=True)
class Catch:
    """One weighing: flush minutes since the start, the emitter that had the flow (None: whole system),
    minutes with the flow on that emitter so far, the dry mass in grams, and whether a magnet holds it (None: not tried,
    or from the magnet)."""

    minutes: float
    emitter_no: int | None
    focus_minutes: float | None
    trap: str
    dry_g: float
    sticks_to_magnet: bool | None = None

    @property
    def is_magnetic(self) -> bool:
        """Magnetite: from the magnet, or it sticks to one."""
        return self.trap == MAGNET or bool(self.sticks_to_magnet)


@dataclass(frozen=True, slots=True)
class EmitterFacts:
    """One emitter: number, kind, water content in litres (None: not known), cold at survey (None: not known), kind
    of its valve."""

    emitter_no: int
    kind: str = ""
    content_l: float | None = None
    is_cold: bool | None = None
    valve_kind: str = ""


@dataclass(frozen=True, slots=True)
class JobCatch:
    """One job for `watch`. `ended_at` is None while the flush goes on; `hourly_cost` is in `currency`.

    `survey` holds the answers of survey and plan as `models.survey_features.encode` gives them, empty where there
    are none; `isolation` how the flow is focused by plan, empty where not known; `quoted_minutes` of the flush.
    `readings` and `setup` are for the warnings; empty where there are none. `knows_minutes` is False where the log
    does not say when the flush stopped for a night or began again: `days` then hold only those it says.
    """

    firm_id: str
    job_id: str
    started_at: datetime
    ended_at: datetime | None
    days: tuple[DayOnSite, ...]
    catches: tuple[Catch, ...]
    emitters: tuple[EmitterFacts, ...] = ()
    hourly_cost: float | None = None
    currency: str = ""
    survey: tuple[float, ...] = ()
    isolation: str = ""
    quoted_minutes: float | None = None
    readings: Readings = NO_READINGS
    setup: Setup = field(default_factory=Setup)
    knows_minutes: bool = True

    @property
    def is_finished(self) -> bool:
        """The flush has ended."""
        return self.ended_at is not None

    @property
    def last_at(self) -> datetime:
        """End of the flush, else the last moment known."""
        return self.ended_at or max(day.last_at for day in self.days)

    def magnet_catches(self) -> tuple[Catch, ...]:
        """Weighings of the magnet, in order of time."""
        return tuple(catch for catch in self.catches if catch.trap == MAGNET)

    def known_at(self, at: datetime, minutes: float) -> JobCatch:
        """The job as it was known at clock time `at`, flush minute `minutes`: later weighings, later days and
        the end are cut off. The tolerance of a second keeps the weighing made at that very moment."""
        ended = self.ended_at if self.ended_at is not None and self.ended_at <= at else None
        catches = tuple(catch for catch in self.catches if catch.minutes <= minutes + 1.0 / 60.0)
        read = self.readings.until(minutes)
        return replace(self, days=known_by(self.days, at), ended_at=ended, catches=catches, readings=read)


def house_curve(job: JobCatch) -> tuple[Floats, Floats]:
    """Flush minutes and cumulative dry magnetite [kg] of the whole job, shape (weighings,) each."""
    magnet = job.magnet_catches()
    return _curve([catch.minutes for catch in magnet], magnet)


def emitter_curve(job: JobCatch, emitter_no: int) -> tuple[Floats, Floats]:
    """Minutes with the flow on one emitter and its cumulative dry magnetite [kg], shape (weighings,) each."""
    own = tuple(catch for catch in job.magnet_catches() if catch.emitter_no == emitter_no)
    return _curve([_focus(catch) for catch in own], own)


def emitter_curves(job: JobCatch) -> dict[int, tuple[Floats, Floats]]:
    """`emitter_curve` of every emitter that had the flow to itself, in order of number: one pass for all."""
    own: dict[int, list[Catch]] = {}
    for catch in job.magnet_catches():
        if catch.emitter_no is not None:
            own.setdefault(catch.emitter_no, []).append(catch)
    return {number: _curve([_focus(catch) for catch in own[number]], tuple(own[number])) for number in sorted(own)}


def _focus(catch: Catch) -> float:
    return catch.minutes if catch.focus_minutes is None else catch.focus_minutes


def _curve(minutes: list[float], catches: tuple[Catch, ...]) -> tuple[Floats, Floats]:
    """Weighings of one moment become one point."""
    times, which = np.unique(np.array(minutes, dtype=float), return_inverse=True)
    kg = np.bincount(which, weights=[catch.dry_g / 1000.0 for catch in catches], minlength=times.size)
    return times, np.cumsum(kg)
