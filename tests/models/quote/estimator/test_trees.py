"""Exported trees: equal to the fitted library to the last bit, whatever the rows hold."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from sklearn.ensemble import HistGradientBoostingClassifier, HistGradientBoostingRegressor

from models.quote.estimator.trees import Forest, Trees

COLUMNS = 5
CHOICE = 4
LEVELS = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)
KINDS = ("squared_error", "absolute_error", "gamma", "poisson", *(f"quantile {level}" for level in LEVELS))


@cache
def _fitted(kind: str, *, with_choice: bool) -> HistGradientBoostingRegressor:
    """Trees on 600 rows with missing values everywhere; the last column holds odd codes of a choice."""
    rng = np.random.default_rng(3)
    x = np.column_stack([rng.normal(size=(600, COLUMNS - 1)), rng.choice([-7, 0, 3, 40, 1000], 600)])
    y = np.exp(x[:, 0] + (x[:, 1] > 0.3) * x[:, 2] + np.isin(x[:, CHOICE], [3, 1000]) + rng.normal(0, 0.2, 600))
    x[rng.random(x.shape) < 0.15] = np.nan
    loss, _, level = kind.partition(" ")
    model = HistGradientBoostingRegressor(
        loss=loss,
        quantile=float(level) if level else None,
        max_iter=25,
        max_leaf_nodes=9,
        monotonic_cst=[1, 0, 0, 0, 0] if loss == "squared_error" else None,
        categorical_features=[CHOICE] if with_choice else None,
    )
    return model.fit(x, y)


def _rows(n: int, seed: int) -> np.ndarray:
    """Rows with missing values, infinities, values of the fit's own thresholds and unknown words."""
    rng = np.random.default_rng(seed)
    x = rng.normal(scale=2, size=(n, COLUMNS)).round(1)
    x[:, CHOICE] = rng.choice([-7, 0, 3, 40, 1000, 5, -1, 300], n)
    x[rng.random(x.shape) < 0.1] = np.nan
    x[:2, :CHOICE] = [[np.inf], [-np.inf]]
    return x


@pytest.mark.parametrize("with_choice", [False, True])
@pytest.mark.parametrize("kind", KINDS)
def test_forecasts_are_equal_to_the_last_bit(kind: str, with_choice: bool) -> None:
    model, x = _fitted(kind, with_choice=with_choice), _rows(2000, 5)
    forest = Forest.of(model)

    assert np.array_equal(forest.predict(x), model.predict(x))
    assert np.array_equal(forest.predict(x[7:8]), model.predict(x[7:8]))


@pytest.mark.parametrize("with_choice", [False, True])
@given(x=arrays(float, (6, COLUMNS), elements=st.floats(allow_nan=True, width=32)))
@settings(max_examples=60, deadline=None)
def test_any_rows_give_the_same_as_the_library(with_choice: bool, x: np.ndarray) -> None:
    x[:, CHOICE] = np.where(np.isfinite(x[:, CHOICE]), x[:, CHOICE], np.nan)  # the library refuses infinite words
    model = _fitted("quantile 0.9", with_choice=with_choice)

    assert np.array_equal(Forest.of(model).predict(x), model.predict(x))


@given(row=st.integers(0, 10_000), of=st.integers(0, 3))
@settings(max_examples=60, deadline=None)
def test_a_value_on_a_threshold_goes_the_same_way(row: int, of: int) -> None:
    model = _fitted("squared_error", with_choice=False)
    forest = Forest.of(model)
    asked = np.flatnonzero(np.isfinite(forest.threshold))
    threshold = forest.threshold[asked[row % len(asked)]]
    x = np.zeros((3, COLUMNS))
    x[:, of] = [threshold, np.nextafter(threshold, np.inf), np.nextafter(threshold, -np.inf)]

    assert np.array_equal(forest.predict(x), model.predict(x))


def test_every_number_of_trees_is_equal_from_none_to_all() -> None:
    model, x = _fitted("gamma", with_choice=True), _rows(50, 9)

    staged = Forest.of(model).staged(x)

    assert np.array_equal(staged[1:], np.array(list(model.staged_predict(x))))
    assert np.array_equal(staged[0], np.exp(np.full(50, model._baseline_prediction.item())))


def test_a_forest_comes_back_from_its_parts_and_reads_its_own_columns() -> None:
    forest = Forest.of(_fitted("squared_error", with_choice=True))
    again = Trees(Forest.from_arrays(forest.arrays()), np.array([6, 1, 2, 3, 8]))
    wide = np.zeros((40, 9))
    wide[:, [6, 1, 2, 3, 8]] = _rows(40, 2)

    assert np.array_equal(again.predict(wide), forest.predict(_rows(40, 2)))
    assert again.predict(wide[:0]).shape == (0,)


def test_trees_that_never_split_give_the_mean() -> None:
    model = HistGradientBoostingRegressor(max_iter=3).fit(np.zeros((30, 2)), np.arange(30.0))
    x = np.array([[np.nan, 1.0], [5.0, -5.0]])

    assert np.array_equal(Forest.of(model).predict(x), model.predict(x))
    assert Forest.of(model).predict(x) == pytest.approx([14.5, 14.5])


def test_another_link_is_refused() -> None:
    model = HistGradientBoostingClassifier(max_iter=2).fit(np.arange(60.0)[:, None], np.arange(60) > 30)

    with pytest.raises(ValueError, match="LogitLink"):
        Forest.of(model)
