"""Curves of the practice audit: survival, cumulative incidence, dose-response. Arrays share one length a curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class SurvivalCurve:
    """Kaplan-Meier: share without the event after each day with an event; a step function that begins at 1.

    `days`, `estimate`, `standard_error` (Greenwood), `low`, `high` (log-log, at `level`), `at_risk`, `events`:
    shape (steps,); `at_risk` counts just before the day.
    """

    days: Floats
    estimate: Floats
    standard_error: Floats
    low: Floats
    high: Floats
    at_risk: Ints
    events: Ints
    level: float


@dataclass(frozen=True, slots=True, eq=False)
class CumulativeIncidence:
    """Aalen-Johansen: share with a first callback of one kind by each day, the other kind competing; begins at 0.

    Fields as in `SurvivalCurve`. `kind` is `debris` or `other`; `is_weighted` marks the curve of jobs weighted to
    be alike in both groups, whose `at_risk` still counts jobs.
    """

    kind: str
    days: Floats
    estimate: Floats
    standard_error: Floats
    low: Floats
    high: Floats
    at_risk: Ints
    events: Ints
    level: float
    is_weighted: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class PracticeCurves:
    """The curves of one contrast. `free_*`: share without a debris callback if no other cause took jobs away.

    `adjusted_*` are None where the effect was refused. `table_days` (days,) with `at_risk_with`, `at_risk_without`
    (days,) are the numbers at risk to stand below a figure.
    """

    contrast: str
    free_with: SurvivalCurve
    free_without: SurvivalCurve
    debris_with: CumulativeIncidence
    debris_without: CumulativeIncidence
    other_with: CumulativeIncidence
    other_without: CumulativeIncidence
    adjusted_with: CumulativeIncidence | None
    adjusted_without: CumulativeIncidence | None
    table_days: Ints
    at_risk_with: Ints
    at_risk_without: Ints


@dataclass(frozen=True, slots=True, eq=False)
class DoseResponse:
    """Adjusted risk by dose of a practice that comes in amounts, all jobs given the same dose; arrays (doses,).

    `difference`, `difference_low`, `difference_high` are against `reference`; `jobs` had a dose in that bin.
    `trend_p` is the p-value of a straight trend over the doses. All arrays are empty where `refused` says why.
    """

    column: str
    label: str
    unit: str
    reference: float
    doses: Floats
    jobs: Ints
    risk: Floats
    low: Floats
    high: Floats
    difference: Floats
    difference_low: Floats
    difference_high: Floats
    trend_p: float | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class RiskPerKg:
    """Change of the risk of a debris callback for one more dry kilogram caught, so not left: negative cuts callbacks.

    A share of jobs a kilogram, shrunk towards 0 and never above it, with a 95 % interval, whether or not that holds 0;
    None where `refused` says why. `usual_kg`: half the distance
    between the tenth and the ninetieth percentile of kilograms caught, beyond which no change is told. `strength`:
    F of the ways of flushing on kilograms caught, jobs of an engineer going together where they are enough.
    """

    per_kg: float | None
    low: float | None
    high: float | None
    horizon_days: int
    jobs: int
    usual_kg: float
    strength: float | None
    refused: str = ""
