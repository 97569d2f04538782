"""The chance of a second day: the forecast of time on site, and how past jobs of such a length really ended.

Crews finish a little late, or go home and come back: no length of a day divides the jobs of a firm sharply, and the
day in its settings may not be the one it works. So the chance of a second day after t minutes on site is a logistic
curve of ln t, learnt from every past job whose minutes and days are known. A priori it stands at the firm's setting
(rising from 1 in 10 to 9 in 10 within ± 11 % of it), with little weight: a dozen long jobs that ended on the day move
it. Penalised likelihood of two parameters with normal priors, which is concave (Firth 1993 and Gelman et al. 2008 use
other priors to the same end; from memory). A request's chance is the curve's mean over its forecast minutes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.quote.base.targets import TargetModel

Floats = NDArray[np.float64]

_CLASS = 0.02
"""Width of a class of past jobs in ln minutes: jobs within 2 % of each other are as one length."""

_SLOPE = 20.0
"""A priori rise of the log-odds with ln minutes."""

_PRIOR_SD = np.array([2.5, 10.0])
"""A priori spread of the log-odds at the setting (an eighth of the day, at that slope) and of the slope; assumption."""

_LEAST_SLOPE = 1.0
_NEWTON_STEPS = 100
_LEVELS = (np.arange(200) + 0.5) / 200

_EVIDENCE = 10
"""Second days, or one-day jobs longer than the setting, on record from which a day other than the setting is told."""


@dataclass(frozen=True, slots=True)
class Day:
    """Log-odds of a second day after t minutes on site: `level + slope · ln(t / firm_minutes)`."""

    firm_minutes: float
    level: float
    slope: float

    @property
    def minutes(self) -> float:
        """Time on site after which half of the jobs take a second day."""
        return float(self.firm_minutes * np.exp(np.clip(-self.level / self.slope, -2.0, 2.0)))

    def chance(self, minutes: Floats) -> Floats:
        """Chance of a second day of jobs with so many minutes on site, any shape."""
        odds = self.level + self.slope * np.log(np.maximum(minutes, 1.0) / self.firm_minutes)
        return np.asarray(1 / (1 + np.exp(-np.clip(odds, -40, 40))))


@dataclass(frozen=True, slots=True, eq=False)
class SecondDay:
    """Past jobs by length: `ended` (b, 3) holds ln minutes on site, jobs of about that length, second days among them.

    Of a firm in a pool, `pooled` (b, 3) are those of all firms: its own are learnt from that.
    """

    ended: Floats
    pooled: Floats | None = None

    @property
    def second_days(self) -> int:
        """Second days on record."""
        return int(self.ended[:, 2].sum())

    def day(self, firm_minutes: float) -> Day:
        """The curve, by the records and the working day of the firm's settings [min]."""
        usual = np.array([0.0, _SLOPE])
        if self.pooled is not None:
            usual = _learnt(self.pooled, firm_minutes, usual)
        level, slope = _learnt(self.ended, firm_minutes, usual).tolist()
        return Day(firm_minutes, level, max(slope, _LEAST_SLOPE))

    def longer_on_the_day(self, minutes: float) -> int:
        """Past jobs with more minutes on site that ended on the day."""
        longer = self.ended[:, 0] > np.log(minutes)
        return int((self.ended[longer, 1] - self.ended[longer, 2]).sum())

    def is_told(self, firm_minutes: float) -> bool:
        """Whether the records are enough to say that the day differs from the setting."""
        return max(self.second_days, self.longer_on_the_day(firm_minutes)) >= _EVIDENCE

    def chance(self, site: TargetModel, x: Floats, *, extra: float, firm_day_minutes: float) -> Floats:
        """Chance (n,) of a second day of the requests (n, p); `extra` minutes come on top of the model's."""
        return np.asarray(self.day(firm_day_minutes).chance(site.quantiles(x, _LEVELS) + extra).mean(axis=1))


def learn_second_day(minutes: Floats, second_day: Floats, *, pooled: Floats | None = None) -> SecondDay:
    """From past jobs (n,): minutes on site, second day 1 or 0; NaN where not known."""
    known = np.isfinite(minutes) & np.isfinite(second_day) & (minutes > 0)
    length = np.round(np.log(minutes[known]) / _CLASS) * _CLASS
    classes, at = np.unique(length, return_inverse=True)
    jobs, second = np.bincount(at, minlength=len(classes)), np.bincount(at, second_day[known], minlength=len(classes))
    return SecondDay(np.column_stack([classes, jobs, second]).astype(float).reshape(-1, 3), pooled)


def _learnt(ended: Floats, firm_minutes: float, usual: Floats) -> Floats:
    """Level and slope (2,) that past jobs (b, 3) make likeliest, a priori `usual`: Newton's method, steps halved."""
    design = np.column_stack([np.ones(len(ended)), ended[:, 0] - np.log(firm_minutes)])
    jobs, second = ended[:, 1], ended[:, 2]

    def loss(found: Floats) -> float:
        odds = design @ found
        return float(jobs @ np.logaddexp(0.0, odds) - second @ odds + (((found - usual) / _PRIOR_SD) ** 2).sum() / 2)

    found, best = usual, loss(usual)
    for _ in range(_NEWTON_STEPS):
        chance = 1 / (1 + np.exp(-np.clip(design @ found, -40, 40)))
        slope = design.T @ (second - jobs * chance) - (found - usual) / _PRIOR_SD**2
        weight = jobs * chance * (1 - chance)
        step = np.linalg.solve((design * weight[:, None]).T @ design + np.diag(_PRIOR_SD**-2.0), slope)
        while loss(found + step) > best and np.abs(step).max() > 1e-9:
            step = step / 2
        found = found + step
        best = loss(found)
        if np.abs(step).max() < 1e-9:
            break
    return np.asarray(found)
