"""Return visits: debris and other causes compete day by day until follow-up ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.contract.job_log import CAUSES
from pipeline.contract.units import DAYS_PER_YEAR
from synthetic_data.aftercare.aftercare import MONTH_YEARS, Course, hazard_until
from synthetic_data.house.house import MICROBORE, Flags, Floats, Houses, Ints
from synthetic_data.parameters import AftercareParameters

MOST_DEBRIS, MOST_OTHER = 4, 4
SHORTEST_FOLLOW_UP_DAYS = 30
_FLAT = 2
_EMITTER_CAUSES = np.array([CAUSES.index(cause) for cause in ("cold_emitter", "blockage")])
_EMITTER_SHARES = np.array([0.78, 0.4])
"""Of debris at emitters, what shows as a cold emitter; the rest is a blockage. Two-pipe, microbore (assumption)."""
_SOURCE_CAUSES = np.array([CAUSES.index(cause) for cause in ("noise", "pump", "blockage", "boiler_fault")])
_SOURCE_SHARES = np.array([0.4, 0.27, 0.2, 0.13])
_OTHER_CAUSES = np.array([CAUSES.index(cause) for cause in ("boiler_fault", "leak", "other")])


@dataclass(frozen=True, slots=True)
class Callbacks:
    """One entry a return visit: chunk row, days after the first day on site, cause, debris or not."""

    row: Ints
    days: Ints
    cause: Ints
    is_debris: Flags


def follow_up_days(rng: np.random.Generator, houses: Houses, until_load: Ints, p: AftercareParameters) -> Ints:
    """Days of follow-up: to the last day of all, or earlier where the customer leaves."""
    per_year = p.lost_per_year * np.where(houses.property_kind == _FLAT, 2.0, 1.0)
    years = rng.standard_exponential(len(until_load)) / np.maximum(per_year, 1e-12)
    days = np.minimum(years * DAYS_PER_YEAR, 1e6).astype(np.int64)
    return np.minimum(np.maximum(days, SHORTEST_FOLLOW_UP_DAYS), until_load)


def early_leak_days(rng: np.random.Generator, houses: Houses, p: AftercareParameters) -> Floats:
    """Days until a pinhole or gland that the clean laid bare is found, shape (jobs,); infinite where there is none."""
    chance = p.early_leak_share + p.early_leak_per_year_of_age * houses.age_years
    is_bare = rng.random(len(chance)) < np.minimum(chance, 1.0)
    return np.where(is_bare, p.early_leak_days * rng.standard_exponential(len(chance)), np.inf)


def other_hazards(houses: Houses, leak_ratio: Floats, p: AftercareParameters) -> Floats:
    """Hazards of the causes that are not debris [1/year], shape (jobs, 3): boiler fault, leak, anything else."""
    leak = (p.leak_per_year + p.leak_per_year_of_age * houses.age_years) * leak_ratio
    same = np.ones(len(leak))
    return np.column_stack([p.boiler_fault_per_year * same, leak, p.other_per_year * same])


def call_back(
    rng: np.random.Generator,
    houses: Houses,
    course: Course,
    others_per_year: Floats,
    last_day: Ints,
    followed_days: Ints,
    p: AftercareParameters,
    early_days: Floats,
) -> Callbacks:
    """Draw the return visits of every job, from the day after `last_day` on site, one a day at most. `early_days`: when
    what the clean laid bare leaks, infinite for never (jobs,).

    The draws do not depend on the hazards, so that two courses of one world can be held against each other.
    """
    jobs = len(last_day)
    steps = rng.standard_exponential((jobs, MOST_DEBRIS))
    others = rng.standard_exponential((jobs, 3, MOST_OTHER)).cumsum(axis=2)
    u = rng.random((2, jobs, MOST_DEBRIS))
    slower = np.r_[1.0, np.full(MOST_DEBRIS - 1, 1.0 / max(p.after_debris, 1e-9))]
    debris = day_of(course.debris_hazard, (steps * slower).cumsum(axis=1))
    row, number = np.nonzero(debris < np.inf)
    days = [debris[row, number]]
    cause = [_debris_cause(course, houses, row, days[0], u[:, row, number])]
    rows, is_debris = [row], [np.ones(len(row), dtype=bool)]
    other_day = others / np.maximum(others_per_year, 1e-12)[:, :, None] * DAYS_PER_YEAR
    row, group, number = np.nonzero(other_day < followed_days[:, None, None])
    leaks = np.flatnonzero(early_days < followed_days)
    rows += [row, leaks]
    days += [other_day[row, group, number], early_days[leaks]]
    cause += [_OTHER_CAUSES[group], np.full(len(leaks), CAUSES.index("leak"))]
    is_debris += [np.zeros(len(some), dtype=bool) for some in (row, leaks)]
    return _kept(
        np.concatenate(rows),
        np.concatenate(days),
        np.concatenate(cause),
        np.concatenate(is_debris),
        last_day,
        followed_days,
    )


def day_of(cumulative: Floats, reached: Floats) -> Floats:
    """Days until the cumulative hazard has reached those sums, shape of `reached`; infinite where it never does."""
    months = cumulative.shape[1] - 1
    step = (cumulative[:, None, :] <= reached[:, :, None]).sum(axis=2) - 1
    before = np.minimum(step, months - 1)
    low, high = (np.take_along_axis(cumulative, before + ahead, axis=1) for ahead in (0, 1))
    part = (reached - low) / np.maximum(high - low, 1e-300)
    return np.asarray(np.where(step < months, (before + part) * MONTH_YEARS * DAYS_PER_YEAR, np.inf))


def _debris_cause(course: Course, houses: Houses, row: Ints, days: Floats, u: Floats) -> Ints:
    """What the fitter found: at an emitter or at the heat source, by the hazards of that month."""
    month = np.minimum((days / DAYS_PER_YEAR / MONTH_YEARS).astype(np.int64), course.emitter_hazard.shape[1] - 2)
    here, there = (h[row, month + 1] - h[row, month] for h in (course.emitter_hazard, course.source_hazard))
    at_emitter = u[0] * (here + there) < here
    cold = _EMITTER_SHARES[(houses.layout[row] == MICROBORE).astype(np.int64)]
    emitter = _EMITTER_CAUSES[(u[1] >= cold).astype(np.int64)]
    source = _SOURCE_CAUSES[(u[1][:, None] >= np.cumsum(_SOURCE_SHARES)[:-1]).sum(axis=1)]
    return np.asarray(np.where(at_emitter, emitter, source))


def _kept(row: Ints, days: Floats, cause: Ints, is_debris: Flags, last_day: Ints, followed_days: Ints) -> Callbacks:
    """Whole days counted from the first day on site, within follow-up, the first entry of each day."""
    day = last_day[row] + 1 + np.floor(days).astype(np.int64) if len(row) else row
    inside = day <= followed_days[row]
    row, day, cause, is_debris = row[inside], day[inside], cause[inside], is_debris[inside]
    _, keep = np.unique(row * 100_000 + day, return_index=True)
    return Callbacks(row[keep], day[keep], cause[keep], is_debris[keep])


def debris_first_risk(course: Course, others_per_year: Floats, days: Floats | Ints) -> Floats:
    """Chance that debris is the first callback of all, and comes until a day: its cumulative incidence."""
    debris = course.debris_hazard
    until = hazard_until(debris, days)
    capped = np.minimum(debris, until[:, None])
    here = np.diff(capped, axis=1)
    month = np.arange(debris.shape[1] - 1)
    length = np.clip(np.asarray(days)[:, None] / DAYS_PER_YEAR / MONTH_YEARS - month, 0.0, 1.0) * MONTH_YEARS
    other = others_per_year.sum(axis=1)[:, None] * length
    total = here + other
    alive = np.exp(-np.concatenate([np.zeros((len(total), 1)), total.cumsum(axis=1)[:, :-1]], axis=1))
    return np.asarray((alive * -np.expm1(-total) * here / np.maximum(total, 1e-300)).sum(axis=1))
