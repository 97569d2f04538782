"""A ridge regression on the log scale whose chosen coefficients may not be negative.

The boosted forecast starts from it: trees then need to learn only what a line cannot follow, and beyond the
records the forecast goes on as a power law instead of standing still. Amounts enter as logarithms;
a missing answer enters as the median of the records and raises its own flag. It goes on as far again as the records
reach, and no further: a slope learnt from two heaters of 2.8 and 3.0 kW says nothing of one of 9 kW.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.survey_features import FEATURE_NAMES, amounts
from models.threads import threads_for

Floats = NDArray[np.float64]

LOGARITHMIC = frozenset(
    {
        "system_volume_l",
        "emitter_count",
        "mean_emitter_length_mm",
        "long_emitter_count",
        "boiler_output_kw",
        "age_years",
        "years_since_clean",
        "cold_count",
        "topups_per_year",
        "survey_conductivity_us_cm",
        "survey_turbidity_ntu",
        "survey_iron_mg_l",
        "predose_days",
        "machine_max_flow_l_min",
        "main_bore_mm",
    }
)
"""Amounts that enter as log(1 + value): their effect is taken as a power law."""

_LOG = np.array([name in LOGARITHMIC for name in FEATURE_NAMES])


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """`intercept + Σ weight · transformed answer + Σ flag · (answer missing)`; arrays are (p,).

    Transformed answers below `low` or above `high` count as those.
    """

    intercept: float
    usual: Floats
    weights: Floats
    flags: Floats
    low: Floats
    high: Floats

    def parts(self, x: Floats) -> Floats:
        """What each feature adds on the log scale, (n, p); the intercept is apart."""
        return self._parts_of(transformed(x))

    def predict(self, x: Floats) -> Floats:
        """Forecast (n,) on the log scale of the feature rows (n, p)."""
        return self.predict_values(transformed(x))

    def predict_values(self, value: Floats) -> Floats:
        """Forecast (n,) of columns (n, p) that are transformed already; NaN is missing."""
        return np.asarray(self.intercept + self._parts_of(value).sum(axis=1))

    def _parts_of(self, value: Floats) -> Floats:
        missing = ~np.isfinite(value)
        value = np.where(missing, self.usual, np.clip(value, self.low, self.high)) - self.usual
        return np.asarray(value * self.weights + missing * self.flags)


def transformed(x: Floats) -> Floats:
    """Features (n, p) with amounts as log(1 + value), NaN kept; a name is none and becomes NaN."""
    x = amounts(x)
    return np.where(_LOG, np.log1p(np.maximum(x, 0.0)), x)


def fit_line(x: Floats, z: Floats, rising: tuple[str, ...], *, trust: float = 1.0) -> Line:
    """Ridge fit of z (n,) on the features (n, p); weights of `rising` features are kept at 0 or above."""
    return fit_values(transformed(x), z, np.array([name in rising for name in FEATURE_NAMES]), trust=trust)


def fit_values(value: Floats, z: Floats, rising: NDArray[np.bool_], *, trust: float = 1.0) -> Line:
    """The same for columns (n, p) that are transformed already, NaN where missing; `rising` (p,) marks those bounded.

    The strength is the best of five by generalised cross-validation without the bounds. All weights are
    then multiplied by `trust`, which leaves the mean forecast of these jobs as it is.
    """
    p = value.shape[1]
    known = np.isfinite(value)
    usual = np.array([np.median(value[k, i]) if k.any() else 0.0 for i, k in enumerate(known.T)])
    design = np.hstack([np.where(known, value, usual) - usual, ~known])
    mean, sd = design.mean(axis=0), design.std(axis=0)
    scale = np.where(sd > 1e-9, sd, np.inf)  # a column that never varied gets no weight
    bounded = np.concatenate([rising, np.zeros(p, dtype=bool)])
    weights = trust * _bounded_ridge((design - mean) / scale, z - z.mean(), bounded) / scale
    low, high = _reach(value)
    return Line(float(z.mean() - mean @ weights), usual, weights[:p], weights[p:], low, high)


def _reach(value: Floats) -> tuple[Floats, Floats]:
    """How far each column (n, p) may go: its range of known values, and as far again on either side."""
    known = np.isfinite(value)
    low = np.min(value, axis=0, where=known, initial=np.inf)
    high = np.max(value, axis=0, where=known, initial=-np.inf)
    ever = known.any(axis=0)
    low, high = np.where(ever, low, 0.0), np.where(ever, high, 0.0)
    return 2 * low - high, 2 * high - low


def _bounded_ridge(standard: Floats, z: Floats, bounded: NDArray[np.bool_]) -> Floats:
    """Ridge weights of standardised columns, those marked `bounded` not below 0.

    Only the cross products are solved, so that the work does not grow with the square of the jobs.
    """
    from scipy.linalg import cholesky, solve_triangular
    from scipy.optimize import lsq_linear

    with threads_for(len(z)):  # after the imports, so that their threads are counted too
        gram, along = standard.T @ standard, standard.T @ z
        alpha = _strength(gram, along, float(z @ z), len(z))
        upper = cholesky(gram + alpha * np.eye(len(gram)))
        aim = solve_triangular(upper, along, trans=1)
        low = np.where(bounded, 0.0, -np.inf)
        found = lsq_linear(upper, aim, bounds=(low, np.inf), method="bvls").x
    return np.asarray(np.where(bounded, np.maximum(found, 0.0), found))


def _strength(gram: Floats, along: Floats, square: float, n: int) -> float:
    """Ridge strength with the least generalised cross-validation error (Golub, Heath and Wahba 1979).

    `gram` X'X (p, p), `along` X'z (p,), `square` z'z, of n rows.
    """
    values, vectors = np.linalg.eigh(gram)
    values = np.maximum(values, 0.0)
    seen = np.where(values > 1e-9 * values[-1], (vectors.T @ along) ** 2, 0.0) / np.maximum(values, 1e-12)
    best, chosen = np.inf, 1.0
    for alpha in (3.0, 10.0, 30.0, 100.0, 300.0):
        shrink = values / (values + alpha)
        rest = square - float(np.sum((2 * shrink - shrink**2) * seen))
        error = rest / (n - shrink.sum()) ** 2
        if error < best:
            best, chosen = error, alpha
    return chosen
