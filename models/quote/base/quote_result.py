"""What a quote says: frozen results only, shared by the model, the command, the page and the papers."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from models.quantiles import Quantiles
from models.quote.base.callback_cost import CallbackCost
from pipeline.contract.findings import Finding

Target = Literal["magnetite_kg", "non_magnetic_kg", "flush_minutes", "site_minutes"]
TARGETS: tuple[Target, ...] = ("magnetite_kg", "non_magnetic_kg", "flush_minutes", "site_minutes")
Method = Literal["typical_rule", "per_emitter_rule", "boosted"]
PriceRule = Literal["chance_of_loss", "margin", "lowest_price"]


@dataclass(frozen=True, slots=True)
class Forecast:
    """Predictive distribution of one target, in `unit`; `percentiles` are p01…p99 for drawing."""

    target: Target
    unit: str
    quantiles: Quantiles
    percentiles: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Reason:
    """How far one group of survey answers moves the median of one target from that of a usual job."""

    target: Target
    group: str
    amount: float
    unit: str


@dataclass(frozen=True, slots=True)
class Why:
    """Additive reasons: `usual + sum(amounts) = median`, exactly, for each target explained."""

    target: Target
    unit: str
    usual: float
    median: float
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class SimilarJob:
    """A past job near to the request in what was known at survey, and what it gave."""

    firm_id: str
    job_id: str
    distance: float
    emitter_count: int | None
    age_years: float | None
    system_type: str
    magnetite_kg: float | None
    non_magnetic_kg: float | None
    site_minutes: float | None


@dataclass(frozen=True, slots=True)
class Basis:
    """What the forecast rests on; `borrowed` says in words what it takes from other firms' jobs, if any."""

    method: Method
    finished_jobs: int
    calibration_jobs: int
    window_from: date | None
    window_to: date | None
    simulated_share: float
    outside: tuple[str, ...] = ()
    borrowed: str = ""


@dataclass(frozen=True, slots=True)
class CostPart:
    """One line of the cost build-up in the book's currency: expected where the whole cost is its median."""

    name: str
    amount: float


@dataclass(frozen=True, slots=True)
class PricePoint:
    """Chance of losing money at one price, in the book's currency before tax."""

    price: float
    chance_of_loss: float


@dataclass(frozen=True, slots=True)
class Price:
    """Price before tax at which the chance of losing money is at most what the owner accepts.

    `chance_of_loss` is the chance at that price, the job being called back or not; `set_by` says which rule decided it.
    `parts` add up to `cost.p50`, and hold return visits at their mean as all of `cost` does; `callbacks` says what is
    counted for them, or why nothing is.
    """

    currency: str
    price: float
    price_with_tax: float
    accepted_chance_of_loss: float
    target_margin_share: float
    cost: Quantiles
    parts: tuple[CostPart, ...]
    curve: tuple[PricePoint, ...]
    chance_of_loss: float | None = None
    set_by: PriceRule = "chance_of_loss"
    callbacks: CallbackCost | None = None


LabelIs = Literal["most", "least"]
"""What the label's amount of a chemical is: the most that may go in (a cleaner), or the least (an inhibitor)."""


@dataclass(frozen=True, slots=True)
class Dose:
    """The label's dose of one chemical for the low, middle and high volume [L], and its containers.

    `first_l` goes in before any test of the water: the low dose where the label is the most, within it whatever the
    volume in its range; the middle dose where it is the least. `whole_containers` is that amount in whole containers,
    rounded down where the label is the most and up where it is the least; `containers_used` do for the middle dose,
    `containers_to_bring` for the high one; what is charged follows the whole range. Without a size of container
    (`pack_l` 0) all three are None.
    """

    low_l: float
    mid_l: float
    high_l: float
    label_is: LabelIs
    first_l: float
    pack_l: float
    containers_used: int | None
    containers_to_bring: int | None
    whole_containers: int | None


@dataclass(frozen=True, slots=True)
class Volume:
    """System volume with its range and method, and the chemical for it: at the middle, and over the range."""

    low_l: float
    mid_l: float
    high_l: float
    method: str
    cleaner_dose_l: float
    inhibitor_dose_l: float
    cleaner: Dose | None = None
    inhibitor: Dose | None = None


@dataclass(frozen=True, slots=True)
class Quote:
    """One answer to one survey."""

    firm_id: str
    job_id: str
    forecasts: dict[Target, Forecast]
    second_day: float
    price: Price
    volume: Volume
    why: tuple[Why, ...]
    similar_jobs: tuple[SimilarJob, ...]
    basis: Basis
    findings: tuple[Finding, ...] = field(default=())
