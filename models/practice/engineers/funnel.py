"""Engineers compared fairly: callbacks seen against those expected from the jobs each was given.

Limits of Spiegelhalter 2005 (Stat. Med. 24:1185): exact, interpolated between counts; over-dispersion by an additive
spread between engineers, found after drawing in the outer tenth at either end (Winsorising). Shrinkage is the gamma
prior of the same spread. No order, no rank; below `FEWEST_JOBS` or `FEWEST_EXPECTED` nothing of an engineer is shown.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from models.practice.cohort.audited_jobs import Records
from models.practice.engineers.casemix import Expected
from models.practice.results.engineer_results import EngineerPoint, Funnel, Place

Floats = NDArray[np.float64]
FEWEST_JOBS = 20
FEWEST_EXPECTED = 1.0
FEWEST_ENGINEERS = 3
WINSOR = 0.1
LEAST_SPREAD = 0.2
"""Spread of true ratios between engineers assumed where the records show none (assumption)."""
P_95, P_998 = (0.025, 0.975), (0.001, 0.999)
_EMPTY = np.zeros(0)


def poisson_limit(expected: Floats | float, p: float) -> Floats:
    """Limit of observed / expected that a Poisson count falls below with chance `p`, interpolated, not below 0.

    r is the smallest count with P(R ≤ r) > p; the limit is (r − (F(r) − p) / (F(r) − F(r − 1))) / expected.
    """
    mean = np.asarray(expected, dtype=float)
    r = stats.poisson.ppf(p, mean)
    r = np.where(stats.poisson.cdf(r, mean) > p, r, r + 1)
    above, mass = stats.poisson.cdf(r, mean), stats.poisson.pmf(r, mean)
    return np.asarray(np.maximum((r - (above - p) / mass) / mean, 0.0))


def over_dispersion(z: Floats, error: Floats, winsor: float = WINSOR) -> tuple[float, float]:
    """Mean squared z after Winsorising `winsor` at either end, and the additive variance between units.

    `z` = (value − target) / error. τ² = (I·φ − (I − 1)) / (Σw − Σw² / Σw), w = 1 / error², not below 0.
    """
    drawn = np.clip(z, *np.quantile(z, (winsor, 1 - winsor))) if winsor > 0 else z
    units, phi, w = len(z), float(np.mean(drawn**2)), 1 / error**2
    between = (units * phi - (units - 1)) / (w.sum() - (w**2).sum() / w.sum())
    return phi, max(float(between), 0.0)


def funnel(records: Records, expected: Expected | None, overall_risk: float) -> Funnel:
    """Every engineer of the records on one funnel."""
    if expected is None or records.engineers == 0:
        return _no_funnel("No engineer can be compared: too few debris callbacks, or no engineer is named.")
    named = records.engineer >= 0
    count = np.bincount(records.engineer[named], minlength=records.engineers)
    seen, due = (
        np.bincount(records.engineer[named], x[named], records.engineers) for x in (expected.seen, expected.cumulated)
    )
    shown = (count >= FEWEST_JOBS) & (due >= FEWEST_EXPECTED)
    if shown.sum() < FEWEST_ENGINEERS:
        return _no_funnel(
            f"Fewer than {FEWEST_ENGINEERS} engineers have {FEWEST_JOBS} jobs each and {FEWEST_EXPECTED:.0f} debris "
            "callback to expect; there is nobody to compare with."
        )
    phi, tau2, wide = _spread(seen[shown], due[shown])
    points = [
        _point(
            str(row.firm_id),
            str(row.engineer_id),
            int(count[at]),
            float(seen[at]),
            float(due[at]),
            tau2,
            overall_risk,
            is_shown=bool(shown[at]),
        )
        for at, row in enumerate(_names(records).itertuples())
    ]
    grid = np.geomspace(FEWEST_EXPECTED, max(float(due[shown].max()) * 1.2, 10.0), 80)
    engineers = tuple(sorted(points, key=lambda each: (each.firm_id, each.engineer_id)))
    return Funnel(
        engineers,
        overall_risk,
        FEWEST_JOBS,
        grid,
        phi=phi,
        tau=float(np.sqrt(tau2)),
        is_over_dispersed=wide,
        **_limits(grid, tau2),
    )


def _names(records: Records) -> pd.DataFrame:
    """`firm_id` and `engineer_id` of every engineer, by number."""
    named = records.engineer >= 0
    first = np.unique(records.engineer[named], return_index=True)[1]
    return records.frame.loc[named, ["firm_id", "engineer_id"]].iloc[first]


def _spread(seen: NDArray[Any], due: NDArray[Any]) -> tuple[float, float, bool]:
    """Over-dispersion φ, spread τ² between engineers (0 where chance explains φ), and whether chance does not."""
    error = 1 / np.sqrt(due)
    phi, tau2 = over_dispersion((seen / due - 1) / error, error)
    wide = bool(len(due) * phi > stats.chi2.ppf(0.95, len(due)))
    return phi, tau2 if wide else 0.0, wide


def _limits(grid: Floats, tau2: float) -> dict[str, Any]:
    """The eight lines of the funnel by the names of their fields."""
    lines = {"low_95": P_95[0], "high_95": P_95[1], "low_998": P_998[0], "high_998": P_998[1]}
    exact = {name: poisson_limit(grid, p) for name, p in lines.items()}
    return {f"exact_{name}": limit for name, limit in exact.items()} | {
        f"wide_{name}": widened(grid, limit, tau2) for name, limit in exact.items()
    }


def widened(expected: Floats, limit: Floats, tau2: float) -> Floats:
    """An exact limit of the ratio moved out by the spread between units: its distance from 1 × √(1 + τ²·expected)."""
    return np.asarray(np.maximum(1 + (limit - 1) * np.sqrt(1 + tau2 * expected), 0.0))


def _point(
    firm: str, engineer: str, jobs: int, seen: float, due: float, tau2: float, overall: float, *, is_shown: bool
) -> EngineerPoint:
    if not is_shown:
        nothing: dict[str, Any] = dict.fromkeys(each.name for each in fields(EngineerPoint))
        return EngineerPoint(
            **nothing | {"firm_id": firm, "engineer_id": engineer, "jobs": jobs, "place": "too few jobs"}
        )
    limits = [float(widened(np.array(due), poisson_limit(due, p), tau2)) for p in (*P_95, *P_998)]
    ratio = seen / due
    shrunk, low, high = shrink(seen, due, tau2)
    place: Place = "within limits"
    if ratio < limits[2]:
        place = "fewer than expected"
    elif ratio > limits[3]:
        place = "more than expected"
    return EngineerPoint(
        firm,
        engineer,
        jobs,
        round(seen),
        due,
        ratio,
        seen / jobs,
        min(ratio * overall, 1.0),
        limits[0],
        limits[1],
        limits[2],
        limits[3],
        shrunk,
        low,
        high,
        place,
    )


def shrink(seen: float, due: float, tau2: float) -> tuple[float, float, float]:
    """Posterior mean and 95 % interval of a ratio: Poisson count, gamma prior with mean 1 and variance `tau2`, taken as
    at least `LEAST_SPREAD`²: that none was seen between engineers does not show that there is none."""
    tau2 = max(tau2, LEAST_SPREAD**2)
    shape, rate = 1 / tau2 + seen, 1 / tau2 + due
    low, high = stats.gamma.ppf(P_95, shape, scale=1 / rate)
    return shape / rate, float(low), float(high)


def _no_funnel(why: str) -> Funnel:
    nothing: dict[str, Any] = dict.fromkeys(_limits(np.ones(1), 0.0), _EMPTY)
    return Funnel((), None, FEWEST_JOBS, _EMPTY, phi=None, tau=None, is_over_dispersed=False, refused=why, **nothing)
