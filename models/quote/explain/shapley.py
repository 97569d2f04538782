"""Why the forecast is what it is: Shapley values over five groups of answers, in kilograms or minutes.

For every set of groups the median forecast is averaged over background jobs, the request's answers standing
in for those groups (interventional value); a group's amount is its average contribution over all orders in
which the groups could be revealed: Shapley (1953), as used by Lundberg and Lee (2017). (From memory.) Five
groups have 32 sets, so the values are exact; they sum to median − usual, usual being the background's mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import factorial

import numpy as np
from numpy.typing import NDArray

from models.quote.base.targets import TargetModel
from models.quote.estimator.boosted import Boosted
from models.quote.estimator.leaves import GROUP_NAMES, GROUP_OF, Leaves, baseline, leaves

Floats = NDArray[np.float64]

BACKGROUND_JOBS = 48
_CHUNK = 1000
_COUNT = len(GROUP_NAMES)
_SETS: tuple[frozenset[int], ...] = tuple(
    frozenset(c) for size in range(_COUNT + 1) for c in combinations(range(_COUNT), size)
)


@dataclass(frozen=True, slots=True, eq=False)
class Amounts:
    """`usual` and what each group adds (n, groups), in the target's unit."""

    usual: float
    amounts: Floats


def representative(order_by: Floats, count: int = BACKGROUND_JOBS) -> NDArray[np.intp]:
    """Rows of up to `count` jobs evenly spaced along a forecast (n,), from the least to the most."""
    n = len(order_by)
    order = np.argsort(order_by, kind="stable")
    if n <= count:
        return order
    return np.asarray(order[((np.arange(count) + 0.5) * n / count).astype(int)])


def explain(model: TargetModel, x: Floats, background: Floats) -> Amounts:
    """Reasons for the median forecast of each row (n, p) against background rows (b, p), b ≥ 1."""
    if not isinstance(model.placer, Boosted):
        return _by_size_alone(model, x, background)
    usual = 0.0
    parts = []
    for start in range(0, len(x), _CHUNK):
        value = _values(model, model.placer, x[start : start + _CHUNK], background)
        usual = float(value[frozenset()][0])
        parts.append(_shapley(value))
    return Amounts(usual, np.vstack(parts) if parts else np.zeros((0, _COUNT)))


def _by_size_alone(model: TargetModel, x: Floats, background: Floats) -> Amounts:
    """A rule counts emitters only: the whole difference from the usual job is the size's."""
    usual = float(model.to_unit(model.placer.place(background).centre).mean())
    amounts = np.zeros((len(x), _COUNT))
    amounts[:, GROUP_NAMES.index("size")] = model.to_unit(model.placer.place(x).centre) - usual
    return Amounts(usual, amounts)


def _values(model: TargetModel, fit: Boosted, x: Floats, background: Floats) -> dict[frozenset[int], Floats]:
    """Mean median forecast (n,) over the background for each set of groups taken from the request."""
    ours, theirs = _line_by_group(fit, x), _line_by_group(fit, background)
    constant = fit.line.intercept + fit.shift
    trees = None
    if fit.trees is not None:
        constant += baseline(fit.trees)
        trees = (leaves(fit.trees, x), leaves(fit.trees, background))
    found = {}
    for chosen in _SETS:
        inside = sorted(chosen)
        outside = [g for g in range(_COUNT) if g not in chosen]
        z = constant + ours[:, inside].sum(axis=1)[:, None] + theirs[:, outside].sum(axis=1)[None, :]
        if trees is not None:
            z = z + _trees_at(*trees, inside, outside)
        found[chosen] = model.to_unit(z).mean(axis=1)
    return found


def _line_by_group(fit: Boosted, x: Floats) -> Floats:
    parts = fit.parts(x)
    return np.stack([parts[:, GROUP_OF == g].sum(axis=1) for g in range(_COUNT)], axis=1)


def _trees_at(ours: Leaves, theirs: Leaves, inside: list[int], outside: list[int]) -> Floats:
    """Sum of the trees (n, b), groups `inside` answered by the request, `outside` by the background."""
    here = ours.reached(inside)
    there = theirs.reached(outside) * ours.values[:, None]
    return np.asarray(here.T @ there)


def _shapley(value: dict[frozenset[int], Floats]) -> Floats:
    n = len(value[frozenset()])
    amounts = np.zeros((n, _COUNT))
    for group in range(_COUNT):
        for chosen in _SETS:
            if group in chosen:
                continue
            size = len(chosen)
            weight = factorial(size) * factorial(_COUNT - size - 1) / factorial(_COUNT)
            amounts[:, group] += weight * (value[chosen | {group}] - value[chosen])
    return amounts
