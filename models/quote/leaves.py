"""Boosted trees taken apart by groups of features, so that reasons come from sums and not from re-running.

A leaf is reached when the conditions on its path hold. Sorted by group of features they can be asked of two
different jobs at once: the answers of some groups from a request, of the others from a past job.

This reads the fitted trees of scikit-learn, which are no public interface: the stored model refuses another
scikit-learn version, and a test holds the sums equal to `predict`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.quote.boosted import Trees
from models.quote.features import FEATURES, GROUPS

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

GROUP_NAMES: tuple[str, ...] = tuple(GROUPS)
GROUP_OF: NDArray[np.intp] = np.array([GROUP_NAMES.index(feature.group) for feature in FEATURES])
"""Index into `GROUP_NAMES` of each feature."""


@dataclass(frozen=True, slots=True, eq=False)
class Leaves:
    """Values (leaves,) and for each row whether a leaf's conditions on each group hold: (n, leaves, groups)."""

    values: Floats
    hold: Flags


def baseline(trees: Trees) -> float:
    """What the trees add to every job, on the log scale."""
    return float(np.ravel(trees.model._baseline_prediction)[0])


def leaves(trees: Trees, x: Floats) -> Leaves:
    """All leaves of all trees, asked of the feature rows (n, p)."""
    values: list[float] = []
    hold: list[Flags] = []
    read = x[:, trees.columns]
    for (predictor,) in trees.model._predictors:
        nodes = predictor.nodes
        todo = [(0, np.ones((len(x), len(GROUP_NAMES)), dtype=bool))]
        while todo:
            at, state = todo.pop()
            node = nodes[at]
            if node["is_leaf"]:
                values.append(float(node["value"]))
                hold.append(state)
                continue
            column = int(node["feature_idx"])
            goes_left = _goes_left(read[:, column], node)
            group = GROUP_OF[trees.columns[column]]
            todo.append((int(node["left"]), _and(state, group, goes_left)))
            todo.append((int(node["right"]), _and(state, group, ~goes_left)))
    return Leaves(np.array(values), np.stack(hold, axis=1))


def _goes_left(value: Floats, node: np.void) -> Flags:
    missing = np.isnan(value)
    return np.where(missing, bool(node["missing_go_to_left"]), value <= node["num_threshold"])


def _and(state: Flags, group: int, condition: Flags) -> Flags:
    found = state.copy()
    found[:, group] &= condition
    return found
