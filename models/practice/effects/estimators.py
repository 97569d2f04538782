"""Effect of one of two ways on a mean outcome, adjusted, and standard errors by influence function.

Plain arrays of shape (n,): outcome `y`, `a` True where the practice was done, `chance` of doing it given what was
known before, `with_mean` and `without_mean` the outcome expected either way. Robins, Rotnitzky & Zhao 1994, JASA
89:846; its parts in Hernan & Robins, What If, chapters 12 (weighting) and 13 (standardisation).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Estimate:
    """Means with and without and their difference; `influence` (n, 2): of the two means, averages to 0."""

    with_mean: float
    without_mean: float
    influence: Floats

    @property
    def difference(self) -> float:
        """With less without."""
        return self.with_mean - self.without_mean

    @property
    def of_difference(self) -> Floats:
        """Influence of each job on the difference, shape (n,)."""
        return np.asarray(self.influence[:, 0] - self.influence[:, 1])

    def standard_error(self, cluster: Ints | None = None) -> float:
        """Of the difference; with `cluster` codes (n,) allowing jobs of one cluster to go together."""
        return influence_error(self.of_difference, cluster)


def influence_error(influence: Floats, cluster: Ints | None = None) -> float:
    """Standard error of a mean of influences (n,); clusters get the factor k / (k − 1)."""
    n = len(influence)
    if cluster is None:
        return float(np.sqrt((influence**2).sum()) / n)
    sums = np.bincount(cluster - cluster.min(), influence)
    held = np.unique(cluster).size
    return float(np.sqrt((sums**2).sum() * held / max(held - 1, 1)) / n)


def doubly_robust(y: Floats, a: Flags, chance: Floats, with_mean: Floats, without_mean: Floats) -> Estimate:
    """Augmented inverse-probability weighting: right if either the chance or the expected outcome is.

    The weights of either way are brought to average 1 (Hajek), steadier in small samples; with nothing expected
    (0, 0) it is the weighted mean of either way.
    """
    w, v = a / chance, ~a / (1 - chance)
    w, v = w / w.mean(), v / v.mean()
    first, second = with_mean + w * (y - with_mean), without_mean + v * (y - without_mean)
    means = float(first.mean()), float(second.mean())
    return Estimate(*means, np.column_stack([first - means[0], second - means[1]]))
