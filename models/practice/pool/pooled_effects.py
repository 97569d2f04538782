"""Several firms together: each firm's own effect, and a random-effects mean over them.

DerSimonian & Laird 1986 (Control. Clin. Trials 7:177) for the spread between firms, the interval of Hartung & Knapp
2001 (Stat. Med. 20:3875) never narrower than the usual one, prediction interval of Higgins et al. 2009. Below
`FEWEST_FIRMS` with figures of their own nothing is pooled: a mean of two firms would give each away to the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from models.practice.cohort.audited_jobs import Records
from models.practice.effects.doubly_robust import FEWEST_CALLBACKS, FEWEST_CALLBACKS_EITHER, Adjusted, standard_error
from models.practice.effects.verdicts import LEVEL, Z
from models.practice.results.pool_results import FirmEffect, PooledEffect

Floats = NDArray[np.float64]
FEWEST_FIRMS = 5
FEWEST_JOBS = 30
"""Jobs in the smaller group of a firm, for a figure of its own."""


@dataclass(frozen=True, slots=True)
class Pooled:
    """Random-effects mean with its interval, prediction interval, spread `tau`, share I², Q and its p-value."""

    mean: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    tau: float
    i_squared: float
    q: float
    q_p_value: float


def random_effects(effect: Floats, error: Floats) -> Pooled:
    """Pool estimates (k,) with their standard errors (k,); k at least 3. ValueError below."""
    k = len(effect)
    if k < 3:
        raise ValueError(f"pooling needs at least 3 estimates; there are {k}")
    w = 1 / error**2
    q = float((w * (effect - (w @ effect) / w.sum()) ** 2).sum())
    tau2 = max((q - (k - 1)) / (w.sum() - (w**2).sum() / w.sum()), 0.0)
    v = 1 / (error**2 + tau2)
    mean = float(v @ effect / v.sum())
    knapp = float((v * (effect - mean) ** 2).sum() / (k - 1))
    spread = np.sqrt(max(knapp, 1.0) / v.sum())
    half = float(stats.t.ppf(0.5 + LEVEL / 2, k - 1) * spread)
    further = float(stats.t.ppf(0.5 + LEVEL / 2, k - 2) * np.sqrt(tau2 + spread**2))
    return Pooled(
        mean,
        mean - half,
        mean + half,
        mean - further,
        mean + further,
        float(np.sqrt(tau2)),
        max((q - (k - 1)) / q, 0.0) if q > 0 else 0.0,
        q,
        float(stats.chi2.sf(q, k - 1)),
    )


def pooled_effect(records: Records, adjusted: Adjusted) -> PooledEffect | None:
    """A contrast over the firms of the records; None where all jobs are of one firm.

    A firm's effect is the mean of its jobs' own contributions; the fits are those of all firms, engineers apart,
    the follow-up is that of the first year.
    """
    rows = adjusted.compared.rows
    name = records.frame["firm_id"].to_numpy(dtype=str)
    if np.unique(name).size < 2:
        return None
    contrast = adjusted.compared.contrast
    if adjusted.estimate is None or adjusted.kept is None:
        return _not_pooled(contrast.name, contrast.label, (), 0, len(rows), adjusted.refused)
    firms = _firms(records, adjusted, name[rows][adjusted.kept])
    own = [each for each in firms if each.difference is not None]
    jobs = sum(each.jobs for each in own)
    if len(own) < FEWEST_FIRMS:
        have = {0: "No firm has", 1: "1 firm has"}.get(len(own), f"{len(own)} firms have")
        told = f"{have} enough jobs and callbacks for a figure; {FEWEST_FIRMS} firms are the least for a pool."
        return _not_pooled(contrast.name, contrast.label, firms, len(own), jobs, told)
    effect = np.array([each.difference for each in own], dtype=float)
    pooled = random_effects(effect, np.array([each.standard_error for each in own], dtype=float))
    return PooledEffect(
        contrast.name,
        contrast.label,
        firms,
        len(own),
        jobs,
        pooled.mean,
        pooled.low,
        pooled.high,
        pooled.prediction_low,
        pooled.prediction_high,
        pooled.tau,
        pooled.i_squared,
        pooled.q,
        pooled.q_p_value,
    )


def _firms(records: Records, adjusted: Adjusted, name: NDArray[np.str_]) -> tuple[FirmEffect, ...]:
    assert adjusted.by_job is not None
    assert adjusted.kept is not None
    a, seen = adjusted.compared.a[adjusted.kept], adjusted.compared.in_time[adjusted.kept]
    own = adjusted.by_job.of_difference + adjusted.by_job.difference
    unit, out = records.unit[adjusted.compared.rows][adjusted.kept], []
    for firm in np.unique(name):
        inside = name == firm
        jobs = int((inside & a).sum()), int((inside & ~a).sum())
        calls = int((inside & a & seen).sum()), int((inside & ~a & seen).sum())
        if min(jobs) < FEWEST_JOBS or sum(calls) < FEWEST_CALLBACKS or min(calls) < FEWEST_CALLBACKS_EITHER:
            told = f"Too few for a figure of its own: {jobs[0]} and {jobs[1]} jobs, {sum(calls)} debris callbacks."
            out.append(FirmEffect(str(firm), sum(jobs), None, None, None, None, told))
            continue
        mean = float(own[inside].mean())
        error = standard_error(own[inside] - mean, unit[inside])
        out.append(FirmEffect(str(firm), sum(jobs), mean, error, mean - Z * error, mean + Z * error))
    return tuple(out)


def _not_pooled(
    contrast: str, label: str, firms: tuple[FirmEffect, ...], used: int, jobs: int, why: str
) -> PooledEffect:
    return PooledEffect(contrast, label, firms, used, jobs, None, None, None, None, None, None, None, None, None, why)
