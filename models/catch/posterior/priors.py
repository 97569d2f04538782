"""What past jobs say about an emitter before its first catch, and about a house from the emitters done.

The log of the kilograms in an emitter is a ridge line in its size, kind and cold spot and in the survey, plus an
effect of the house that all its emitters share, plus scatter of its own. The first emitters done
sharpen the house's effect and with it all those to come (empirical Bayes; method of moments for the two
variances).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.catch.posterior.cumulative_posterior import EMITTER_PACE, LEAST_KG, Pace
from models.catch.posterior.job_arrays import EMITTER_FEATURES, JobArrays
from models.catch.posterior.ridge import Ridge, fit_ridge
from models.catch.records.ragged_arrays import Floats

MIN_EMITTERS = 100
_OPEN_SHARE = 0.5  # of a pool's part that has not come yet, so much counts as error of its logarithm


@dataclass(frozen=True, slots=True, eq=False)
class EmitterPrior:
    """Log kilograms of an emitter: line, sd of the house's effect and of the emitter's own; belief about tau."""

    line: Ridge
    house_sd: float
    own_sd: float
    pace: Pace
    emitters: int

    def expected(self, arrays: JobArrays) -> Floats:
        """Mean log kilograms of each emitter of the job before any catch, shape (emitters,)."""
        return self.line.predict(_rows(arrays, np.arange(len(arrays.numbers))))

    def house_effect(self, log_kg: Floats, expected: Floats, to_come_share: Floats) -> tuple[float, float]:
        """Mean and sd of the house's effect from emitters that had the flow; arrays of shape (emitters,)."""
        open_part = to_come_share / (1.0 + to_come_share)
        variance = self.own_sd**2 + (2.0 * _OPEN_SHARE * open_part) ** 2
        precision = 1.0 / self.house_sd**2 + float((1.0 / variance).sum())
        return float(((log_kg - expected) / variance).sum()) / precision, float(np.sqrt(1.0 / precision))


def learn_pace(jobs: Sequence[JobArrays], pace: Pace = EMITTER_PACE) -> Pace:
    """Centre and spread of log tau over the emitters' whole curves, by their posteriors under `pace`."""
    last = [_last_rows(each) for each in jobs]
    mean = np.concatenate([each.own.log_tau[rows] for each, rows in zip(jobs, last, strict=True)])
    square = np.concatenate([each.own.log_tau_square[rows] for each, rows in zip(jobs, last, strict=True)])
    if len(mean) < MIN_EMITTERS:
        return pace
    centre = float(mean.mean())
    spread = float(np.sqrt(max(float(square.mean()) - centre**2, 0.2**2)))
    return replace(pace, tau_min=float(np.exp(centre)), spread=spread)


def learn_emitters(jobs: Sequence[JobArrays], pace: Pace) -> EmitterPrior | None:
    """The prior from whole past jobs; None where fewer than 100 emitters had the flow to themselves."""
    design, log_kg, house = [], [], []
    for number, each in enumerate(jobs):
        rows = _last_rows(each)
        if rows.size == 0:
            continue
        design.append(_rows(each, each.at[each.own_rows[rows]]))
        log_kg.append(pool_log_kg(each, rows))
        house.append(np.full(rows.size, number))
    if sum(len(part) for part in house) < MIN_EMITTERS or len(house) < 2:
        return None
    z, group = np.concatenate(log_kg), np.unique(np.concatenate(house), return_inverse=True)[1]
    line = fit_ridge(np.concatenate(design), z)
    house_sd, own_sd = _spreads(z - line.predict(np.concatenate(design)), group)
    return EmitterPrior(line, house_sd, own_sd, pace, len(z))


def pool_log_kg(arrays: JobArrays, rows: np.ndarray) -> Floats:
    """Log kilograms that an emitter held, from its curve after some weighings (`rows` of its prefix)."""
    pool = arrays.own.caught[rows] * (1.0 + arrays.own.to_come_share[rows])
    return np.asarray(np.log(np.maximum(pool, LEAST_KG)), dtype=float)


def _last_rows(arrays: JobArrays) -> np.ndarray:
    """Rows of the own prefix that are the last of their emitter."""
    at = arrays.at[arrays.own_rows]
    return np.flatnonzero(np.diff(at, append=-2) != 0) if at.size else np.zeros(0, dtype=np.intp)


def _rows(arrays: JobArrays, places: np.ndarray) -> Floats:
    survey = np.broadcast_to(arrays.survey, (len(places), arrays.survey.size))
    return np.hstack([arrays.emitters[places].reshape(len(places), len(EMITTER_FEATURES)), survey])


def _spreads(rest: Floats, group: np.ndarray) -> tuple[float, float]:
    """Between-house and within-house sd of residuals, by one-way analysis of variance; neither under 0.1."""
    count = np.bincount(group)
    mean = np.bincount(group, weights=rest) / count
    within = float(((rest - mean[group]) ** 2).sum()) / max(len(rest) - len(count), 1)
    between = float(np.mean(mean**2 - within / count))
    return max(between, 0.01) ** 0.5, max(within, 0.01) ** 0.5
