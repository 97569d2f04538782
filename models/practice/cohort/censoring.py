"""Jobs not followed for the whole year: an outcome for each that stands for the one not seen.

A job's pseudo-outcome is n·F − (n − 1)·F without it, F the Kaplan-Meier risk at the horizon of jobs alike in practice,
kind of property and time of the visit (Andersen, Klein & Rosthoj 2003, Biometrika 90:15; here in closed form, the
infinitesimal jackknife). Followed to the end it is 0 or 1; else events are weighted up by one over the chance of being
followed so long, and jobs that left early carry what is known of them. The weights are by practice, so that a habit
taken up lately, with short follow-up, does not look safe; by flat or not, since tenants move; and by the date of the
visit, in halves of halves as far as jobs suffice, since who was visited lately was not watched for long and callbacks
may have changed over the years.
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
DATE_SPLITS = 2
"""Times that a stratum is halved by the date of the visit."""


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


def strata(
    practice: Flags, leaves_early: Flags, days: Floats, is_event: Flags, horizon: float, visit: Floats | None = None
) -> Ints:
    """Codes (n,) of strata: by practice, then by who is lost more often and by `visit` (n,), the day of the visit
    where it is told, each where both parts are large enough."""
    codes = _parted(practice.astype(np.int64), leaves_early, days, is_event, horizon)
    for _ in range(DATE_SPLITS if visit is not None else 0):
        assert visit is not None
        middle = {code: float(np.median(visit[codes == code])) for code in np.unique(codes).tolist()}
        is_late = visit > np.array([middle[code] for code in codes.tolist()])
        codes = _parted(codes, is_late, days, is_event, horizon)
    return codes


def _parted(codes: Ints, flag: Flags, days: Floats, is_event: Flags, horizon: float) -> Ints:
    """Each stratum in two by the flag, where both parts stand for themselves."""
    out = codes.copy()
    for code in np.unique(codes):
        upper, lower = (codes == code) & flag, (codes == code) & ~flag
        if all(_is_enough(part, days, is_event, horizon) for part in (upper, lower)):
            out[upper] = out.max() + 1
    return out


def _is_enough(part: Flags, days: Floats, is_event: Flags, horizon: float) -> bool:
    """Whether so many jobs (n,) stand for themselves."""
    followed = followed_to(days[part], is_event[part], horizon)
    return bool(part.sum() >= FEWEST_IN_STRATUM and followed >= FEWEST_AT_HORIZON)


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
