"""What return visits cost a job on average: the chance of a debris callback within 365 days, times the cost of one.

The chance is that of all followed jobs of the book, censoring allowed for (Kaplan & Meier 1958, log-log interval): the
plain rate, not one of this very house. A job is called back or not; what is counted is the average, as a premium is.
Refused, and nought counted, where too few jobs or callbacks tell it.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from models.store import Stored, load_model, save_model
from pipeline.firm import Firm
from pipeline.units import MINUTES_PER_HOUR

if TYPE_CHECKING:
    import pandas as pd

FOLDER = "callback_rate"
"""Its own folder within the models of a build."""
HORIZON_DAYS = 365
FEWEST_JOBS, FEWEST_CALLBACKS, FEWEST_TO_THE_END = 100, 5, 30
"""Jobs followed up, debris callbacks among them, and jobs still followed on the last day, from which a rate is told."""


@dataclass(frozen=True, slots=True)
class CallbackRate:
    """Chance of a debris callback within 365 days with its 95 % interval; None where `refused` says why."""

    jobs: int
    callbacks: int
    risk: float | None
    low: float | None
    high: float | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class CallbackCost:
    """What a quote counts for return visits: `each` costs so much before overhead; `why_nought` where none counts."""

    rate: CallbackRate | None
    each: float
    why_nought: str = ""

    @property
    def chance(self) -> float:
        """Chance counted; 0 where none is."""
        return 0.0 if self.why_nought or self.rate is None or self.rate.risk is None else self.rate.risk


def visit_cost(firm: Firm) -> float:
    """One return visit of the crew: travel, set-up and `callback_minutes`, before overhead."""
    minutes = firm.travel_minutes + firm.setup_minutes + firm.callback_minutes
    return minutes / MINUTES_PER_HOUR * firm.hourly_rate * firm.crew_size


def counted(rate: CallbackRate | None, firm: Firm) -> CallbackCost:
    """What a quote counts by the firm's settings and the book's rate."""
    each = visit_cost(firm)
    if not firm.count_callbacks:
        return CallbackCost(rate, each, "`count_callbacks` in firm.toml says that they are not counted")
    if rate is None:
        return CallbackCost(None, each, "the forecasts in use were learnt without the book's callbacks")
    return CallbackCost(rate, each, rate.refused)


def callback_rate(callback: pd.DataFrame) -> CallbackRate:
    """The rate from a frame as `ftr_callback`."""
    from models.practice.survival import kaplan_meier, value_at

    followed = callback["followed_days"].to_numpy(dtype=float, na_value=np.nan)
    debris = callback["first_debris_day"].to_numpy(dtype=float, na_value=np.nan)
    usable = followed >= 1
    days, is_event = np.fmin(debris, followed)[usable], ~np.isnan(debris)[usable]
    jobs, seen = len(days), int((is_event & (days <= HORIZON_DAYS)).sum())
    to_the_end = int((days >= HORIZON_DAYS).sum())
    if jobs < FEWEST_JOBS or seen < FEWEST_CALLBACKS or to_the_end < FEWEST_TO_THE_END:
        return CallbackRate(jobs, seen, None, None, None, (
            f"{jobs} followed jobs with {seen} debris callbacks, {to_the_end} of them followed for {HORIZON_DAYS} "
            f"days, are too few ({FEWEST_JOBS}, {FEWEST_CALLBACKS} and {FEWEST_TO_THE_END} are the least)"
        ))  # fmt: skip
    free, _, low, high = value_at(kaplan_meier(days, is_event), HORIZON_DAYS)
    return CallbackRate(jobs, seen, 1 - free, 1 - high, 1 - low)


def learn_and_store(callback: pd.DataFrame, folder: Path) -> CallbackRate:
    """Work out the rate and keep it in a build's models folder."""
    rate = callback_rate(callback)
    save_model(folder / FOLDER, Stored(arrays={}, facts=asdict(rate)), {"model": FOLDER})
    return rate


def load_rate(folder: Path) -> CallbackRate | None:
    """The rate kept in a models folder; None where there is none."""
    if not (folder / FOLDER / "manifest.json").is_file():
        return None
    return CallbackRate(**load_model(folder / FOLDER).facts)
