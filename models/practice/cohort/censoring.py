"""Jobs not followed for the whole year: an outcome for each that stands for the one not seen.

A job's pseudo-outcome is n·F − (n − 1)·F without it, F the Kaplan-Meier risk at the horizon of jobs alike in practice
and kind of property (Andersen, Klein & Rosthoj 2003, Biometrika 90:15; here in closed form, the infinitesimal
jackknife). Followed to the end it is 0 or 1; else events are weighted up by one over the chance of being followed so
long, and jobs that left early carry what is known of them. The weights are by practice, so that a habit taken up
lately, with short follow-up, does not look safe; and by flat or not, since tenants move.
Other causes do not end follow-up: a job called back for a leak can still come back for sludge.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

FEWEST_IN_STRATUM = 100
FEWEST_AT_HORIZON = 10
"""Jobs that must still be followed at the horizon in a stratum, or it is joined to the next."""


def pseudo_outcomes(days: Floats, is_event: Flags, horizon: float) -> Floats:
    """One stratum: outcomes (n,) whose mean is the Kaplan-Meier risk at `horizon`; 0 or 1 without censoring.

    `days` to the event or to the end of follow-up. The last day anyone is followed should reach the horizon.
    """
    n = len(days)
    event = is_event & (days <= horizon)
    order, place = np.unique(days, return_inverse=True)
    at_risk = np.cumsum(np.bincount(place, minlength=len(order))[::-1])[::-1].astype(float)
    events = np.bincount(place, event, len(order))
    left = at_risk - events
    survival = float(np.prod(np.where(events > 0, left / at_risk, 1.0)))
    if survival == 0.0:  # nobody is left without the event: nothing to weigh up
        return np.ones(n)
    jump = np.where(events > 0, n / np.maximum(left, 1.0), 0.0)
    drift = np.cumsum(jump * events / at_risk)
    influence = survival * (np.where(event, jump[place], 0.0) - drift[place])
    return np.asarray(1.0 - survival + influence)


def strata(practice: Flags, leaves_early: Flags, days: Floats, is_event: Flags, horizon: float) -> Ints:
    """Codes (n,) of strata: by practice, and by who is lost more often where both parts are large enough."""
    codes = practice.astype(np.int64) * 2
    for way in (False, True):
        inside = practice == way
        parts = [inside & (leaves_early == flag) for flag in (False, True)]
        whole = [
            p.sum() >= FEWEST_IN_STRATUM and followed_to(days[p], is_event[p], horizon) >= FEWEST_AT_HORIZON
            for p in parts
        ]
        if all(whole):
            codes[parts[1]] += 1
    return codes


def followed_to(days: Floats, is_event: Flags, horizon: float) -> int:
    """Jobs seen without the event up to the horizon."""
    return int(((days >= horizon) & ~(is_event & (days <= horizon))).sum())


def outcomes_by_stratum(codes: Ints, days: Floats, is_event: Flags, horizon: float) -> Floats:
    """Pseudo-outcomes (n,) of all strata."""
    out = np.empty(len(days))
    for code in np.unique(codes):
        inside = codes == code
        out[inside] = pseudo_outcomes(days[inside], is_event[inside], horizon)
    return out
