"""The curves of a contrast: free of debris callbacks, first callbacks by cause, both groups weighted to be alike."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.audited_jobs import HORIZON_DAYS, Records
from models.practice.effects.doubly_robust import Adjusted
from models.practice.results.curve_results import CumulativeIncidence, PracticeCurves
from models.practice.survival import at_risk_on, cumulative_incidence, kaplan_meier

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
TABLE_DAYS = np.array([0, 60, 120, 180, 240, 300, 365])
DEBRIS, OTHER = 1, 2


def practice_curves(records: Records, adjusted: Adjusted) -> PracticeCurves | None:
    """The curves up to the horizon; None where one of the groups is empty or had no debris callback."""
    compared = adjusted.compared
    rows, a = compared.rows, compared.a
    if min(compared.callbacks(True), compared.callbacks(False)) == 0:
        return None
    first_day, kind = _until_horizon(records.first_day[rows], records.first_kind[rows])
    days, event = _until_horizon(compared.days, compared.is_event.astype(np.int64))
    free = [kaplan_meier(days[a == way], event[a == way] > 0) for way in (True, False)]
    first = [
        cumulative_incidence(first_day[a == way], kind[a == way], of, name=name)
        for of, name in ((DEBRIS, "debris"), (OTHER, "other"))
        for way in (True, False)
    ]
    risk = [at_risk_on(days[a == way], TABLE_DAYS) for way in (True, False)]
    weighted = [_weighted(adjusted, first_day, kind, way) for way in (True, False)]
    return PracticeCurves(
        compared.contrast.name,
        free[0],
        free[1],
        first[0],
        first[1],
        first[2],
        first[3],
        weighted[0],
        weighted[1],
        TABLE_DAYS,
        risk[0],
        risk[1],
    )


def _until_horizon(days: Floats, kind: Ints) -> tuple[Floats, Ints]:
    late = days > HORIZON_DAYS
    return np.where(late, HORIZON_DAYS, days), np.where(late, 0, kind)


def _weighted(adjusted: Adjusted, days: Floats, kind: Ints, way: bool) -> CumulativeIncidence | None:
    """Jobs weighted by one over the chance of what was done."""
    if adjusted.estimate is None or adjusted.chance is None or adjusted.kept is None:
        return None
    inside = adjusted.kept & (adjusted.compared.a == way)
    chance = adjusted.chance[inside]
    weight = 1 / chance if way else 1 / (1 - chance)
    return cumulative_incidence(days[inside], kind[inside], DEBRIS, weight=weight / weight.mean())
