"""Linear and logistic regression whose coefficients are drawn towards 0 by as much as the data say.

The nuisance models of the adjustment. Columns come in blocks; the coefficients of a block share a normal prior
whose variance is estimated (penalised quasi-likelihood: Breslow & Clayton 1993, JASA 88:9), so that a firm of 300
jobs gets a simple model and a pool of 100,000 a flexible one, with no tuning. One block may be a group (engineer):
an intercept each, solved by the Schur complement of its diagonal, so that thousands of groups cost nothing.
With `variance` infinite a block is not drawn at all: ordinary least squares or maximum likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Family = Literal["logistic", "linear"]

ROUNDS = 30
STEPS_A_ROUND = 1
SETTLED = 0.02
"""Relative change of a variance below which it counts as found."""
CONVERGED = 1e-5
"""Largest step of a coefficient after which Newton stops: the next one would be about its square."""
MOST_STEPS = 50
LEARNT_ON = 20_000
"""Rows on which the variances are found; the coefficients come from all rows."""
_LEAST_VARIANCE = 1e-6
_MOST_VARIANCE = 100.0
_FIRST_VARIANCE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Columns (n, p) that need no scaling by the fit, the block of each column (p,), and a group code (n,) or None.

    Block −1 is never drawn to 0 (the practice itself); an intercept is always added and never drawn either.
    `groups` counts the codes 0..groups − 1; a code of −1 has no intercept of its own.
    """

    x: Floats
    block: Ints
    group: Ints | None = None
    groups: int = 0

    def rows(self, chosen: NDArray[np.bool_] | Ints) -> Design:
        """The design of some rows."""
        return Design(self.x[chosen], self.block, None if self.group is None else self.group[chosen], self.groups)


@dataclass(frozen=True, slots=True, eq=False)
class Shrunk:
    """A fitted regression: intercept first in `coefficients` (p + 1,), an intercept a group (groups,).

    `variances` by block, `group_variance`: of the priors; `dispersion` is the residual variance of a linear fit.
    """

    family: Family
    coefficients: Floats
    group_effect: Floats
    variances: dict[int, float] = field(default_factory=dict)
    group_variance: float = np.inf
    dispersion: float = 1.0
    covariance: Floats | None = None

    def score(self, design: Design) -> Floats:
        """Linear predictor, shape (n,)."""
        eta = self.coefficients[0] + design.x @ self.coefficients[1:]
        if design.group is not None and len(self.group_effect):
            eta = eta + np.where(design.group >= 0, self.group_effect[design.group], 0.0)
        return np.asarray(eta)

    def predict(self, design: Design) -> Floats:
        """Expected outcome, shape (n,)."""
        return inverse_link(self.score(design), self.family)


