"""Where a request lies outside the records it would be judged by, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from models.survey_features import FEATURES, amounts
from pipeline.contract import BUILT

Floats = NDArray[np.float64]

_WORDS: Mapping[str, tuple[str, str, str]] = MappingProxyType(
    {
        "age_years": ("age", "the oldest in the records is", "the newest in the records is"),
        "emitter_count": ("emitters", "the most in the records is", "the fewest in the records is"),
        "system_volume_l": ("system volume", "the largest in the records is", "the smallest in the records is"),
        "cold_count": ("cold emitters", "the most in the records is", "the fewest in the records is"),
        "topups_per_year": ("top-ups a year", "the most in the records is", "the fewest in the records is"),
        "crew_size": ("people on site", "the most in the records is", "the fewest in the records is"),
        "predose_days": ("days of pre-dose", "the most in the records is", "the fewest in the records is"),
    }
)
"""Name, words for the highest, words for the lowest; other columns use the contract's meaning."""

_UNITLESS = ("count", "pH", "share", "ratio", "days", "1/year", "")


@dataclass(frozen=True, slots=True, eq=False)
class Ranges:
    """Lowest and highest known value of each feature over the records, (p,); NaN: never known."""

    low: Floats
    high: Floats

    @classmethod
    def of(cls, x: Floats) -> Ranges:
        """Ranges of the feature rows (n, p)."""
        x = amounts(x)
        known = np.isfinite(x)
        low = np.min(x, axis=0, where=known, initial=np.inf)
        high = np.max(x, axis=0, where=known, initial=-np.inf)
        ever = known.any(axis=0)
        return cls(np.where(ever, low, np.nan), np.where(ever, high, np.nan))

    def outside(self, x: Floats) -> list[tuple[str, ...]]:
        """For each request (n, p) a sentence for every answer outside the records."""
        x = amounts(x)
        above, below = x > self.high, x < self.low
        unseen = np.isfinite(x) & np.isnan(self.high)
        out: list[tuple[str, ...]] = [() for _ in x]
        for row, i in zip(*np.nonzero(above | below | unseen), strict=True):
            said = self._sentence(int(i), float(x[row, i]), is_above=bool(above[row, i]))
            if said and said not in out[row]:
                out[row] = (*out[row], said)
        return out

    def _sentence(self, i: int, value: float, *, is_above: bool) -> str:
        feature = FEATURES[i]
        column = BUILT["ftr_quote"].column(feature.column)
        if feature.choice is not None:
            label = column.meaning.lower()
            return f"{label} {feature.choice}: none such in the records" if value == 1 else ""
        if np.isnan(self.high[i]):
            return f"{column.meaning.lower()}: not known for any job in the records"
        fallback = (column.meaning, "the highest in the records is", "the lowest in the records is")
        name, highest, lowest = _WORDS.get(column.name, fallback)
        bound = self.high[i] if is_above else self.low[i]
        if column.kind == "yes_no":
            return f"{name.lower()}: every job in the records has the other answer"
        unit = "" if column.unit in _UNITLESS else f" {column.unit}"
        return f"{name} {value:.4g}{unit}: {highest if is_above else lowest} {bound:.4g}"
