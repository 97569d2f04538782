"""How a job is to be flushed, apart from what the house is like: kilograms that its ways bring beyond the usual ways.

One house is asked twice: flushed as planned, and flushed in the ways of a sample of the book's jobs, the mean of those
being its usual kilograms. Everything else (house, signs, who leads, crew, machine) stays as it is, so what is told is
moved by the way of flushing alone. What a plan does not say is left at the usual ways.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from models.quote.base.targets import Placement, TargetModel
from models.quote.estimator.boosted import Boosted
from models.quote.estimator.leaves import baseline, leaves
from models.survey_features import FEATURE_NAMES, FEATURES, POSITIONS

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

WAYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "predose_days": ("predose_days", "predose_label_ratio"),
        "heat_source": ("heat_source", "heater_kw"),
        "connection": ("connection",),
        "isolation": ("isolation",),
        "agitation": ("agitation",),
    }
)
"""Ways of flushing that a plan can name, each with the columns of `ftr_quote` that belong to it."""

_OTHER = 0


def _way_of() -> NDArray[np.intp]:
    """Number of the way that each feature belongs to, from 1; 0 for all else."""
    number = {column: at for at, columns in enumerate(WAYS.values(), start=1) for column in columns}
    return np.array([number.get(feature.column, _OTHER) for feature in FEATURES])


WAY_OF: NDArray[np.intp] = _way_of()
COLUMNS: NDArray[np.intp] = np.flatnonzero(WAY_OF)
"""Positions of the features that are ways of flushing."""
WAY_FEATURES: tuple[str, ...] = tuple(FEATURE_NAMES[at] for at in COLUMNS)
"""Their names, in order: they are stored with what was learnt."""

SAMPLE = 48
_CHUNK = 500


def usual_ways(x: Floats) -> Floats:
    """Up to `SAMPLE` rows (m, k) of the columns `COLUMNS` that stand for the ways of all the jobs x (n, p).

    Taken evenly from the jobs in order of their ways, so that each way keeps its share.
    """
    ways = x[:, COLUMNS]
    if len(ways) > SAMPLE:
        order = np.lexsort(np.nan_to_num(ways, nan=-1.0).T[::-1])
        ways = ways[order[((np.arange(SAMPLE) + 0.5) * len(ways) / SAMPLE).astype(int)]]
    return np.asarray(ways)


def said(x: Floats) -> Flags:
    """Which of `WAYS` each row (n, p) says: (n, ways)."""
    return np.stack([np.isfinite(x[:, POSITIONS[way]]).any(axis=1) for way in WAYS], axis=1)


def kilograms_moved(
    model: TargetModel, placed: Placement, scores: Floats, x: Floats, ways: Floats, counted: Flags
) -> Floats:
    """Mean kilograms (n,) of the rows x (n, p) flushed as said, less those in the usual ways (m, k).

    `counted` (n, ways): which of the ways of a row take part, the others are left at the usual. `placed` is where
    `model` puts the rows, `scores` (s,) those of the joint scenarios, over which the mean goes. Nought where a rule
    that knows no way of flushing makes the forecast.
    """
    fit = model.placer
    if not isinstance(fit, Boosted) or not len(ways) or not counted.any():
        return np.zeros(len(x))
    parts = [
        _ratios(fit, x[rows], ways, counted[rows])
        for rows in (slice(start, start + _CHUNK) for start in range(0, len(x), _CHUNK))
    ]
    spread = np.exp(placed.scale[:, None] * scores[None, :]).mean(axis=1)
    return np.asarray(np.concatenate(parts) * spread)


def _ratios(fit: Boosted, x: Floats, ways: Floats, counted: Flags) -> Floats:
    """Middle kilograms of each row in its own counted ways, less the mean over the usual ways (n,)."""
    others = np.full((len(ways), x.shape[1]), np.nan)
    others[:, COLUMNS] = ways
    ours, theirs = _by_way(fit, x), _by_way(fit, others)
    constant, trees = fit.line.intercept + fit.shift, None
    if fit.trees is not None:
        constant += baseline(fit.trees)
        trees = leaves(fit.trees, x, WAY_OF), leaves(fit.trees, others, WAY_OF)

    def mean(rows: NDArray[np.intp], own: list[int]) -> Floats:
        usual = [way for way in range(1, len(WAYS) + 1) if way not in own]
        own = [_OTHER, *own]
        some = slice(None if usual else 1)  # with nothing left at the usual ways, all of them give the same
        z = constant + ours[rows][:, own].sum(axis=1)[:, None] + theirs[some, usual].sum(axis=1)[None, :]
        if trees is not None:
            here, there = trees
            z = z + here.reached(own)[:, rows].T @ (there.reached(usual)[:, some] * here.values[:, None])
        return np.asarray(np.exp(z).mean(axis=1))

    moved = np.zeros(len(x))
    for plan in np.unique(counted, axis=0):
        if plan.any():
            rows = np.flatnonzero((counted == plan).all(axis=1))
            moved[rows] = mean(rows, (np.flatnonzero(plan) + 1).tolist()) - mean(rows, [])
    return moved


def _by_way(fit: Boosted, x: Floats) -> Floats:
    parts = fit.parts(x)
    return np.stack([parts[:, WAY_OF == way].sum(axis=1) for way in range(len(WAYS) + 1)], axis=1)
