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
Bits = NDArray[np.uint8]

GROUP_NAMES: tuple[str, ...] = tuple(GROUPS)
GROUP_OF: NDArray[np.intp] = np.array([GROUP_NAMES.index(feature.group) for feature in FEATURES])
"""Index into `GROUP_NAMES` of each feature."""


@dataclass(frozen=True, slots=True, eq=False)
class Leaves:
    """Values (leaves,), and bits (leaves, n): bit g is set where a leaf's conditions on group g all hold."""

    values: Floats
    hold: Bits

    def reached(self, groups: list[int]) -> Floats:
        """1.0 where the conditions on all of these groups hold, else 0.0: (leaves, n)."""
        mask = bits_of(groups)
        return np.asarray((self.hold & mask) == mask, dtype=float)


def bits_of(groups: list[int]) -> np.uint8:
    """The groups as bits."""
    return np.uint8(sum(1 << g for g in groups))


def baseline(trees: Trees) -> float:
    """What the trees add to every job, on the log scale."""
    return float(np.ravel(trees.model._baseline_prediction)[0])


def leaves(trees: Trees, x: Floats) -> Leaves:
    """All leaves of all trees, asked of the feature rows (n, p)."""
    values: list[float] = []
    hold: list[Bits] = []
    read = np.ascontiguousarray(x[:, trees.columns].T)
    everything = np.full(len(x), bits_of(list(range(len(GROUP_NAMES)))), dtype=np.uint8)
    for (predictor,) in trees.model._predictors:
        nodes = predictor.nodes
        todo = [(0, everything)]
        while todo:
            at, state = todo.pop()
            node = nodes[at]
            if node["is_leaf"]:
                values.append(float(node["value"]))
                hold.append(state)
                continue
            column = int(node["feature_idx"])
            goes_left = _goes_left(read[column], node)
            bit = bits_of([int(GROUP_OF[trees.columns[column]])])
            todo.append((int(node["left"]), _unless(state, bit, ~goes_left)))
            todo.append((int(node["right"]), _unless(state, bit, goes_left)))
    return Leaves(np.array(values), np.stack(hold))


def _goes_left(value: Floats, node: np.void) -> Flags:
    missing = np.isnan(value)
    return np.where(missing, bool(node["missing_go_to_left"]), value <= node["num_threshold"])


def _unless(state: Bits, bit: np.uint8, fails: Flags) -> Bits:
    """The state with the bit cleared where the condition fails."""
    return np.where(fails, state & ~bit, state)
