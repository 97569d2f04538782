"""Past jobs nearest to a request in what was known at survey, with what they gave.

Each survey answer is scaled by its spread over the records (amounts as logarithms); a missing answer counts
as the median. The distance is the root mean square over the answers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from models.quote.base.quote_result import SimilarJob
from models.quote.estimator.ridge_on_log import transformed
from models.survey_features import FEATURES, POSITION
from pipeline.contract import BUILT

if TYPE_CHECKING:
    from models.quote.base.past_jobs import History

Floats = NDArray[np.float64]

NEAREST = 5
NEWEST = 5000
"""Only the newest jobs are searched, so that ten thousand requests stay quick."""

_CHUNK = 500
_SURVEY = np.array([BUILT["ftr_quote"].column(feature.column).known_by == "survey" for feature in FEATURES])
_OUTCOMES = ("magnetite_kg", "non_magnetic_kg", "site_minutes")


@dataclass(frozen=True, slots=True, eq=False)
class Neighbours:
    """m past jobs: scaled survey answers (m, s), keys (m,), and facts shown (m, 5) with NaN.

    The facts are emitters, age in years, magnetite_kg, non_magnetic_kg, site_minutes.
    """

    middle: Floats
    spread: Floats
    scaled: Floats
    firm_ids: NDArray[np.str_]
    job_ids: NDArray[np.str_]
    system_types: NDArray[np.str_]
    facts: Floats

    def nearest(self, x: Floats) -> list[tuple[SimilarJob, ...]]:
        """For each request (n, p) the nearest past jobs, nearest first."""
        count = min(NEAREST, len(self.scaled))
        if count == 0:
            return [() for _ in x]
        found: list[tuple[SimilarJob, ...]] = []
        for start in range(0, len(x), _CHUNK):
            distance = self._distances(x[start : start + _CHUNK])
            rows = np.argpartition(distance, count - 1, axis=1)[:, :count]
            for i, row in enumerate(rows):
                ordered = row[np.lexsort((row, distance[i, row]))]
                found.append(tuple(self._job(int(r), float(distance[i, r])) for r in ordered))
        return found

    def _distances(self, x: Floats) -> Floats:
        asked = _scaled(x, self.middle, self.spread)
        square = (asked**2).sum(axis=1)[:, None] + (self.scaled**2).sum(axis=1)[None, :]
        square = square - 2 * asked @ self.scaled.T
        return np.asarray(np.sqrt(np.maximum(square, 0.0) / asked.shape[1]))

    def _job(self, row: int, distance: float) -> SimilarJob:
        emitters, age, magnetite, other, site = (_or_none(v) for v in self.facts[row])
        return SimilarJob(
            firm_id=str(self.firm_ids[row]),
            job_id=str(self.job_ids[row]),
            distance=distance,
            emitter_count=None if emitters is None else int(emitters),
            age_years=age,
            system_type=str(self.system_types[row]),
            magnetite_kg=magnetite,
            non_magnetic_kg=other,
            site_minutes=site,
        )


def neighbours(past: History) -> Neighbours:
    """The newest past jobs, ready to be searched."""
    x = past.x[-NEWEST:]
    frame = past.frame.iloc[-NEWEST:]
    survey = transformed(x)[:, _SURVEY]
    middle, spread = np.zeros(survey.shape[1]), np.full(survey.shape[1], np.inf)
    for i, values in enumerate(survey.T):
        known = values[np.isfinite(values)]
        if len(known) and known.std() > 1e-9:
            middle[i], spread[i] = float(np.median(known)), float(known.std())
    shown = [x[:, POSITION["emitter_count"]], x[:, POSITION["age_years"]]]
    shown += [past.targets[name][-NEWEST:] for name in _OUTCOMES]  # type: ignore[index]
    return Neighbours(
        middle,
        spread,
        _scaled(x, middle, spread),
        frame["firm_id"].to_numpy().astype(str),
        frame["job_id"].to_numpy().astype(str),
        frame["system_type"].fillna("").to_numpy().astype(str),
        np.stack(shown, axis=1),
    )


def survey_distance(near: Neighbours, row: Floats, past: Floats, *, without: NDArray[np.intp]) -> Floats:
    """Distance (n,) of past feature rows (n, p) from one row (p,), some features left out of it."""
    used = np.isin(np.flatnonzero(_SURVEY), without, invert=True)
    apart = _scaled(past, near.middle, near.spread) - _scaled(row[None, :], near.middle, near.spread)
    return np.asarray(np.sqrt((apart[:, used] ** 2).mean(axis=1)))


def _scaled(x: Floats, middle: Floats, spread: Floats) -> Floats:
    """Survey answers in units of their spread; missing ones and those that never varied are 0."""
    return np.nan_to_num((transformed(x)[:, _SURVEY] - middle) / spread, nan=0.0)


def _or_none(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