def inverse_link(eta: Floats, family: Family) -> Floats:
    """Expected outcome of a linear predictor."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(eta, -35, 35)))) if family == "logistic" else eta


def fit_shrunk(design: Design, y: Floats, family: Family) -> Shrunk:
    """Fit with the variances of the priors estimated. `y` (n,): 0/1, or any outcome whose mean is meant."""
    if len(y) > 2 * LEARNT_ON:
        some = np.random.default_rng(0).choice(len(y), LEARNT_ON, replace=False)
        return refit(fit_shrunk(design.rows(some), y[some], family), design, y)
    blocks = [int(b) for b in np.unique(design.block) if b >= 0]
    fit = Shrunk(family, _start(design, y, family), np.zeros(design.groups),
                 dict.fromkeys(blocks, _FIRST_VARIANCE), _FIRST_VARIANCE)  # fmt: skip
    for _ in range(ROUNDS):
        before = [*fit.variances.values(), fit.group_variance]
        fit, spread, group_spread = _improve(fit, design, y, STEPS_A_ROUND)
        fit = _with_variances(fit, design, spread, group_spread)
        after = [*fit.variances.values(), fit.group_variance]
        moved = [abs(a - b) / b for a, b in zip(after, before, strict=True) if np.isfinite(b) and b > _LEAST_VARIANCE]
        if max(moved, default=0.0) < SETTLED:
            break
    return refit(fit, design, y)


def fit_plain(design: Design, y: Floats, family: Family) -> Shrunk:
    """Ordinary least squares or maximum likelihood: nothing is drawn to 0, groups are not used."""
    bare = Design(design.x, np.full(len(design.block), -1))
    return refit(Shrunk(family, _start(bare, y, family), np.zeros(0)), bare, y)


def refit(fit: Shrunk, design: Design, y: Floats) -> Shrunk:
    """The same priors on other rows: Newton steps from where `fit` stands until nothing moves."""
    for _ in range(MOST_STEPS):
        before = fit.coefficients
        fit, _, _ = _improve(fit, design, y, 1)
        if np.abs(fit.coefficients - before).max() < CONVERGED:
            break
    return fit


def _start(design: Design, y: Floats, family: Family) -> Floats:
    start = np.zeros(design.x.shape[1] + 1)
    mean = float(np.mean(y))
    start[0] = np.log(np.clip(mean, 1e-3, 1 - 1e-3) / np.clip(1 - mean, 1e-3, 1.0)) if family == "logistic" else mean
    return start


def _improve(fit: Shrunk, design: Design, y: Floats, steps: int) -> tuple[Shrunk, Floats, Floats]:
    """Newton steps; also the posterior variances of the coefficients (p + 1,) and of the group intercepts."""
    for _ in range(steps):
        fit, covariance, group_spread = _newton(fit, design, y)
    return fit, np.diag(covariance).copy(), group_spread


def _newton(fit: Shrunk, design: Design, y: Floats) -> tuple[Shrunk, Floats, Floats]:
    x, eta = design.x, fit.score(design)
    mean = inverse_link(eta, fit.family)
    weight = np.maximum(mean * (1 - mean), 1e-6) if fit.family == "logistic" else np.ones(len(y))
    dispersion = 1.0 if fit.family == "logistic" else max(float(np.mean((y - mean) ** 2)), 1e-12)
    penalty = _penalty(fit, design) * dispersion
    weighted = x * weight[:, None]
    hessian = np.empty((x.shape[1] + 1,) * 2)
    hessian[0, 0], hessian[0, 1:] = weight.sum(), weighted.sum(axis=0)
    hessian[1:, 0], hessian[1:, 1:] = hessian[0, 1:], x.T @ weighted
    gradient = np.r_[(y - mean).sum(), x.T @ (y - mean)] - penalty * fit.coefficients
    hessian[np.diag_indices_from(hessian)] += penalty
    if design.group is None or not design.groups or np.isinf(fit.group_variance):
        covariance = _inverse(hessian)
        moved = Shrunk(fit.family, fit.coefficients + covariance @ gradient, fit.group_effect, fit.variances,
                       fit.group_variance, dispersion, dispersion * covariance)  # fmt: skip
        return moved, dispersion * covariance, np.zeros(design.groups)
    return _newton_with_groups(fit, design, (hessian, gradient), (weight, weighted, y - mean), dispersion)


def _newton_with_groups(
    fit: Shrunk, design: Design, own: tuple[Floats, Floats], parts: tuple[Floats, Floats, Floats], dispersion: float
) -> tuple[Shrunk, Floats, Floats]:
    hessian, gradient = own
    weight, weighted, residual = parts
    assert design.group is not None
    group = np.where(design.group >= 0, design.group, design.groups)
    size = design.groups + 1
    diagonal = np.bincount(group, weight, size)[:-1] + dispersion / fit.group_variance
    slope = np.bincount(group, residual, size)[:-1] - dispersion / fit.group_variance * fit.group_effect
    cross = np.empty((hessian.shape[0], design.groups))
    cross[0] = np.bincount(group, weight, size)[:-1]
    for at in range(weighted.shape[1]):
        cross[at + 1] = np.bincount(group, weighted[:, at], size)[:-1]
    shared = cross / diagonal
    covariance = _inverse(hessian - shared @ cross.T)
    step = covariance @ (gradient - shared @ slope)
    group_step = (slope - cross.T @ step) / diagonal
    spread: Floats = dispersion * (1 / diagonal + ((covariance @ shared) * shared).sum(axis=0))
    moved = Shrunk(fit.family, fit.coefficients + step, fit.group_effect + group_step, fit.variances,
                   fit.group_variance, dispersion, dispersion * covariance)  # fmt: skip
    return moved, dispersion * covariance, spread


def _inverse(hessian: Floats) -> Floats:
    """The inverse, or where a column says nothing of its own the pseudo-inverse."""
    try:
        return np.asarray(np.linalg.inv(hessian), dtype=np.float64)
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.pinv(hessian, hermitian=True), dtype=np.float64)


def _penalty(fit: Shrunk, design: Design) -> Floats:
    """Prior precision of each coefficient, the intercept first."""
    each = [0.0 if block < 0 else 1.0 / fit.variances.get(int(block), np.inf) for block in design.block]
    return np.array([0.0, *each])


def _with_variances(fit: Shrunk, design: Design, spread: Floats, group_spread: Floats) -> Shrunk:
    variances = {}
    for block, before in fit.variances.items():
        inside = np.r_[False, design.block == block]
        variances[block] = _variance(fit.coefficients[inside], spread[inside], before)
    group_variance = fit.group_variance
    if design.groups:
        group_variance = _variance(fit.group_effect, group_spread, group_variance)
    return replace(fit, variances=variances, group_variance=group_variance)


def _variance(effect: Floats, spread: Floats, before: float) -> float:
    """One round of the fixed point of MacKay 1992: Σb² over as many coefficients as the data determine."""
    determined = len(effect) - spread.sum() / before
    return float(np.clip((effect**2).sum() / max(determined, 1e-3), _LEAST_VARIANCE, _MOST_VARIANCE))
