"""Ridge regression that takes missing answers: the strength is chosen by generalised cross-validation.

A missing value enters as the median of the records and raises a flag of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.catch.ragged import Floats

STRENGTHS = (1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0)


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


def fit_ridge(x: Floats, z: Floats, weight: Floats | None = None) -> Ridge:
    """Fit z (n,) on x (n, features), each row counting `weight` (n,) times; n at least 2.

    The strength with the least generalised cross-validation error: Golub, Heath and Wahba (1979),
    Technometrics 21:215 (from memory).
    """
    w = np.ones(len(z)) if weight is None else weight * len(z) / weight.sum()
    known = np.isfinite(x)
    usual = np.array([np.median(x[k, i]) if k.any() else 0.0 for i, k in enumerate(known.T)])
    design = np.hstack([np.where(known, x, usual) - usual, ~known])
    mean = (w[:, None] * design).sum(axis=0) / w.sum()
    sd = np.sqrt((w[:, None] * (design - mean) ** 2).sum(axis=0) / w.sum())
    scale = np.where(sd > 1e-9, sd, np.inf)  # a column that never varied gets no weight
    root = np.sqrt(w)
    centre = float((w * z).sum() / w.sum())
    standard, aim = root[:, None] * (design - mean) / scale, root * (z - centre)
    weights = _solve(standard, aim) / scale
    p = x.shape[1]
    return Ridge(centre - float(mean @ weights), usual, weights[:p], weights[p:])


def _solve(standard: Floats, aim: Floats) -> Floats:
    """Weights of standardised columns at the best of `STRENGTHS`."""
    values, vectors = np.linalg.eigh(standard.T @ standard)
    values = np.maximum(values, 0.0)
    along = vectors.T @ (standard.T @ aim)
    seen = np.where(values > 1e-9 * values[-1], along**2 / np.maximum(values, 1e-12), 0.0)
    square, n = float(aim @ aim), len(aim)
    errors = []
    for strength in STRENGTHS:
        shrink = values / (values + strength)
        rest = square - float(((2 * shrink - shrink**2) * seen).sum())
        errors.append(rest / (n - shrink.sum()) ** 2 if shrink.sum() < n else np.inf)
    best = STRENGTHS[int(np.argmin(errors))]
    return np.asarray(vectors @ (along / (values + best)), dtype=float)
