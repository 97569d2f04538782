"""The chance of a second day: from the time on site, corrected by how past jobs really ended.

Time on site alone misleads near the end of a day: crews finish a little late, or go home and come back, and
few jobs end in between. So the raw chance (time on site beyond the length of a day) is corrected on the
calibration jobs by a logistic curve of its log-odds: Platt (1999), from memory; a weak prior holds the
curve near "no correction" while second days are few.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from models.quote.base.targets import TargetModel

if TYPE_CHECKING:
    from models.quote.base.past_jobs import History
    from models.quote.estimator.fit_target import Learned

Floats = NDArray[np.float64]

LEAST_SECOND_DAYS = 10
"""Second days, and one-day jobs, on record from which the records decide instead of the settings."""

_PRIOR_SD = 1.0
_NEWTON_STEPS = 50


@dataclass(frozen=True, slots=True)
class SecondDay:
    """`day_minutes` is the time on site which as many past jobs exceeded as took a second day (None: unclear).

    The chance is the logistic of `shift + slope · log-odds` of the raw chance.
    """

    day_minutes: float | None = None
    shift: float = 0.0
    slope: float = 1.0

    def chance(self, site: TargetModel, x: Floats, *, extra: float, firm_day_minutes: float) -> Floats:
        """Chance (n,) of a second day of the requests (n, p); `extra` minutes come on top of the model's."""
        limit = firm_day_minutes if self.day_minutes is None else self.day_minutes
        odds = _log_odds(site.chance_above(x, limit - extra))
        return np.asarray(1 / (1 + np.exp(-(self.shift + self.slope * odds))))


def learn_second_day(past: History, site: Learned) -> SecondDay:
    """Length of a day and correction from past jobs; nothing learnt while too few tell."""
    day = _day_minutes(past)
    if day is None:
        return SecondDay()
    used = np.flatnonzero(np.isfinite(site.scores) & np.isfinite(past.second_day))
    happened = past.second_day[used]
    if min(happened.sum(), len(used) - happened.sum()) < LEAST_SECOND_DAYS:
        return SecondDay(day)
    raw = site.model.chance_above(past.x[used], day)
    return SecondDay(day, *_logistic(_log_odds(raw), happened))


def _day_minutes(past: History) -> float | None:
    minutes, second = past.targets["site_minutes"], past.second_day
    known = np.isfinite(minutes) & np.isfinite(second)
    ordered, second_days = np.sort(minutes[known]), int((second[known] == 1).sum())
    one_day = len(ordered) - second_days
    if min(second_days, one_day) < LEAST_SECOND_DAYS:
        return None
    return float((ordered[one_day - 1] + ordered[one_day]) / 2)


def _log_odds(chance: Floats) -> Floats:
    inside = np.clip(chance, 1e-3, 1 - 1e-3)
    return np.asarray(np.log(inside / (1 - inside)))


def _logistic(odds: Floats, happened: Floats) -> tuple[float, float]:
    """Shift and slope by Newton's method on the penalised likelihood, a priori 0 and 1."""
    design = np.column_stack([np.ones(len(odds)), odds])
    usual = np.array([0.0, 1.0])
    found = usual.copy()
    for _ in range(_NEWTON_STEPS):
        chance = 1 / (1 + np.exp(-(design @ found)))
        slope = design.T @ (happened - chance) - (found - usual) / _PRIOR_SD**2
        weight = chance * (1 - chance)
        step = np.linalg.solve((design * weight[:, None]).T @ design + np.eye(2) / _PRIOR_SD**2, slope)
        found = found + step
        if np.abs(step).max() < 1e-10:
            break
    return float(found[0]), float(found[1])
