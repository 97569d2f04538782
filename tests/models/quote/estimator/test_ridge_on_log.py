"""The bounded ridge line: recovers a planted power law, keeps its bounds, copes with missing answers."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.linear_model import Ridge

from models.quote.estimator.ridge_on_log import _bounded_ridge, fit_line
from models.survey_features import FEATURES, POSITION

AGE, COUNT = POSITION["age_years"], POSITION["emitter_count"]


def _planted(n: int = 400) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(4)
    x = np.full((n, len(FEATURES)), np.nan)
    x[:, AGE], x[:, COUNT] = rng.uniform(1, 50, n), rng.integers(3, 25, n)
    return x, 0.8 * np.log1p(x[:, AGE]) + np.log1p(x[:, COUNT]) + rng.normal(0, 0.05, n)


def test_a_planted_power_law_is_found() -> None:
    line = fit_line(*_planted(), ("age_years",))

    assert line.weights[[AGE, COUNT]] == pytest.approx([0.8, 1.0], abs=0.05)
    assert np.count_nonzero(line.weights) == 2


def test_a_weight_that_may_not_fall_stops_at_nought() -> None:
    x, z = _planted()

    assert fit_line(x, -z, ("age_years",)).weights[AGE] == 0.0
    assert fit_line(x, -z, ()).weights[AGE] < -0.7


def test_without_bounds_it_is_the_ridge_of_scikit_learn() -> None:
    rng = np.random.default_rng(1)
    x = rng.normal(size=(200, 6))
    x = (x - x.mean(0)) / x.std(0)
    z = x @ np.arange(6) + rng.normal(size=200)
    z -= z.mean()

    found = _bounded_ridge(x, z, np.zeros(6, dtype=bool))

    distances = [np.abs(found - Ridge(alpha=a).fit(x, z).coef_).max() for a in (3, 10, 30, 100, 300)]
    assert min(distances) < 1e-8


def test_with_every_weight_bounded_it_is_the_positive_ridge_of_scikit_learn() -> None:
    rng = np.random.default_rng(6)
    x = rng.normal(size=(200, 5)) + rng.normal(size=(200, 1))  # correlated: clipping afterwards would be wrong
    x = (x - x.mean(0)) / x.std(0)
    z = x @ np.array([1.0, -1.5, 0.5, -0.2, 2.0]) + rng.normal(size=200)
    z -= z.mean()

    found = _bounded_ridge(x, z, np.ones(5, dtype=bool))

    peers = [Ridge(alpha=a, positive=True, tol=1e-12).fit(x, z).coef_ for a in (3, 10, 30, 100, 300)]
    assert min(np.abs(found - peer).max() for peer in peers) < 1e-6
    assert np.count_nonzero(found) < 5


def test_parts_add_up_to_the_forecast_and_missing_answers_count_as_usual() -> None:
    x, z = _planted()
    line = fit_line(x, z, ())
    x[0, AGE] = np.nan

    assert line.predict(x) == pytest.approx(line.intercept + line.parts(x).sum(axis=1))
    assert line.parts(x)[0, AGE] == 0.0


def test_beyond_the_records_it_goes_on_as_far_again_and_then_stands_still() -> None:
    x, z = _planted()
    x[:, COUNT] = 10
    line = fit_line(x, z, ())  # ages of 1 to 50 years: logarithms 0.7 to 3.9
    asked = np.repeat(x[:1], 3, axis=0)
    asked[:, AGE] = np.expm1([3.9, 5.9, 9.9])

    found = line.predict(asked)

    assert found[1] - found[0] == pytest.approx(2 * line.weights[AGE])
    assert found[2] - found[0] == pytest.approx(3.25 * line.weights[AGE], rel=0.05)


def test_two_answers_close_together_do_not_carry_a_forecast_away() -> None:
    x, z = _planted(30)
    heater = POSITION["heater_kw"]
    x[0, heater], x[1, heater] = 2.8, 3.0
    z[1] += 3
    line = fit_line(x, z, ())
    asked = x[[1, 1, 1]]
    asked[:, heater] = 3.0, 3.2, 9.0

    found = line.predict(asked)

    assert found[1] - found[0] > 0.1
    assert found[2] == pytest.approx(found[1])  # as far again as from 2.8 to 3.0, no further


def test_half_trust_halves_the_weights_and_keeps_the_mean() -> None:
    x, z = _planted()

    whole, half = fit_line(x, z, ()), fit_line(x, z, (), trust=0.5)

    assert half.weights == pytest.approx(whole.weights / 2)
    assert half.predict(x).mean() == pytest.approx(z.mean())
