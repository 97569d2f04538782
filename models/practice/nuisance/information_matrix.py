"""Sums over jobs that a regression is fitted from: gradients, curvature, and what solves the two.

An intercept for each group (engineer) is never a column: its part of the curvature is diagonal and is taken out by the
Schur complement. Sums run over blocks of rows, so that no second copy of a large design is made.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROWS_AT_ONCE = 4096
"""Rows whose weighted columns are held at a time: they stay in the processor's cache."""


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Columns (n, p) that need no scaling by the fit, the block of each column (p,), and a group code (n,) or None.

    Block −1 is never drawn to 0 (the practice itself); an intercept is always added and never drawn either.
    `groups` counts the codes 0..groups − 1; a code of −1 has no intercept of its own. `offset` (n,) is known of each
    row's linear predictor beforehand (of counts: the log of what they are counted over), or None.
    """

    x: Floats
    block: Ints
    group: Ints | None = None
    groups: int = 0
    offset: Floats | None = None

    def rows(self, chosen: NDArray[np.bool_] | Ints) -> Design:
        """The design of some rows."""
        group = None if self.group is None else self.group[chosen]
        offset = None if self.offset is None else self.offset[chosen]
        return Design(self.x[chosen], self.block, group, self.groups, offset)

    def by_group(self, values: Floats) -> Floats:
        """Sums of values (n,) within each group, shape (groups,); rows without a group are in none."""
        if self.group is None or not self.groups:
            return np.zeros(self.groups)
        belongs = np.where(self.group >= 0, self.group, self.groups)
        return np.asarray(np.bincount(belongs, values, self.groups + 1)[:-1], dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Curvature:
    """Minus the second derivatives of a log-likelihood without priors: of the intercept and the columns `own`
    (p + 1, p + 1), of the groups `diagonal` (groups,), of both together `cross` (p + 1, groups)."""

    own: Floats
    diagonal: Floats
    cross: Floats

    def less(self, part: Curvature) -> Curvature:
        """Without the rows that `part` is of."""
        return Curvature(self.own - part.own, self.diagonal - part.diagonal, self.cross - part.cross)

    def plus(self, part: Curvature) -> Curvature:
        """With the rows that `part` is of."""
        return Curvature(self.own + part.own, self.diagonal + part.diagonal, self.cross + part.cross)


@dataclass(frozen=True, slots=True, eq=False)
class Solver:
    """A curvature with priors, ready to solve: `covariance` (p + 1, p + 1) is its inverse in the columns."""

    covariance: Floats
    diagonal: Floats
    cross: Floats

    def solve(self, gradient: Floats, slope: Floats) -> tuple[Floats, Floats]:
        """Newton's step for gradients (p + 1, …) of the columns and (groups, …) of the groups."""
        divided = slope / self.diagonal.reshape(-1, *[1] * (slope.ndim - 1))
        step = self.covariance @ (gradient - self.cross @ divided)
        moved = (self.cross.T @ step) / self.diagonal.reshape(-1, *[1] * (slope.ndim - 1))
        return np.asarray(step), np.asarray(divided - moved)

    def group_spread(self) -> Floats:
        """Posterior variance of each group's intercept, shape (groups,), at a dispersion of 1."""
        shared = self.cross / self.diagonal
        return np.asarray(1 / self.diagonal + ((self.covariance @ shared) * shared).sum(axis=0))


def curvature(design: Design, weight: Floats) -> Curvature:
    """Of all rows, each with its weight (n,)."""
    n, p = design.x.shape
    own = np.zeros((p + 1, p + 1))
    own[0, 0] = weight.sum()
    own[0, 1:] = own[1:, 0] = weight @ design.x
    root = np.sqrt(weight)
    for first in range(0, n, ROWS_AT_ONCE):
        part = design.x[first : first + ROWS_AT_ONCE] * root[first : first + ROWS_AT_ONCE, None]
        own[1:, 1:] += part.T @ part
    if design.group is None or not design.groups:
        return Curvature(own, np.zeros(0), np.zeros((p + 1, 0)))
    diagonal, cross = design.by_group(weight), np.empty((p + 1, design.groups))
    cross[0] = diagonal
    belongs = np.where(design.group >= 0, design.group, design.groups)
    member = sparse.csc_matrix((weight, belongs, np.arange(n + 1)), shape=(design.groups + 1, n))
    cross[1:] = (member @ design.x)[:-1].T
    return Curvature(own, diagonal, cross)


def solver(curve: Curvature, penalty: Floats, group_penalty: float) -> Solver:
    """With the prior precision of each column (p + 1,) and of every group."""
    hessian = curve.own.copy()
    hessian[np.diag_indices_from(hessian)] += penalty
    diagonal = curve.diagonal + group_penalty
    covariance = _inverse(hessian - (curve.cross / diagonal) @ curve.cross.T)
    return Solver(covariance, diagonal, curve.cross)


def _inverse(hessian: Floats) -> Floats:
    """The inverse, or where a column says nothing of its own the pseudo-inverse."""
    try:
        return np.asarray(np.linalg.inv(hessian), dtype=np.float64)
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.pinv(hessian, hermitian=True), dtype=np.float64)
