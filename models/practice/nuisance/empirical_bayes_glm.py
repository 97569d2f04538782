"""Linear, logistic and Poisson regression whose coefficients are drawn towards 0 by as much as the data say.

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

from models.practice.nuisance.information_matrix import Design, Solver, curvature, solver

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Family = Literal["logistic", "linear", "poisson"]

ROUNDS = 30
SETTLED = 0.02
"""Relative change of a variance below which it counts as found."""
CONVERGED = 1e-5
"""Largest step of a coefficient after which Newton stops: the next one would be about its square."""
MOST_STEPS = 200
"""A fit is at rest after some 5; one of few jobs told apart by many columns can want 60."""
SAFE = 0.5
"""A step that moves no job's linear predictor further is taken whole: no weight changes by as much as twice on the way,
so the fit gets better. A longer one is halved until it does; taken whole, a fit can swing for ever."""
MOST_HALVINGS = 40
SLOW = 0.3
"""A step longer than this share of the one before asks for a new curvature."""
LEARNT_ON = 8_000
"""Rows on which the variances are found; the coefficients come from all rows."""
MOST_ETA = 20.0
"""Log of the largest count expected of a row."""
_LEAST_VARIANCE = 1e-6
_MOST_VARIANCE = 9.0
"""One spread of a column then moves the odds twentyfold: a wider prior would let a fit learn callbacks by heart. Of a
linear fit in units of the outcome's variance."""
_FIRST_VARIANCE = 0.1


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

    def score(self, design: Design) -> Floats:
        """Linear predictor, shape (n,)."""
        eta = self.coefficients[0] + design.x @ self.coefficients[1:]
        if design.group is not None and len(self.group_effect):
            eta = eta + np.where(design.group >= 0, self.group_effect[design.group], 0.0)
        return np.asarray(eta if design.offset is None else eta + design.offset)

    def predict(self, design: Design) -> Floats:
        """Expected outcome, shape (n,)."""
        return inverse_link(self.score(design), self.family)


def inverse_link(eta: Floats, family: Family) -> Floats:
    """Expected outcome of a linear predictor."""
    if family == "poisson":
        return np.asarray(np.exp(np.minimum(eta, MOST_ETA)))
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(eta, -35, 35)))) if family == "logistic" else eta


def _cumulant(eta: Floats, family: Family) -> Floats:
    """What the log-likelihood takes off for a linear predictor: its slope is the expected outcome."""
    return np.asarray(np.exp(np.minimum(eta, MOST_ETA)) if family == "poisson" else np.logaddexp(0.0, eta))


def fit_shrunk(design: Design, y: Floats, family: Family) -> Shrunk:
    """Fit with the variances of the priors estimated. `y` (n,): 0/1, a count, or any outcome whose mean is meant."""
    if len(y) > 2 * LEARNT_ON:
        some = np.random.default_rng(0).choice(len(y), LEARNT_ON, replace=False)
        return refit(fit_shrunk(design.rows(some), y[some], family), design, y)
    blocks = [int(b) for b in np.unique(design.block) if b >= 0]
    fit = Shrunk(
        family,
        _start(design, y, family),
        np.zeros(design.groups),
        dict.fromkeys(blocks, _FIRST_VARIANCE),
        _FIRST_VARIANCE,
    )
    most = _MOST_VARIANCE * (max(float(np.var(y)), _LEAST_VARIANCE) if family == "linear" else 1.0)
    for _ in range(ROUNDS):
        before = [*fit.variances.values(), fit.group_variance]
        fit, solved, _ = _newton(fit, design, y)
        fit = _with_variances(fit, design, solved, most)
        after = [*fit.variances.values(), fit.group_variance]
        moved = [abs(a - b) / b for a, b in zip(after, before, strict=True) if np.isfinite(b) and b > _LEAST_VARIANCE]
        if max(moved, default=0.0) < SETTLED:
            break
    return refit(fit, design, y)


def fit_plain(design: Design, y: Floats, family: Family) -> Shrunk:
    """Ordinary least squares or maximum likelihood: nothing is drawn to 0, groups are not used."""
    bare = Design(design.x, np.full(len(design.block), -1, dtype=np.int64), offset=design.offset)
    return refit(Shrunk(family, _start(bare, y, family), np.zeros(0)), bare, y)


def refit(fit: Shrunk, design: Design, y: Floats) -> Shrunk:
    """The same priors on other rows: steps from where `fit` stands until nothing moves.

    Newton's, with the curvature worked out again only where a step is not much shorter than the one before.
    """
    solved, last = None, np.inf
    for _ in range(MOST_STEPS):
        fit, solved, step = _newton(fit, design, y, solved)
        if step < CONVERGED:
            break
        if step > SLOW * last:
            solved = None
        last = step
    return fit


