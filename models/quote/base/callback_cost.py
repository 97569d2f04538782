"""What return visits cost a job on average: the chance of a debris callback within 365 days, times the cost of one.

The chance is the plain rate of followed jobs, censoring allowed for (Kaplan & Meier 1958, log-log interval): of the
firm's own where they are enough, else of all in the book. Not of this very house; only what is known of its way of
flushing moves it (`plan_risk`). Costs hold the average; the chance of loss takes a job as called back or not
(`pricing.price`). Refused, and nought counted, where too few jobs or callbacks tell it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pipeline.contract.firm import Firm
from pipeline.contract.units import MINUTES_PER_HOUR

if TYPE_CHECKING:
    import pandas as pd

HORIZON_DAYS = 365
FEWEST_JOBS, FEWEST_CALLBACKS, FEWEST_TO_THE_END = 100, 5, 30
"""Jobs followed up, debris callbacks among them, and jobs still followed on the last day, from which a rate is told."""


@dataclass(frozen=True, slots=True)
class CallbackRate:
    """Chance of a debris callback within 365 days with its 95 % interval; None where `refused` says why.

    Of the jobs of `firm_id`, or of all in the book (None).
    """

    jobs: int
    callbacks: int
    risk: float | None
    low: float | None
    high: float | None
    refused: str = ""
    firm_id: str | None = None


@dataclass(frozen=True, slots=True)
class PlanChange:
    """How far the way of flushing, or a filter, moves the chance of a callback: shares of jobs, below 0 fewer.

    `kilograms` more than by another way count by the risk per kilogram; `steps` are the contrasts of the practice
    audit with a verdict, each with how much more of it there is, which count by their own effect instead. `low`..`high`
    is the 95 % interval, ends added up.
    """

    change: float
    low: float
    high: float
    kilograms: float = 0.0
    steps: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class CallbackCost:
    """What a quote counts for return visits: `each` costs so much before overhead; `why_nought` where none counts.

    `change` is what the plan moves the rate by, None where nothing is known to; `why_plain` then says why not.
    `why_not_own` says why a firm of several is given the rate of all.
    """

    rate: CallbackRate | None
    each: float
    why_nought: str = ""
    change: PlanChange | None = None
    why_plain: str = ""
    why_not_own: str = ""

    @property
    def chance(self) -> float:
        """Chance counted, 0..1; 0 where none is."""
        if self.why_nought or self.rate is None or self.rate.risk is None:
            return 0.0
        return min(max(self.rate.risk + (self.change.change if self.change else 0.0), 0.0), 1.0)


def chance_of(counted: CallbackCost | None) -> float:
    """Chance that a price counts; 0 where it counts none."""
    return 0.0 if counted is None else counted.chance


def visit_cost(firm: Firm) -> float:
    """One return visit of the crew: travel, set-up and `callback_minutes`, before overhead."""
    minutes = firm.travel_minutes + firm.setup_minutes + firm.callback_minutes
    return minutes / MINUTES_PER_HOUR * firm.hourly_rate * firm.crew_size


def counted(rate: CallbackRate | None, firm: Firm) -> CallbackCost:
    """What a quote counts by the firm's settings and a rate."""
    each = visit_cost(firm)
    if not firm.count_callbacks:
        return CallbackCost(rate, each, "`count_callbacks` in firm.toml says that they are not counted")
    if rate is None:
        return CallbackCost(None, each, "the forecasts in use were learnt without the book's callbacks")
    return CallbackCost(rate, each, rate.refused)


def callback_rate(callback: pd.DataFrame, firm_id: str | None = None) -> CallbackRate:
    """The rate from a whole frame as `ftr_callback`, all its jobs or those of one firm; firms that have handed in no
    callbacks do not count."""
    from models.practice.cohort.follow_up import CUT_SHORT, HAND_IN, SAY_HOW_LONG, is_cut_short, is_silent
    from models.practice.survival import kaplan_meier, value_at

    asked = callback["firm_id"] == firm_id if firm_id is not None else np.ones(len(callback), dtype=bool)
    silent = is_silent(callback)
    if asked.any() and silent[asked].all():
        why = f"no callbacks were handed in, and none on record is not the same as none: {HAND_IN}"
        return CallbackRate(0, 0, None, None, None, why, firm_id)
    cut = is_cut_short(callback)
    if asked.any() and (silent | cut)[asked].all():
        return CallbackRate(0, 0, None, None, None, f"{CUT_SHORT}: {SAY_HOW_LONG}", firm_id)
    callback = callback[asked & ~silent & ~cut]
    followed = callback["followed_days"].to_numpy(dtype=float, na_value=np.nan)
    debris = callback["first_debris_day"].to_numpy(dtype=float, na_value=np.nan)
    usable = followed >= 1
    days, is_event = np.fmin(debris, followed)[usable], ~np.isnan(debris)[usable]
    jobs, seen = len(days), int((is_event & (days <= HORIZON_DAYS)).sum())
    to_the_end = int((days >= HORIZON_DAYS).sum())
    if jobs < FEWEST_JOBS or seen < FEWEST_CALLBACKS or to_the_end < FEWEST_TO_THE_END:
        return CallbackRate(
            jobs,
            seen,
            None,
            None,
            None,
            (
                f"{jobs} followed jobs with {seen} debris callbacks, {to_the_end} of them followed for {HORIZON_DAYS} "
                f"days, are too few ({FEWEST_JOBS}, {FEWEST_CALLBACKS} and {FEWEST_TO_THE_END} are the least)"
            ),
            firm_id,
        )
    free, _, low, high = value_at(kaplan_meier(days, is_event), HORIZON_DAYS)
    return CallbackRate(jobs, seen, 1 - free, 1 - high, 1 - low, firm_id=firm_id)
