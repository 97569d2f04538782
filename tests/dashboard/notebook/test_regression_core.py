"""scikit-learn's own checks on the regressions at the core of the quote: the bounded ridge, and the boosted centre."""

from __future__ import annotations

from typing import Any, Self

import numpy as np
import pytest
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.compose import TransformedTargetRegressor
from sklearn.model_selection import cross_val_score
from sklearn.utils.estimator_checks import parametrize_with_checks
from sklearn.utils.validation import check_is_fitted, validate_data

from models.quote.base.targets import SPECS
from models.quote.estimator.boosted import fit_boosted
from models.quote.estimator.ridge_on_log import LOGARITHMIC
from models.survey_features import FEATURES, NAMES
from sludgebook import BoundedRidge

SPEC = SPECS["magnetite_kg"]
PLACES = [i for i, f in enumerate(FEATURES) if f.choice is None and f.name not in {*LOGARITHMIC, *NAMES}]
"""Columns of the survey that are amounts taken as they come: where the checks' own columns can stand."""


class BoostedCentre(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """The centre of the boosted forecast for X of up to `len(PLACES)` columns, y brought to its log scale and back."""

    def __init__(self, seed: int = 0) -> None:
        self.seed = seed

    def fit(self, X: Any, y: Any) -> Self:
        X, y = validate_data(self, X, y, y_numeric=True, dtype=np.float64, ensure_min_samples=2)
        y = np.asarray(y, dtype=float)
        self.middle_, self.spread_ = float(y.mean()), float(y.std()) or 1.0
        amounts, folds = np.exp((y - self.middle_) / self.spread_) - SPEC.offset, np.arange(len(y)) % 5
        self.fitted_ = fit_boosted(SPEC, self._survey(X), amounts, folds).fitted
        return self

    def predict(self, X: Any) -> np.ndarray:
        check_is_fitted(self)
        X = validate_data(self, X, dtype=np.float64, reset=False)
        return self.middle_ + self.spread_ * self.fitted_.centre(self._survey(X))

    def _survey(self, X: np.ndarray) -> np.ndarray:
        x = np.full((len(X), len(FEATURES)), np.nan)
        x[:, PLACES[: X.shape[1]]] = X
        return x


@parametrize_with_checks([BoundedRidge(), BoundedRidge(rising=(0,)), BoostedCentre()], expected_failed_checks=None)
def test_scikit_learns_checks_for_regressors_hold(estimator: BaseEstimator, check: Any) -> None:
    """All apply and none is expected to fail; the one on array libraries is skipped unless SCIPY_ARRAY_API is set."""
    check(estimator)


def test_a_planted_line_with_a_missing_column_is_found_within_a_pipeline_of_the_library() -> None:
    rng = np.random.default_rng(3)
    x = rng.normal(size=(400, 3))
    y = np.expm1(3.0 + 0.5 * x[:, 0] - 0.3 * x[:, 1] + rng.normal(0, 0.05, 400))
    x[rng.random(400) < 0.2, 2] = np.nan

    on_log = TransformedTargetRegressor(BoundedRidge(), func=np.log1p, inverse_func=np.expm1)

    assert on_log.fit(x, y).regressor_.coef_ == pytest.approx([0.5, -0.3, 0.0], abs=0.02)
    assert cross_val_score(on_log, x, y, cv=4).min() > 0.95


def test_a_rising_column_never_lowers_the_forecast() -> None:
    rng = np.random.default_rng(8)
    x = rng.normal(size=(200, 2))
    y = -x[:, 0] - x[:, 1]

    assert BoundedRidge().fit(x, y).coef_ == pytest.approx([-1.0, -1.0], abs=0.05)
    assert BoundedRidge(rising=(0,)).fit(x, y).coef_[0] == 0.0
