"""Boosted trees taken apart by groups of features, so that reasons come from sums and not from re-running.

A leaf is reached when the conditions on its path hold. Sorted by group of features they can be asked of two
different jobs at once: the answers of some groups from a request, of the others from a past job.

A test holds the sums equal to the forecast of the fitted library.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.quote.estimator.trees import Trees
from models.survey_features import FEATURES, GROUPS

Floats = NDArray[np.float64]
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
    return float(trees.forest.start[0])


def leaves(trees: Trees, x: Floats, group_of: NDArray[np.intp] = GROUP_OF) -> Leaves:
    """All leaves of all trees, asked of the feature rows (n, p). `group_of` (p,): each feature's group, of eight."""
    forest = trees.forest
    read = forest.code(x[:, trees.columns]).T
    everything = bits_of(list(range(int(group_of.max()) + 1)))
    state = np.full((len(forest.feature), len(x)), everything, dtype=np.uint8)
    for depth in range(1, int(forest.depth.max(initial=0)) + 1):
        nodes = np.flatnonzero(forest.depth == depth)
        above = forest.parent[nodes]
        column = forest.feature[above]
        bit = np.uint8(1) << group_of[trees.columns[column]].astype(np.uint8)
        is_left = forest.children[above, 1] == nodes
        holds = forest.goes_left(above[:, None], read[column]) == is_left[:, None]
        state[nodes] = np.where(holds, state[above], state[above] & ~bit[:, None])
    ends = forest.children[:, 0] == np.arange(len(forest.feature))
    return Leaves(forest.value[ends], state[ends])
