"""Seven quantiles of a forecast: the shape in which every forecast leaves a model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

LEVELS: dict[str, float] = {"p05": 0.05, "p10": 0.10, "p25": 0.25, "p50": 0.50, "p75": 0.75, "p90": 0.90, "p95": 0.95}


@dataclass(frozen=True, slots=True)
class Quantiles:
    """Quantiles of one quantity, in its own unit; they never cross."""

    p05: float
    p10: float
    p25: float
    p50: float
    p75: float
    p90: float
    p95: float

    @classmethod
    def from_sample(cls, sample: ArrayLike) -> Quantiles:
        """Quantiles of a sample of draws, shape (n,)."""
        return cls.of_rows(np.asarray(sample, dtype=float)[None, :])[0]

    @classmethod
    def of_rows(cls, samples: ArrayLike) -> list[Quantiles]:
        """Quantiles of each row of draws, samples (rows, n), n at least 2: as `numpy.quantile` gives them, many
        times as fast."""
        ordered = np.sort(np.asarray(samples, dtype=float), axis=1)
        at = np.array(list(LEVELS.values())) * (ordered.shape[1] - 1)
        below = np.floor(at).astype(np.intp)
        low, high, part = ordered[:, below], ordered[:, np.minimum(below + 1, ordered.shape[1] - 1)], at - below
        step = high - low
        found = np.where(part < 0.5, low + step * part, high - step * (1.0 - part))
        return [cls(*row) for row in found.tolist()]

    @classmethod
    def from_values(cls, values: ArrayLike) -> Quantiles:
        """Quantiles from seven values in the order of `LEVELS`; sorted, so that they never cross."""
        return cls(*(float(v) for v in np.sort(np.asarray(values, dtype=float))))

    def as_dict(self) -> Mapping[str, float]:
        """`{"p05": …, …, "p95": …}`."""
        return {field.name: getattr(self, field.name) for field in fields(self)}
