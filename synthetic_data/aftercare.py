"""After the visit: debris left behind and other causes compete for return visits until follow-up ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.job_log import CAUSES
from pipeline.units import DAYS_PER_YEAR
from synthetic_data.crew import Plans
from synthetic_data.house import MICROBORE, Floats, Houses, Ints
from synthetic_data.parameters import Parameters

DEBRIS, BOILER_FAULT, LEAK, OTHER = range(4)
_DEBRIS_CAUSES = np.array([CAUSES.index(cause) for cause in ("blockage", "cold_emitter", "noise", "pump")])
_DEBRIS_SHARES = np.array([[0.22, 0.48, 0.18, 0.12], [0.5, 0.32, 0.1, 0.08]])
_OTHER_CAUSES = np.array([CAUSES.index(cause) for cause in ("boiler_fault", "leak", "other")])
DEBRIS_BEHIND_BOILER_FAULT = 0.12
"""Boiler faults that debris caused after all (assumption)."""


@dataclass(frozen=True, slots=True)
class Callbacks:
    """One entry a return visit: chunk row, days after the first day on site, cause, debris or not."""

    row: Ints
    days: Ints
    cause: Ints
    is_debris: NDArray[np.bool_]


def debris_driver_g_l(residual_kg: Floats, before_kg: Floats, volume_l: Floats, parameters: Parameters) -> Floats:
    """What drives the debris hazard [g/L]: the residue, or the house's own share where practices do nothing."""
    p = parameters.flush
    own = p.fixed_residual_share * before_kg
    return np.asarray((p.practice_effect * residual_kg + (1 - p.practice_effect) * own) * 1000.0 / volume_l)


def hazards_per_year(houses: Houses, plans: Plans, driver_g_l: Floats, parameters: Parameters) -> Floats:
    """Cause-specific hazards [1/year], shape (jobs, 4): debris, boiler fault, leak, other."""
    p, effect = parameters.aftercare, parameters.flush.practice_effect
    by_filter = np.array([1.0, p.filter_hazard_ratio, p.flow_filter_hazard_ratio, p.flow_filter_hazard_ratio])
    ratio = by_filter[plans.filter_fitted] * np.where(plans.inhibitor_dosed, p.inhibitor_hazard_ratio, 1.0)
    debris = p.debris_per_year * (driver_g_l / p.reference_residue_g_l) ** p.residue_exponent * ratio**effect
    leak = p.leak_per_year + p.leak_per_year_of_age * houses.age_years
    jobs = len(debris)
    return np.column_stack([
        np.minimum(debris, 2.5), np.full(jobs, p.boiler_fault_per_year), leak, np.full(jobs, p.other_per_year),
    ])  # fmt: skip


def call_back(
    rng: np.random.Generator, houses: Houses, hazards: Floats, last_day: Ints, followed_days: Ints
) -> Callbacks:
    """Draw the return visits of every job from the day after `last_day` to the end of follow-up, one a day at most.

    After the first debris callback someone cleans again: later debris callbacks are half as likely.
    """
    open_days = followed_days - last_day
    counts = rng.poisson(hazards * open_days[:, None] / DAYS_PER_YEAR)
    counts[:, DEBRIS] = np.where(counts[:, DEBRIS] > 1, 1 + rng.binomial(np.maximum(counts[:, DEBRIS] - 1, 0), 0.5),
                                 counts[:, DEBRIS])  # fmt: skip
    row, group = (np.repeat(index.ravel(), counts.ravel()) for index in np.indices(counts.shape))
    days = last_day[row] + 1 + np.floor(rng.random(len(row)) * open_days[row]).astype(np.int64)
    u = rng.random((2, len(row)))
    edges = np.cumsum(_DEBRIS_SHARES, axis=1)[(houses.layout[row] == MICROBORE).astype(np.int64)]
    debris_cause = _DEBRIS_CAUSES[(u[0][:, None] > edges[:, :-1]).sum(axis=1)]
    cause = np.where(group == DEBRIS, debris_cause, _OTHER_CAUSES[np.maximum(group - 1, 0)])
    is_debris = (group == DEBRIS) | ((group == BOILER_FAULT) & (u[1] < DEBRIS_BEHIND_BOILER_FAULT))
    _, keep = np.unique(row * 100_000 + days, return_index=True)
    return Callbacks(row[keep], days[keep], cause[keep], is_debris[keep])

