"""What the catch says: frozen results only, shared by the model, the command, the page and the papers."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from models.quantiles import Quantiles
from pipeline.contract.findings import Finding

EmitterState = Literal["not_started", "too_early", "still_giving", "levelled_off"]


@dataclass(frozen=True, slots=True)
class SaturatingFit:
    """Least-squares fit of `asymptote · (1 − exp(−x / tau))`; y in its own unit, x likewise.

    `rate` is 1 / tau. Standard errors are the usual asymptotic ones; `*_low`, `*_high` bound the
    profile interval at `level` (`inf` where it is open). `share_reached` is 1 − exp(−x_last / tau).
    """

    asymptote: float
    tau: float
    asymptote_se: float
    rate: float
    rate_se: float
    asymptote_low: float
    asymptote_high: float
    tau_low: float
    tau_high: float
    level: float
    residual_sd: float
    residual_sum_of_squares: float
    points: int
    share_reached: float
    findings: tuple[Finding, ...] = field(default=())

    @property
    def rate_low(self) -> float:
        """Low end of the profile interval of the rate: 1 / tau_high, 0 where that is open."""
        return 0.0 if np.isinf(self.tau_high) else 1.0 / self.tau_high

    @property
    def rate_high(self) -> float:
        """High end of the profile interval of the rate: 1 / tau_low, `inf` where that is open."""
        return float("inf") if self.tau_low == 0 else 1.0 / self.tau_low


@dataclass(frozen=True, slots=True, eq=False)
class ManyFits:
    """Least-squares fits of many curves; every array has shape (curves,) and is NaN where refused.

    `refused` holds an empty text for a fitted curve, else the sentence that stands for its numbers.
    """

    group: NDArray[np.generic]
    asymptote: NDArray[np.float64]
    tau: NDArray[np.float64]
    rate: NDArray[np.float64]
    asymptote_se: NDArray[np.float64]
    rate_se: NDArray[np.float64]
    residual_sd: NDArray[np.float64]
    residual_sum_of_squares: NDArray[np.float64]
    share_reached: NDArray[np.float64]
    points: NDArray[np.intp]
    refused: NDArray[np.str_]


@dataclass(frozen=True, slots=True, eq=False)
class CurveBand:
    """Quantiles over many jobs of kilograms recovered by a minute; arrays of shape (minutes,).

    A job that has ended stays at its total.
    """

    minutes: NDArray[np.float64]
    p10: NDArray[np.float64]
    p25: NDArray[np.float64]
    p50: NDArray[np.float64]
    p75: NDArray[np.float64]
    p90: NDArray[np.float64]
    jobs: int


@dataclass(frozen=True, slots=True)
class EmitterWatch:
    """One emitter so far: kilograms dry, minutes with the flow on it, what is still expected.

    `remaining_kg` is what would come if the flow stayed on it until nothing more did, None while it cannot
    be told; `fit` is the least-squares curve (intervals at 80 %) where there are points enough.
    """

    emitter_no: int
    caught_kg: float
    focus_minutes: float
    catches: int
    state: EmitterState
    remaining_kg: Quantiles | None
    fit: SaturatingFit | None
    sentence: str


@dataclass(frozen=True, slots=True)
class QuarterHour:
    """Kilograms (dry) that the next quarter hour of flow would bring at one emitter; None: with the whole
    system open. `chance_best`: the probability that no other emitter would bring more."""

    emitter_no: int | None
    expected_kg: float
    kg: Quantiles
    chance_best: float


@dataclass(frozen=True, slots=True)
class CallbackChange:
    """Change of the risk of a debris callback within `horizon_days`, a share of jobs; below 0: fewer. 95 % ends."""

    low: float
    middle: float
    high: float
    horizon_days: int


@dataclass(frozen=True, slots=True)
class OneMoreHour:
    """What one more hour would bring (kg, dry) and cost (book's currency). `callback_change` is None where the
    practice audit cannot tell what a kilogram does."""

    expected_kg: Quantiles
    cost: float
    cost_per_kg: float | None
    currency: str
    callback_change: CallbackChange | None = None


@dataclass(frozen=True, slots=True)
class Watch:
    """One job's catch at one moment. Minutes count from the start of the flush, nights left out.

    `if_flow_goes_on_kg` (dry magnetite) is what would come if the flow went on until nothing more did: of the
    whole system, or, one emitter at a time, of the one in hand and those not started, and once all have had
    the flow, of a second round. It levels off where 95 % of the curve has come. `remaining_kg` is what will
    still be caught on this job as crews of this book work, and `minutes_left` for how long: learnt from past
    jobs of one `kind` of work. Without these, or once the flush has ended, `remaining_kg` is
    `if_flow_goes_on_kg`; `basis` says which. Where too few weighings leave no forecast, these are None and
    `answer` says why. `fit` is the curve of the whole house (80 %). `emitters` holds those that had the flow to
    themselves and, one at a time, those that wait for it. `next_quarter_hour` ranks the emitters by what a quarter
    hour of flow would bring, the most first; empty once the flush has ended or while nothing can be told.
    `where_next` says it in words, empty where there is nothing to choose.
    """

    firm_id: str
    job_id: str
    at: datetime
    minutes: float
    is_finished: bool
    caught_kg: float
    non_magnetic_kg: float
    remaining_kg: Quantiles | None
    level_off_minutes: Quantiles | None
    level_off_at: dict[str, datetime] | None
    fit: SaturatingFit | None
    emitters: tuple[EmitterWatch, ...]
    one_more_hour: OneMoreHour | None
    answer: str
    findings: tuple[Finding, ...] = field(default=())
    if_flow_goes_on_kg: Quantiles | None = None
    minutes_left: Quantiles | None = None
    basis: str = ""
    kind: str | None = None
    next_quarter_hour: tuple[QuarterHour, ...] = ()
    where_next: str = ""
