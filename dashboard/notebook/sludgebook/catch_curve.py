"""The catch curve as an estimator: where the catch of a job or an emitter levels off, and what is still to come.

A face of `models.catch.curve_fit.curve.fit_saturating_curve` and `fit_many`. A curve of one input that must rise and
level off does not learn a general regression, so scikit-learn's checks for regressors do not apply to it.
"""

from __future__ import annotations

from typing import Any, Self

import pandas as pd
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator
from sklearn.utils.validation import check_is_fitted

from models.catch.curve_fit.curve import curve_points, fit_saturating_curve
from models.catch.curve_fit.many_curves import fit_many
from models.catch.records.ragged_arrays import Floats

_UNFITTED = "This %(name)s has no weighings yet: call fit(minutes, kilograms) first."


class CatchCurve(BaseEstimator):  # type: ignore[misc]  # scikit-learn comes without types
    """`asymptote · (1 − exp(−minutes / tau))` by least squares, for one job or one emitter.

    Parameters
    ----------
    level : float
        Level of the profile intervals, between 0 and 1.

    Attributes
    ----------
    result_ : SaturatingFit
        The frozen result, with standard errors and findings; its `asymptote` is in kg, its `tau` in minutes.
    asymptote_kg_, tau_minutes_ : float
        Where the curve levels off, and the minutes to 63.2 % of that.
    asymptote_interval_kg_, tau_interval_minutes_ : tuple of float
        Low and high end; `inf` where the interval is open.

    Examples
    --------
    >>> curve = CatchCurve().fit([10, 20, 40, 60, 90], [0.63, 1.10, 1.73, 2.08, 2.33])
    >>> round(curve.asymptote_kg_, 1), round(curve.tau_minutes_), round(curve.left_kg(), 1)
    (2.5, 35, 0.2)
    """

    def __init__(self, level: float = 0.95) -> None:
        self.level = level

    def fit(self, minutes: ArrayLike, kilograms: ArrayLike) -> Self:
        """Fit cumulative `kilograms` (n,) against flush `minutes` (n,) ≥ 0; weighings in any order.

        NotEnoughData under 4 different minutes above zero; FitRejected with a sentence where the weighings do not
        bend yet or are all zero; ValueError for what is not finite, negative minutes or unequal lengths.
        """
        self.result_ = fit_saturating_curve(minutes, kilograms, level=self.level)
        self.asymptote_kg_ = self.result_.asymptote
        self.tau_minutes_ = self.result_.tau
        self.asymptote_interval_kg_ = (self.result_.asymptote_low, self.result_.asymptote_high)
        self.tau_interval_minutes_ = (self.result_.tau_low, self.result_.tau_high)
        return self

    def predict(self, minutes: ArrayLike) -> Floats:
        """Kilograms by those minutes on the fitted curve, shape of `minutes`. NotFittedError before `fit`."""
        check_is_fitted(self, msg=_UNFITTED)
        return curve_points(self.result_, minutes)

    def left_kg(self) -> float:
        """Kilograms that the curve still rises after the last weighing. NotFittedError before `fit`.

        A reach beyond the weighings: read `result_.findings` with it.
        """
        check_is_fitted(self, msg=_UNFITTED)
        return self.result_.asymptote * (1.0 - self.result_.share_reached)


def catch_curves(minutes: ArrayLike, kilograms: ArrayLike, job: Any) -> pd.DataFrame:
    """Many curves at once: one row for each different value of `job` (n,), sorted by it.

    Columns: `job`, `points`, `asymptote_kg`, `asymptote_se_kg`, `tau_minutes`, `left_kg`, and `refused`: the sentence
    that stands for the numbers of a curve that cannot be fitted (they are NaN then), else empty. Profile intervals are
    worked out for single curves only (`CatchCurve`). ValueError for what is not finite, negative or of unequal length.

    >>> rows = catch_curves([1, 2, 3, 4, 1, 2], [5, 8, 9, 9.5, 1, 2], list("aaaabb"))
    >>> rows["refused"].tolist()
    ['', 'This needs at least 4 weighings at different times; there are 2.']
    """
    found = fit_many(minutes, kilograms, job)
    columns = {
        "job": found.group,
        "points": found.points,
        "asymptote_kg": found.asymptote,
        "asymptote_se_kg": found.asymptote_se,
        "tau_minutes": found.tau,
        "left_kg": found.asymptote * (1.0 - found.share_reached),
        "refused": found.refused,
    }
    return pd.DataFrame(columns)
