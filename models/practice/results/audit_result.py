"""What the practice audit says: frozen results only, shared by the computation, the command, the page and the papers.

Risks and differences are shares (0.05 = 5 in 100 jobs) of jobs with a first debris callback within `horizon_days`;
a difference is with less without, so a negative one cuts callbacks. Intervals are at 95 % unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from models.practice.results.curve_results import DoseResponse, PracticeCurves, RiskPerKg
from models.practice.results.engineer_results import Funnel
from models.practice.results.plain_data import plain
from models.practice.results.pool_results import PooledEffect
from pipeline.contract.findings import Finding

Verdict = Literal["cuts callbacks", "raises callbacks", "no difference worth knowing", "cannot be told yet"]


@dataclass(frozen=True, slots=True)
class RawDifference:
    """What the records say before any adjustment: cumulative incidence at the horizon in either group."""

    risk_with: float
    risk_without: float
    difference: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Balance:
    """Standardised mean difference of one confounder between the groups, before and after weighting.

    `known_as` is its column (and value, for a choice); `label` are words for a figure. Below 0.1 either way is
    taken as balanced (common practice in the literature on propensity scores).
    """

    known_as: str
    label: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Overlap:
    """How far the two groups hold comparable jobs.

    `propensity` is the chance of the practice given what was known before; jobs outside
    `propensity_low..propensity_high` are left out and counted in `trimmed_jobs`. `effective_with`,
    `effective_without`: as many equally weighted jobs would tell as much (Kish). `bin_edges` (bins + 1,),
    `with_counts`, `without_counts` (bins,) draw the two histograms of the propensity.
    """

    trimmed_jobs: int
    trimmed_share: float
    effective_with: float
    effective_without: float
    propensity_low: float
    propensity_high: float
    bin_edges: tuple[float, ...]
    with_counts: tuple[int, ...]
    without_counts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SubgroupEffect:
    """The adjusted difference among some of the jobs; figures are None where `refused` says why."""

    code: str
    label: str
    jobs_with: int
    jobs_without: int
    difference: float | None
    low: float | None
    high: float | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Worth:
    """What the practice is worth, money in the book's currency.

    The effect is the one that prices count: shrunk towards none by as much as all practices of the audit together say,
    since of many looked at the clearest were helped by luck. `avoided_per_100` callbacks per 100 jobs (negative: more
    of them); `cost_per_job` of the practice;
    `cost_per_callback` of one return visit; `cost_per_avoided` is None unless the verdict is that it cuts them;
    `net_per_job` = callbacks avoided × cost of one − cost of the practice. `basis` says what the costs hold.
    """

    avoided_per_100: float
    avoided_low: float
    avoided_high: float
    cost_per_job: float
    cost_per_callback: float
    cost_per_avoided: float | None
    net_per_job: float
    net_low: float
    net_high: float
    currency: str
    basis: str


@dataclass(frozen=True, slots=True)
class RiskBy:
    """Risks by one day after the visit, with the 95 % interval of their difference."""

    horizon_days: int
    risk_with: float
    risk_without: float
    difference: float
    low: float
    high: float
    standard_error: float


@dataclass(frozen=True, slots=True)
class AllFollowUp:
    """The effect of a practice from every debris callback on record, after the first year too: by the horizon and by
    two years. It assumes that a practice changes callbacks by one factor early and late; `p_same` is the p-value of
    that the first year alone says something else. `later_callbacks` came after the horizon. `is_told`: this estimate
    and not that of the first year stands in the effect's own figures."""

    later_callbacks: int
    by: tuple[RiskBy, ...]
    p_same: float
    is_told: bool


