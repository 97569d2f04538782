"""Results of an audit made by hand, for figures, words and papers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.practice.results.audit_result import Balance, GraphNode, PracticeEffect, RawDifference, Verdict, Worth
from models.practice.results.curve_results import CumulativeIncidence, DoseResponse, PracticeCurves, SurvivalCurve
from models.practice.results.engineer_results import EngineerPoint, Funnel

DAYS = np.array([0.0, 100.0, 365.0])


def effect(verdict: Verdict = "cuts callbacks", difference: float = -0.05, **changes: object) -> PracticeEffect:
    """200 jobs either way; risk 6 % with, 11 % without; the interval 3 in 100 either side."""
    price = 1700.0 if verdict == "cuts callbacks" else None
    cost = Worth(-100 * difference, 2.0, 8.0, 85.0, 170.0, price, -76.5, -82.0, -71.0, "GBP", "one filter")
    given: dict[str, object] = {
        "contrast": "filter_fitted:on_return|none",
        "column": "filter_fitted",
        "with_value": "on_return",
        "without_value": "none",
        "label": "Filter fitted on the return",
        "jobs": 400,
        "jobs_with": 200,
        "jobs_without": 200,
        "callbacks_with": 12,
        "callbacks_without": 22,
        "raw": RawDifference(0.10, 0.09, 0.01, -0.02, 0.04),
        "risk_with": 0.06,
        "risk_without": 0.11,
        "difference": difference,
        "low": difference - 0.03,
        "high": difference + 0.03,
        "standard_error": 0.015,
        "p_value": 0.001,
        "q_value": 0.01,
        "e_value": 2.4,
        "e_value_limit": 1.6,
        "verdict": verdict,
        "detectable_difference": 0.04,
        "target_difference": 0.05,
        "jobs_needed": 900 if verdict == "cannot be told yet" else None,
        "overlap": None,
        "worth": cost,
        "left_out": {"did neither, or not known": 55},
    }
    return PracticeEffect(**{**given, **changes})  # type: ignore[arg-type]


def refused() -> PracticeEffect:
    """A practice that too few jobs did."""
    none = dict.fromkeys(
        (
            "difference",
            "low",
            "high",
            "standard_error",
            "p_value",
            "q_value",
            "e_value",
            "e_value_limit",
            "risk_with",
            "risk_without",
            "detectable_difference",
            "worth",
        )
    )
    left = effect(
        "cannot be told yet",
        label="Vibration",
        contrast="agitation:vibration|none",
        refused="Vibration: the smaller group holds 3 jobs.",
    )
    return replace(left, **none)  # type: ignore[arg-type]


def balance() -> tuple[Balance, ...]:
    """Sixteen confounders, the oldest furthest apart."""
    return tuple(Balance(f"c{number}", f"Thing {number}", 0.05 * number, 0.003 * number) for number in range(1, 17))


def incidence(end: float, *, is_weighted: bool = False) -> CumulativeIncidence:
    """Rises from nought to `end` over the year."""
    shares = np.array([0.0, end / 2, end])
    counts = np.array([200, 180, 120])
    return CumulativeIncidence(
        "debris", DAYS, shares, 0.1 * shares, 0.8 * shares, 1.2 * shares, counts, counts, 0.95, is_weighted
    )


def curves(*, is_adjusted: bool = True) -> PracticeCurves:
    """6 % with and 11 % without after weighting; 10 % and 9 % in the bare records."""

    def free(end: float) -> SurvivalCurve:
        seen = incidence(end)
        return SurvivalCurve(
            DAYS, 1 - seen.estimate, seen.standard_error, 1 - seen.high, 1 - seen.low, seen.at_risk, seen.events, 0.95
        )

    alike = (incidence(0.06, is_weighted=True), incidence(0.11, is_weighted=True)) if is_adjusted else (None, None)
    return PracticeCurves(
        "filter_fitted:on_return|none",
        free(0.10),
        free(0.09),
        incidence(0.10),
        incidence(0.09),
        incidence(0.02),
        incidence(0.02),
        *alike,
        np.array([0, 180, 365]),
        np.array([200, 170, 120]),
        np.array([200, 165, 101]),
    )


def dose() -> DoseResponse:
    """10 % at no days, 5 % at a week."""
    risk = np.array([0.10, 0.05])
    difference = risk - 0.10
    return DoseResponse(
        "predose_days",
        "Days of pre-dose",
        "days",
        0.0,
        np.array([0.0, 7.0]),
        np.array([50, 40]),
        risk,
        0.5 * risk,
        1.5 * risk,
        difference,
        difference - 0.02,
        difference + 0.02,
        0.02,
    )


def engineer(name: str, observed: int | None, firm: str = "own") -> EngineerPoint:
    """40 jobs, 4 callbacks expected; None: 6 jobs, nothing shown."""
    if observed is None:
        return EngineerPoint(firm, name, 6, *(None,) * 12, "too few jobs")
    place = "more than expected" if observed > 12 else "within limits"
    ratio = observed / 4.0
    return EngineerPoint(
        firm,
        name,
        40,
        observed,
        4.0,
        ratio,
        observed / 40,
        observed / 40,
        0.2,
        2.1,
        0.0,
        3.0,
        1 + 0.5 * (ratio - 1),
        0.6,
        1.7,
        place,
    )  # type: ignore[arg-type]


def funnel(*engineers: EngineerPoint) -> Funnel:
    """Limits that close in as the expected callbacks grow."""
    grid = np.linspace(1.0, 10.0, 10)
    low, high = 1 - 1 / np.sqrt(grid), 1 + 2 / np.sqrt(grid)
    limits = (low, high, np.zeros(10), 1.5 * high)
    return Funnel(engineers, 0.1, 20, grid, *limits, *limits, 0.9, 0.0, is_over_dispersed=False)


def nodes() -> tuple[GraphNode, ...]:
    """A circle known before, the practice, and one not on record."""
    return (
        GraphNode("house", "House, system, age", "confounder", 0.05, 0.85),
        GraphNode("practice", "The practice", "practice", 0.55, 0.45),
        GraphNode("hidden", "What nobody wrote down", "hidden", 0.60, 0.05),
    )
