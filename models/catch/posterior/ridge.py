"""Ridge regression that takes missing answers: the strength is chosen by generalised cross-validation.

A missing value enters as the median of the records and raises a flag of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.records.ragged_arrays import Floats

STRENGTHS = (1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0, 3000.0, 10000.0)


@dataclass(frozen=True, slots=True, eq=False)
class Ridge:
    """`intercept + Σ weight · (value − usual) + Σ flag · (value missing)`; arrays have shape (features,)."""

    intercept: float
    usual: Floats
    weights: Floats
    flags: Floats

    def predict(self, x: Floats) -> Floats:
        """Forecast, shape (n,), of rows (n, features); NaN where not known."""
        missing = ~np.isfinite(x)
        value = np.where(missing, 0.0, x - self.usual)
        return np.asarray(self.intercept + value @ self.weights + missing @ self.flags, dtype=float)


@dataclass(frozen=True, slots=True, eq=False)
class RidgeDesign:
    """Rows made ready for any number of fits: standardised columns, their usual values, means and scales, the
    weights, the eigenvalues and vectors of their products, and how many of the rows count as told independently."""

    columns: Floats
    usual: Floats
    mean: Floats
    scale: Floats
    weight: Floats
    values: Floats
    vectors: Floats
    independent: float


def design(x: Floats, weight: Floats | None = None, independent: float | None = None) -> RidgeDesign:
    """Rows x (n, features), each counting `weight` (n,) times; the dear part of a fit, shared by several.

    `independent` is how many of the rows stand for themselves: moments of one job are wrong together, and taken
    one by one they would let a line follow single jobs.
    """
    n = len(x)
    w = np.ones(n) if weight is None else weight * n / weight.sum()
    known = np.isfinite(x)
    usual = np.array([np.median(x[k, i]) if k.any() else 0.0 for i, k in enumerate(known.T)])
    filled = np.hstack([np.where(known, x, usual) - usual, ~known])
    mean = w @ filled / n
    filled -= mean
    sd = np.sqrt(w @ filled**2 / n)
    scale = np.where(sd > 1e-9, sd, np.inf)  # a column that never varied gets no weight
    filled *= np.sqrt(w)[:, None] / scale
    values, vectors = np.linalg.eigh(filled.T @ filled)
    return RidgeDesign(filled, usual, mean, scale, w, np.maximum(values, 0.0), vectors, float(independent or n))


def fit_ridge(x: Floats, z: Floats, weight: Floats | None = None) -> Ridge:
    """Fit z (n,) on x (n, features), each row counting `weight` (n,) times; n at least 2."""
    return fit(design(x, weight), z)


def fit(rows: RidgeDesign, z: Floats) -> Ridge:
    """Fit z (n,) on rows made ready.

    The strength with the least generalised cross-validation error: Golub, Heath and Wahba (1979),
    Technometrics 21:215 (from memory).
    """
    centre = float(rows.weight @ z / len(z))
    aim = np.sqrt(rows.weight) * (z - centre)
    weights = _solve(rows, aim) / rows.scale
    p = len(rows.usual)
    return Ridge(centre - float(rows.mean @ weights), rows.usual, weights[:p], weights[p:])


def _solve(rows: RidgeDesign, aim: Floats) -> Floats:
    """Weights of standardised columns at the best of `STRENGTHS`."""
    values, vectors = rows.values, rows.vectors
    along = vectors.T @ (rows.columns.T @ aim)
    seen = np.where(values > 1e-9 * values[-1], along**2 / np.maximum(values, 1e-12), 0.0)
    square, n = float(aim @ aim), rows.independent
    errors = []
    for strength in STRENGTHS:
        shrink = values / (values + strength)
        rest = square - float(((2 * shrink - shrink**2) * seen).sum())
        errors.append(rest / (n - shrink.sum()) ** 2 if shrink.sum() < n else np.inf)
    best = STRENGTHS[int(np.argmin(errors))]
    return np.asarray(vectors @ (along / (values + best)), dtype=float)
