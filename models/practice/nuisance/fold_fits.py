"""One regression fitted again without each fold of the jobs, all folds at once.

From the fit on all jobs each of these is a short way off. Its curvature is that of all jobs less the fold's own, taken
once; only gradients are worked out again, for all folds in one pass over the jobs, until nothing moves. What comes out
is what fitting each by itself gives, to the tolerance of the steps.
"""

from __future__ import annotations

from dataclasses import replace
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from models.practice.nuisance.empirical_bayes_glm import (
    CONVERGED,
    Family,
    Shrunk,
    inverse_link,
    moved,
    priors,
    refit,
    weights,
)
from models.practice.nuisance.information_matrix import Curvature, Design, Solver, curvature, solver

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MOST_STEPS = 20
"""Steps with one curvature; a fold that has not come to rest by then is fitted by itself."""
LONGEST_STEP = 2.0
"""No coefficient of a logistic fit moves further at once: where all of a group went one way, whole steps overshoot."""


def without_each_fold(whole: Shrunk, design: Design, y: Floats, fold: Ints) -> list[tuple[Ints, Shrunk]]:
    """For every fold its rows, and `whole` fitted again on all other rows with the same priors."""
    rows = [np.flatnonzero(fold == number) for number in np.unique(fold)]
    solvers = _solvers(whole, design, rows)
    inside = np.zeros((len(y), len(rows)), dtype=bool)
    for at, own in enumerate(rows):
        inside[own, at] = True
    start = (np.tile(whole.coefficients[:, None], len(rows)), np.tile(whole.group_effect[:, None], len(rows)))
    found, last = start, np.full(len(rows), np.inf)
    for _ in range(MOST_STEPS):
        found, last = _step(whole, design, y, inside, solvers, found)
        if last.max() < CONVERGED:
            break
    fits = [replace(whole, coefficients=found[0][:, at], group_effect=found[1][:, at]) for at in range(len(rows))]
    return [
        (own, fit if step < CONVERGED else refit(whole, design.rows(fold != fold[own[0]]), y[fold != fold[own[0]]]))
        for own, fit, step in zip(rows, fits, last, strict=True)
    ]


def _solvers(whole: Shrunk, design: Design, rows: list[Ints]) -> list[Solver]:
    weight = weights(whole.predict(design), whole.family)
    parts = [curvature(design.rows(own), weight[own]) for own in rows]
    total = reduce(Curvature.plus, parts)
    return [solver(total.less(part), *priors(whole, design)) for part in parts]


def _step(
    whole: Shrunk,
    design: Design,
    y: Floats,
    inside: NDArray[np.bool_],
    solvers: list[Solver],
    found: tuple[Floats, Floats],
) -> tuple[tuple[Floats, Floats], Floats]:
    """Coefficients (p + 1, folds) and group intercepts (groups, folds) one step on, and the longest step by fold."""
    coefficients, effect = found
    penalty, group_penalty = priors(whole, design)
    eta = coefficients[0] + design.x @ coefficients[1:]
    if design.group is not None and design.groups:
        eta += np.where((design.group >= 0)[:, None], effect[design.group], 0.0)
    if design.offset is not None:
        eta += design.offset[:, None]
    residual = np.where(inside, 0.0, y[:, None] - inverse_link(eta, whole.family))
    gradient = np.vstack([residual.sum(axis=0), design.x.T @ residual]) - penalty[:, None] * coefficients
    steps = []
    for at, each in enumerate(solvers):
        slope = design.by_group(residual[:, at]) - group_penalty * effect[:, at]
        steps.append(_held_in(whole.family, *each.solve(gradient[:, at], slope)))
    step, group_step = (np.column_stack(each) for each in zip(*steps, strict=True))
    return (coefficients + step, effect + group_step), moved(step, group_step)


def _held_in(family: Family, step: Floats, group_step: Floats) -> tuple[Floats, Floats]:
    """Steps no longer than `LONGEST_STEP`; those of a linear fit as they are, since they end where they should."""
    if family == "linear":
        return step, group_step
    return np.clip(step, -LONGEST_STEP, LONGEST_STEP), np.clip(group_step, -LONGEST_STEP, LONGEST_STEP)
