"""Past jobs as arrays: survey and plan answers, what each job gave and took, in order of time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.quote.base.quote_result import TARGETS, Target
from models.quote.base.targets import SPECS
from models.survey_features import as_numbers, encode

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """n finished jobs in order of time: `frame` as ftr_quote, features `x` (n, p), targets (n,) with NaN.

    `days` are the visit dates (n,), datetime64[D]; `second_day` is 1, 0 or NaN.
    """

    frame: pd.DataFrame
    x: Floats
    days: NDArray[np.datetime64]
    targets: Mapping[Target, Floats]
    second_day: Floats

    def __len__(self) -> int:
        return len(self.frame)

    def at(self, rows: NDArray[np.intp]) -> History:
        """Some of the jobs, in the order of `rows`."""
        targets = {target: values[rows] for target, values in self.targets.items()}
        frame = self.frame.iloc[rows].reset_index(drop=True)
        return History(frame, self.x[rows], self.days[rows], targets, self.second_day[rows])

    @property
    def window(self) -> tuple[date | None, date | None]:
        """First and last day of the records."""
        if len(self) == 0:
            return None, None
        return self.days[0].astype(object), self.days[-1].astype(object)

    @property
    def simulated_share(self) -> float:
        """Share of the jobs that the simulator made; 0 without jobs."""
        if len(self) == 0 or "is_simulated" not in self.frame.columns:
            return 0.0
        return float(np.nanmean(np.nan_to_num(as_numbers(self.frame["is_simulated"]))))


def history(features: pd.DataFrame, outcomes: pd.DataFrame) -> History:
    """Join `ftr_quote` and `ftr_outcome` by job, in order of time.

    ValueError when a job stands twice in either: a job must never be on both sides of a split.
    """
    keys = ["firm_id", "job_id"]
    wanted = [*keys, *TARGETS, "is_second_day"]
    results = outcomes[[name for name in wanted if name in outcomes.columns]]
    try:
        joined = features.merge(results, on=keys, how="inner", validate="one_to_one")
    except pd.errors.MergeError as error:
        raise ValueError(f"one row a job is needed: {error}") from None
    joined = joined.assign(visit_date=pd.to_datetime(joined["visit_date"]))
    joined = joined.sort_values(["visit_date", *keys], kind="stable", ignore_index=True)
    targets = {target: _target(joined, target) for target in TARGETS}
    unknown = pd.Series(np.nan, index=joined.index)
    second = as_numbers(joined.get("is_second_day", unknown))
    days = joined["visit_date"].to_numpy().astype("datetime64[D]")
    return History(joined[list(features.columns)], encode(joined), days, targets, second)


def _target(joined: pd.DataFrame, target: Target) -> Floats:
    """Values in the target's unit; negative or missing is not known."""
    if target not in joined.columns:
        return np.full(len(joined), np.nan)
    values = as_numbers(joined[target])
    return np.where(values + SPECS[target].offset > 0, values, np.nan)
