"""Callbacks by the amount of a practice: days of pre-dose, every job given the same, all adjusted alike."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from models.practice.cohort.audited_jobs import HORIZON_DAYS, Records
from models.practice.cohort.censoring import FEWEST_AT_HORIZON, followed_to, outcomes_by_stratum, strata
from models.practice.effects.doubly_robust import standard_error
from models.practice.effects.verdicts import Z
from models.practice.nuisance.information_matrix import Design
from models.practice.nuisance.nuisance_fits import ITSELF, chances, crossed, deal, known_design
from models.practice.results.curve_results import DoseResponse

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

EDGES = (0.0, 1.0, 4.0, 8.0, 15.0, np.inf)
"""Days of pre-dose: none, 1 to 3, 4 to 7, 8 to 14, more. Fixed beforehand."""
FEWEST_JOBS, FEWEST_CALLBACKS = 30, 3
LOWEST_CHANCE = 0.02
"""A chance of a dose below this is raised to it: such a job would otherwise stand for too many."""
_EMPTY, _NONE = np.zeros(0), np.zeros(0, dtype=np.int64)


def predose_response(records: Records) -> DoseResponse:
    """Risk within the horizon if every job had had so many days of pre-dose."""
    days = np.asarray(records.frame["predose_days"].to_numpy(dtype=float))
    bins = np.digitize(days, EDGES[1:-1])
    in_time = records.is_event & (records.days <= HORIZON_DAYS)
    told = [at for at in range(len(EDGES) - 1) if _is_enough(records, bins == at, in_time)]
    if 0 not in told or len(told) < 2:
        return _refused("Too few jobs, callbacks or followed years at two different doses, one of them none.")
    rows = np.flatnonzero(np.isin(bins, told))
    dose = np.array([float(days[bins == at].mean()) for at in told])
    means, influence = _means(records, rows, np.searchsorted(told, bins[rows]), len(told))
    unit = records.unit[rows]
    error = np.array([standard_error(influence[:, at], unit) for at in range(len(told))])
    against = influence - influence[:, :1]
    off = np.array([standard_error(against[:, at], unit) for at in range(len(told))])
    difference = means - means[0]
    return DoseResponse(
        "predose_days",
        "Days of pre-dose",
        "days",
        float(dose[0]),
        dose,
        np.array([int((bins == at).sum()) for at in told]),
        np.clip(means, 0, 1),
        np.clip(means - Z * error, 0, 1),
        np.clip(means + Z * error, 0, 1),
        difference,
        difference - Z * off,
        difference + Z * off,
        trend_p(dose, means, influence, unit),
    )


def _is_enough(records: Records, inside: Flags, in_time: Flags) -> bool:
    followed = followed_to(records.days[inside], records.is_event[inside], HORIZON_DAYS)
    calls = int((inside & in_time).sum())
    return bool(inside.sum() >= FEWEST_JOBS and calls >= FEWEST_CALLBACKS and followed >= FEWEST_AT_HORIZON)


def _means(records: Records, rows: Ints, dose: Ints, doses: int) -> tuple[Floats, Floats]:
    """Doubly robust mean at each dose, and the influence (n, doses) of every job on it."""
    days, event = records.days[rows], records.is_event[rows]
    outcome = np.empty(len(rows))
    for at in range(doses):
        inside = dose == at
        codes = strata(
            np.zeros(inside.sum(), dtype=bool),
            records.leaves_early[rows][inside],
            days[inside],
            event[inside],
            HORIZON_DAYS,
            records.visit_day[rows][inside],
        )
        outcome[inside] = outcomes_by_stratum(codes, days[inside], event[inside], HORIZON_DAYS)
    design = known_design(records.known.beside("predose_days"), rows, records.engineer)
    fold = deal(dose > 0)
    expected = np.empty((len(rows), doses))
    for part, fit in crossed(_with_dose(design, dose, doses), outcome, "logistic", fold):
        for at in range(doses):
            expected[part, at] = fit.predict(_with_dose(design.rows(part), np.full(len(part), at), doses))
    means, influence = np.empty(doses), np.empty((len(rows), doses))
    for at in range(doses):
        weight = (dose == at) / np.maximum(chances(design, dose == at, fold), LOWEST_CHANCE)
        own = expected[:, at] + weight / weight.mean() * (outcome - expected[:, at])
        means[at], influence[:, at] = own.mean(), own - own.mean()
    return means, influence


def _with_dose(design: Design, dose: Ints, doses: int) -> Design:
    marks = np.column_stack([dose == at for at in range(1, doses)]).astype(float)
    block = np.r_[np.full(doses - 1, ITSELF), design.block].astype(np.int64)
    return Design(np.column_stack([marks, design.x]), block, design.group, design.groups)


def trend_p(dose: Floats, means: Floats, influence: Floats, unit: Ints) -> float:
    """p-value of a straight trend of the means over log(1 + dose): least squares, its error by influence."""
    x = np.log1p(dose) - np.log1p(dose).mean()
    weight = x / (x**2).sum()
    error = standard_error(influence @ weight, unit)
    return float(2 * stats.norm.sf(abs(means @ weight) / error))


def _refused(why: str) -> DoseResponse:
    return DoseResponse(
        "predose_days",
        "Days of pre-dose",
        "days",
        0.0,
        _EMPTY,
        _NONE,
        _EMPTY,
        _EMPTY,
        _EMPTY,
        _EMPTY,
        _EMPTY,
        _EMPTY,
        None,
        why,
    )
