"""The regression at the core of the quote, as a regressor of its own: X and y in, and any scikit-learn tool around it.

A face of `models.quote.estimator.ridge_on_log.fit_values`, the line that the boosted forecast starts from. It takes
the scale as it comes: put `TransformedTargetRegressor(func=np.log1p, inverse_func=np.expm1)` around it for amounts.
"""

from __future__ import annotations

from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted, validate_data

from models.quote.estimator.ridge_on_log import Floats, fit_values


class BoundedRidge(RegressorMixin, BaseEstimator):  # type: ignore[misc]  # scikit-learn comes without types
    """Ridge regression whose chosen weights may not be negative; missing answers (NaN) enter as median and flag.

    Parameters
    ----------
    rising : tuple of int
        Columns of X of which more may never lower the forecast.

    Attributes
    ----------
    coef_ : ndarray of shape (p,)
        Weight of each column, in units of y per unit of X.
    missing_coef_ : ndarray of shape (p,)
        What a missing answer adds, beside its median.
    intercept_ : float
        Forecast where every column stands at its median.

    Notes
    -----
    The strength is the best of five by generalised cross-validation (Golub, Heath and Wahba 1979,
    doi:10.1080/00401706.1979.10489751). A forecast goes on beyond the columns' ranges by as much again as these span,
    and no further.
    """

    def __init__(self, rising: tuple[int, ...] = ()) -> None:
        self.rising = rising

    def fit(self, X: ArrayLike, y: ArrayLike) -> Self:
        """Fit y (n,) on X (n, p), NaN allowed in X; ValueError for other shapes, no rows, or y that is not finite."""
        x, z = validate_data(self, X, y, y_numeric=True, dtype=np.float64, ensure_all_finite="allow-nan")
        rising = np.isin(np.arange(x.shape[1]), list(self.rising))
        self.line_ = fit_values(x, np.asarray(z, dtype=float), rising)
        self.coef_, self.missing_coef_ = self.line_.weights, self.line_.flags
        self.intercept_ = self.line_.intercept
        return self

    def predict(self, X: ArrayLike) -> Floats:
        """Forecast (n,) of X (n, p). NotFittedError before `fit`; ValueError for another number of columns."""
        check_is_fitted(self)
        x = validate_data(self, X, dtype=np.float64, ensure_all_finite="allow-nan", reset=False)
        return self.line_.predict_values(x)

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        tags.input_tags.allow_nan = True
        return tags
