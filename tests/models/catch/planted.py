"""Past jobs of a planted firm: pools by size and house, one pace of release, crews with a rule for stopping."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from models.catch.records.flush_clock import DayOnSite
from models.catch.records.job import MAGNET, Catch, EmitterFacts, JobCatch

HOUSE_SD, OWN_SD, TAU_MIN, PACE_MIN, LEAVE_KG_MIN = 0.5, 0.4, 15.0, 8.0, 0.004
NOISE = 0.1
LITRES_POWER = 1.0


def firm(jobs: int, seed: int = 0, *, house_sd: float = HOUSE_SD) -> list[JobCatch]:
    """Jobs done one emitter at a time, one every other day, each finished."""
    rng = np.random.default_rng(seed)
    first = datetime(2030, 1, 7, 9, 0)
    return [_job(rng, f"P{k:04d}", first + timedelta(days=2 * k), house_sd) for k in range(jobs)]


def _job(rng: np.random.Generator, name: str, start: datetime, house_sd: float) -> JobCatch:
    """Pool [kg] = 0.04 · litres · e^(house + own); each emitter is left when it gives under 4 g a minute."""
    count = int(rng.integers(6, 13))
    litres = np.exp(rng.normal(np.log(6.0), 0.4, count))
    pools = 0.04 * litres**LITRES_POWER * np.exp(house_sd * rng.normal() + OWN_SD * rng.normal(size=count))
    minute, catches = 0.0, []
    for number, pool in enumerate(pools, start=1):
        spent = 0.0
        while True:
            spent, minute = spent + PACE_MIN, minute + PACE_MIN
            due = pool * (np.exp(-(spent - PACE_MIN) / TAU_MIN) - np.exp(-spent / TAU_MIN))
            kg = due * np.exp(NOISE * rng.normal())
            catches.append(Catch(minute, number, spent, MAGNET, 1000.0 * float(kg)))
            if kg / PACE_MIN < LEAVE_KG_MIN:
                break
    ended = start + timedelta(minutes=minute + 10.0)
    facts = tuple(EmitterFacts(n, "panel_11", float(size), False) for n, size in enumerate(litres, start=1))
    return JobCatch(
        "own", name, start, ended, (DayOnSite(start, ended, 0.0),), tuple(catches), facts, isolation="one_at_a_time"
    )
