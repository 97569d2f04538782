"""Seven quantiles of a forecast: the shape in which every forecast leaves a model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

LEVELS: dict[str, float] = {
    "p05": 0.05, "p10": 0.10, "p25": 0.25, "p50": 0.50, "p75": 0.75, "p90": 0.90, "p95": 0.95,
}  # fmt: skip


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
        return cls(*(float(v) for v in np.quantile(np.asarray(sample, dtype=float), list(LEVELS.values()))))

    @classmethod
    def from_values(cls, values: ArrayLike) -> Quantiles:
        """Quantiles from seven values in the order of `LEVELS`; sorted, so that they never cross."""
        return cls(*(float(v) for v in np.sort(np.asarray(values, dtype=float))))

    def as_dict(self) -> Mapping[str, float]:
        """`{"p05": …, …, "p95": …}`."""
        return {field.name: getattr(self, field.name) for field in fields(self)}