@dataclass(frozen=True, slots=True)
class PracticeEffect:
    """One practice: `contrast` is `column:with|without`, `label` are its words.

    `jobs_with`, `jobs_without` are jobs with a usable record before trimming, `jobs` their sum; `callbacks_*` the
    debris callbacks seen among them within the horizon. The adjusted figures are None where `refused` holds the
    sentence that stands for them. `e_value` is the strength (risk ratio) that something unrecorded would need, with
    both practice and callbacks, to explain the estimate away; `e_value_limit` the interval's nearer end, 1 when it
    holds no effect. `q_value`: p after control of the false-discovery rate over all practices of the audit.
    `detectable_difference`: gets a verdict with 80 % chance with the jobs at hand, chance findings controlled.
    `target_difference` is a quarter of the risk without. `jobs_needed`: about so many more jobs would show it with 80 %
    chance or, where these would have, settle it if the estimate stays; None with a verdict, or when no number would do.
    `shrunk_difference` with its interval is what prices and `worth` count: shrunk towards none by as much as all
    practices of the audit together say. The adjusted figures are those of `first_year` or of `all_follow_up`, by the
    rule that the latter's `is_told` follows.
    """

    contrast: str
    column: str
    with_value: str
    without_value: str
    label: str
    jobs: int
    jobs_with: int
    jobs_without: int
    callbacks_with: int
    callbacks_without: int
    raw: RawDifference | None
    risk_with: float | None
    risk_without: float | None
    difference: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    p_value: float | None
    q_value: float | None
    e_value: float | None
    e_value_limit: float | None
    verdict: Verdict
    detectable_difference: float | None
    target_difference: float | None
    jobs_needed: int | None
    overlap: Overlap | None
    balance: tuple[Balance, ...] = ()
    subgroups: tuple[SubgroupEffect, ...] = ()
    worth: Worth | None = None
    left_out: Mapping[str, int] = field(default_factory=dict)
    refused: str = ""
    findings: tuple[Finding, ...] = ()
    shrunk_difference: float | None = None
    shrunk_low: float | None = None
    shrunk_high: float | None = None
    first_year: RiskBy | None = None
    all_follow_up: AllFollowUp | None = None

    @property
    def trimmed_share(self) -> float | None:
        """Share of the jobs left out because no comparable job had the other practice."""
        return self.overlap.trimmed_share if self.overlap else None

    @property
    def effective_sample_size(self) -> float | None:
        """Equally weighted jobs that would tell as much, both groups together."""
        return self.overlap.effective_with + self.overlap.effective_without if self.overlap else None

    @property
    def verdict_words(self) -> str:
        """One of four: cuts or raises callbacks; no difference worth knowing; cannot be told yet: about N more jobs."""
        if self.verdict != "cannot be told yet":
            return self.verdict
        more = "more jobs of either kind" if self.jobs_needed is None else f"about {self.jobs_needed:,} more jobs"
        return f"{self.verdict}: {more}"

    def as_dict(self) -> dict[str, object]:
        """Plain data for JSON; `verdict` in words, `outcome` its code."""
        left = plain(self)
        assert isinstance(left, dict)
        return {
            **left,
            "verdict": self.verdict_words,
            "outcome": self.verdict,
            "trimmed_share": self.trimmed_share,
            "effective_sample_size": self.effective_sample_size,
        }


@dataclass(frozen=True, slots=True)
class Confounder:
    """One thing that was known before the practice was chosen and may drive callbacks too: column, words, reason."""

    column: str
    label: str
    reason: str


@dataclass(frozen=True, slots=True)
class GraphNode:
    """One circle of the causal picture; `kind` is confounder, practice, mediator, outcome or hidden; x, y in 0..1."""

    code: str
    label: str
    kind: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class CausalGraph:
    """The causal picture the adjustment rests on: circles, and arrows as pairs of codes (from, to)."""

    nodes: tuple[GraphNode, ...]
    edges: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Audit:
    """The whole audit. `jobs` could be used for something; `left_out` counts the others by reason.

    `graphs`: the causal picture behind each practice, by its column.
    """

    jobs: int
    callbacks: int
    horizon_days: int
    level: float
    first_visit: date | None
    last_visit: date | None
    is_simulated: bool
    practices: tuple[PracticeEffect, ...]
    doses: tuple[DoseResponse, ...]
    curves: Mapping[str, PracticeCurves]
    funnel: Funnel
    pool: tuple[PooledEffect, ...]
    risk_per_kg: RiskPerKg
    confounders: tuple[Confounder, ...]
    graphs: Mapping[str, CausalGraph]
    assumptions: tuple[str, ...]
    left_out: Mapping[str, int]
    findings: tuple[Finding, ...]

    def practice(self, contrast: str) -> PracticeEffect:
        """The practice of that name. KeyError when the audit has none."""
        return {each.contrast: each for each in self.practices}[contrast]

    def as_dict(self) -> dict[str, object]:
        """Plain data for JSON: `practices`, `engineers`, `findings` and the rest."""
        names = ("doses", "curves", "pool", "risk_per_kg", "confounders", "graphs")
        rest = {name: plain(getattr(self, name)) for name in names}
        return {
            "jobs": self.jobs,
            "callbacks": self.callbacks,
            "horizon_days": self.horizon_days,
            "level": self.level,
            "first_visit": self.first_visit.isoformat() if self.first_visit else None,
            "last_visit": self.last_visit.isoformat() if self.last_visit else None,
            "is_simulated": self.is_simulated,
            "practices": [each.as_dict() for each in self.practices],
            "engineers": [plain(each) for each in self.funnel.engineers],
            "funnel": plain(self.funnel, leave=("engineers",)),
            **rest,
            "assumptions": list(self.assumptions),
            "left_out": dict(self.left_out),
            "findings": [each.as_dict() for each in self.findings],
        }
