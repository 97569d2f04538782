"""What is fitted on the way: the chance of a practice, and the outcome either way, for jobs that were not fitted on.

Cross-fitting (Chernozhukov et al. 2018, Econometrics J. 21:C1): jobs are dealt into folds, those of a fold get their
figures from a fit on the others. How strongly coefficients are drawn to 0 is found on all jobs once: a few variances.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from models.practice.cohort.confounders import BENDS, Known
from models.practice.nuisance.empirical_bayes_glm import Family, Shrunk, fit_shrunk
from models.practice.nuisance.fold_fits import without_each_fold
from models.practice.nuisance.information_matrix import Design

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

FOLDS = 5
BY_PRACTICE = 2
"""Block of the terms by which a practice does more in some houses than in others."""
ITSELF = -1


def deal(a: Flags, folds: int = FOLDS, seed: int = 0) -> Ints:
    """Fold (n,) of every job, at random, those with and without the practice spread evenly."""
    rng = np.random.default_rng(seed)
    fold = np.empty(len(a), dtype=np.int64)
    for way in (False, True):
        rows = np.flatnonzero(a == way)
        fold[rng.permutation(rows)] = np.arange(len(rows)) % folds
    return fold


def known_design(known: Known, rows: Flags | Ints, engineer: Ints | None) -> Design:
    """The list of confounders for some jobs, with an intercept an engineer; what never varies there is left out."""
    x = known.x[rows]
    varies = x.std(axis=0) > 1e-9 if len(x) else np.zeros(x.shape[1], dtype=bool)
    x = x if varies.all() else np.compress(varies, x, axis=1)  # rows stay together in memory: fits run along them
    if engineer is None:
        return Design(x, known.block[varies])
    named = engineer[rows]
    distinct, codes = np.unique(named[named >= 0], return_inverse=True)
    group = np.full(len(named), -1, dtype=np.int64)
    group[named >= 0] = codes
    return Design(x, known.block[varies], group, len(distinct))


def with_practice(design: Design, a: Floats) -> Design:
    """The same with the practice itself, and what it does more in some houses: by every term that has a bend."""
    keen = _bent(design)
    x = np.column_stack([a, design.x, a[:, None] * design.x[:, keen]])
    block = np.r_[ITSELF, design.block, np.full(len(keen), BY_PRACTICE)].astype(np.int64)
    return Design(x, block, design.group, design.groups, design.offset)


def _bent(design: Design) -> Ints:
    """Straight terms directly before a bend."""
    bends = np.flatnonzero(design.block == BENDS)
    first = [at - 1 for at in bends if at > 0 and design.block[at - 1] != BENDS]
    return np.array(first, dtype=np.int64)


def crossed(design: Design, y: Floats, family: Family, fold: Ints) -> list[tuple[Ints, Shrunk]]:
    """For every fold its rows, and the fit on all other rows."""
    return without_each_fold(fit_shrunk(design, y, family), design, y, fold)


def chances(design: Design, a: Flags, fold: Ints) -> Floats:
    """Chance (n,) of the practice given the list and the engineer, from the other folds."""
    chance = np.empty(len(a))
    for rows, fit in crossed(design, a.astype(float), "logistic", fold):
        chance[rows] = fit.predict(design.rows(rows))
    return chance


def expected(design: Design, a: Flags, y: Floats, family: Family, fold: Ints) -> tuple[Floats, Floats]:
    """Outcome (n,) expected with the practice and without it, from the other folds."""
    means = np.empty((2, len(a)))
    for rows, fit in crossed(with_practice(design, a.astype(float)), y, family, fold):
        part = design.rows(rows)
        for at, way in enumerate((1.0, 0.0)):
            means[at, rows] = fit.predict(with_practice(part, np.full(len(rows), way)))
    return means[0], means[1]
