"""Callbacks to expect from the houses an engineer was given: not from what was done there.

Risks come from the list of confounders without engineer and practices; they are spread over the year in the shape of
all jobs' cumulative hazard (Nelson-Aalen), so that a job followed for three months counts for three months.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import HORIZON_DAYS, Records
from models.practice.cohort.censoring import outcomes_by_stratum, strata
from models.practice.nuisance.nuisance_fits import crossed, deal, known_design
from models.practice.survival import risk_table

Floats = NDArray[np.float64]
FEWEST_CALLBACKS = 15


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """By job (n,): `risk` at the horizon, `cumulated` callbacks to expect over its own follow-up, `seen` 0 or 1.

    The sums of `cumulated` and `seen` are equal.
    """

    risk: Floats
    cumulated: Floats
    seen: Floats


def expected_callbacks(records: Records) -> Expected | None:
    """What the case mix lets expect; None where there are too few callbacks to tell."""
    if records.callbacks < FEWEST_CALLBACKS:
        return None
    outcome = overall_outcomes(records)
    seen = np.asarray(records.is_event & (records.days <= HORIZON_DAYS), dtype=float)
    design = known_design(records.known.without_practices(), np.arange(len(outcome)), None)
    risk = np.empty(len(outcome))
    for rows, fit in crossed(design, outcome, "logistic", deal(seen > 0)):
        risk[rows] = fit.predict(design.rows(rows))
    hazard = -np.log1p(-np.clip(risk, 1e-6, 1 - 1e-6)) * shape_of_year(records)
    return Expected(risk, hazard * seen.sum() / hazard.sum(), seen)


def overall_outcomes(records: Records) -> Floats:
    """Pseudo-outcome (n,) of every job at the horizon, whatever was done."""
    nobody = np.zeros(len(records.days), dtype=bool)
    codes = strata(nobody, records.leaves_early, records.days, records.is_event, HORIZON_DAYS, records.visit_day)
    return outcomes_by_stratum(codes, records.days, records.is_event, HORIZON_DAYS)


def shape_of_year(records: Records) -> Floats:
    """Share (n,) of the year's cumulative hazard that each job was at risk for."""
    days = np.minimum(records.days, HORIZON_DAYS)
    seen = records.is_event & (records.days <= HORIZON_DAYS)
    table = risk_table(days, seen.astype(np.int64))
    hazard = np.cumsum(table.events[0] / table.at_risk)
    at = np.searchsorted(table.days, days, side="right") - 1
    return np.asarray(np.where(at >= 0, hazard[np.maximum(at, 0)], 0.0) / hazard[-1])