def _start(design: Design, y: Floats, family: Family) -> Floats:
    start = np.zeros(design.x.shape[1] + 1)
    mean = float(np.mean(y))
    if family == "poisson":
        over = float(len(y) if design.offset is None else np.exp(design.offset).sum())
        start[0] = np.log(max(float(y.sum()), 0.5) / over)
        return start
    start[0] = np.log(np.clip(mean, 1e-3, 1 - 1e-3) / np.clip(1 - mean, 1e-3, 1.0)) if family == "logistic" else mean
    return start


def _newton(fit: Shrunk, design: Design, y: Floats, solved: Solver | None = None) -> tuple[Shrunk, Solver, float]:
    """One step of Newton; what it was solved with (`solved`, or the curvature where `fit` stands); how long it is."""
    if np.isinf(fit.group_variance):
        design = Design(design.x, design.block, offset=design.offset)
    eta = fit.score(design)
    mean = inverse_link(eta, fit.family)
    dispersion = max(float(np.mean((y - mean) ** 2)), 1e-12) if fit.family == "linear" else 1.0
    fit = replace(fit, dispersion=dispersion)
    penalty, group_penalty = priors(fit, design)
    if solved is None:
        solved = solver(curvature(design, weights(mean, fit.family)), penalty, group_penalty)
    residual = y - mean
    gradient = np.r_[residual.sum(), residual @ design.x] - penalty * fit.coefficients
    slope = np.zeros(0)
    if len(solved.diagonal):
        slope = design.by_group(residual) - group_penalty * fit.group_effect
    step, group_step = solved.solve(gradient, slope)
    effect = fit.group_effect + group_step if len(slope) else fit.group_effect
    whole = replace(fit, coefficients=fit.coefficients + step, group_effect=effect)
    share = 1.0 if fit.family == "linear" else _share_of_step(fit, whole, design, y, eta)
    if share < 1:
        whole = replace(
            whole,
            coefficients=fit.coefficients + share * step,
            group_effect=fit.group_effect + share * (effect - fit.group_effect),
        )
    return whole, solved, float(moved(step, group_step))


def _share_of_step(fit: Shrunk, whole: Shrunk, design: Design, y: Floats, eta: Floats) -> float:
    """How much of the way from one fit to the next to go: 1, or a half so often that the fit gets better.

    What is made larger, log-likelihood less priors, has one maximum, and Newton's step points uphill.
    """
    change = whole.score(design) - eta
    if np.abs(change).max(initial=0.0) <= SAFE:
        return 1.0
    penalty, group_penalty = priors(fit, design)
    ways = (
        (penalty, fit.coefficients, whole.coefficients - fit.coefficients),
        (group_penalty, fit.group_effect, whole.group_effect - fit.group_effect),
    )
    before, share = _cumulant(eta, fit.family), 1.0
    for _ in range(MOST_HALVINGS):
        gain = float((y * share * change - _cumulant(eta + share * change, fit.family) + before).sum())
        gain -= sum(float((each * way * share * (at + share * way / 2)).sum()) for each, at, way in ways)
        if gain > 0:
            break
        share /= 2
    return share


def moved(step: Floats, group_step: Floats) -> Floats:
    """Longest step of a coefficient, or a tenth of the longest of a group; by column where there are several."""
    return np.asarray(np.maximum(np.abs(step).max(axis=0), np.abs(group_step).max(axis=0, initial=0.0) / 10))


def weights(mean: Floats, family: Family) -> Floats:
    """Curvature of the log-likelihood at each expected outcome."""
    if family == "poisson":
        return np.asarray(np.maximum(mean, 1e-6))
    return np.asarray(np.maximum(mean * (1 - mean), 1e-6)) if family == "logistic" else np.ones(mean.shape)


def priors(fit: Shrunk, design: Design) -> tuple[Floats, float]:
    """Prior precision of each coefficient (p + 1,), the intercept first, and of the groups, times the dispersion."""
    each = [0.0 if block < 0 else 1.0 / fit.variances.get(int(block), np.inf) for block in design.block]
    return fit.dispersion * np.array([0.0, *each]), fit.dispersion / fit.group_variance


def _with_variances(fit: Shrunk, design: Design, solved: Solver, most: float) -> Shrunk:
    spread, variances = fit.dispersion * np.diag(solved.covariance), {}
    for block, before in fit.variances.items():
        inside = np.r_[False, design.block == block]
        variances[block] = _variance(fit.coefficients[inside], spread[inside], before, most)
    group_variance = fit.group_variance
    if design.groups:
        spread = fit.dispersion * solved.group_spread()
        group_variance = _variance(fit.group_effect, spread, group_variance, most)
    return replace(fit, variances=variances, group_variance=group_variance)


def _variance(effect: Floats, spread: Floats, before: float, most: float) -> float:
    """One round of the fixed point of MacKay 1992: Σb² over as many coefficients as the data determine."""
    determined = len(effect) - spread.sum() / before
    return float(np.clip((effect**2).sum() / max(determined, 1e-3), _LEAST_VARIANCE, most))
