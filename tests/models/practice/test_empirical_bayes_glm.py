"""Regressions that draw coefficients to 0: against plain algebra and a reference library."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.linear_model import LogisticRegression

from models.practice.nuisance import empirical_bayes_glm
from models.practice.nuisance.empirical_bayes_glm import Shrunk, fit_plain, fit_shrunk, refit
from models.practice.nuisance.fold_fits import without_each_fold
from models.practice.nuisance.information_matrix import Design


def data(seed: int = 1, n: int = 600, p: int = 5) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    x = rng.standard_normal((n, p))
    return x, rng.random(n) < 1 / (1 + np.exp(-(x[:, 0] - 0.5 * x[:, 1] - 1)))


def test_a_plain_logistic_fit_equals_the_reference_library() -> None:
    x, y = data()
    reference = LogisticRegression(C=np.inf, tol=1e-10, max_iter=500).fit(x, y)

    fit = fit_plain(Design(x, np.full(5, -1)), y.astype(float), "logistic")

    assert fit.coefficients[1:] == pytest.approx(reference.coef_[0], abs=1e-4)
    assert fit.coefficients[0] == pytest.approx(float(reference.intercept_[0]), abs=1e-4)


def test_a_prior_of_variance_one_half_equals_the_reference_librarys_ridge() -> None:
    x, y = data()
    reference = LogisticRegression(C=0.5, tol=1e-10, max_iter=500).fit(x, y)
    start = Shrunk("logistic", np.zeros(6), np.zeros(0), {0: 0.5})

    fit = refit(start, Design(x, np.zeros(5, dtype=int)), y.astype(float))

    assert fit.coefficients[1:] == pytest.approx(reference.coef_[0], abs=1e-4)


def test_group_intercepts_equal_the_same_model_with_a_column_for_each_group() -> None:
    x, y = data()
    group = np.random.default_rng(2).integers(8, size=len(y))
    wide = Design(np.column_stack([x, np.eye(8)[group]]), np.r_[np.full(5, -1), np.zeros(8)].astype(int))
    narrow = Design(x, np.full(5, -1), group, 8)

    by_column = refit(Shrunk("logistic", np.zeros(14), np.zeros(0), {0: 0.3}), wide, y.astype(float))
    by_group = refit(Shrunk("logistic", np.zeros(6), np.zeros(8), {}, 0.3), narrow, y.astype(float))

    assert by_group.coefficients == pytest.approx(by_column.coefficients[:6], abs=1e-7)
    assert by_group.group_effect == pytest.approx(by_column.coefficients[6:], abs=1e-7)


def test_columns_that_say_nothing_are_drawn_close_to_nothing() -> None:
    rng = np.random.default_rng(3)
    x, y = rng.standard_normal((400, 30)), (rng.random(400) < 0.1).astype(float)
    design = Design(x, np.zeros(30, dtype=int))

    drawn, plain = fit_shrunk(design, y, "logistic"), fit_plain(design, y, "logistic")

    assert np.abs(drawn.coefficients[1:]).max() < 0.2 * np.abs(plain.coefficients[1:]).max()


def test_the_spread_between_groups_is_found_again() -> None:
    """Planted: standard deviation 1 between 200 groups of 40; the estimate's own error is some 6 %."""
    rng = np.random.default_rng(4)
    group = np.repeat(np.arange(200), 40)
    effect = rng.standard_normal(200)
    y = (rng.random(8000) < 1 / (1 + np.exp(-effect[group]))).astype(float)

    fit = fit_shrunk(Design(rng.standard_normal((8000, 1)), np.zeros(1, dtype=int), group, 200), y, "logistic")

    assert np.sqrt(fit.group_variance) == pytest.approx(1.0, rel=0.15)


@pytest.mark.parametrize("family", ["logistic", "linear"])
def test_fits_without_each_fold_equal_fitting_each_by_itself(family: str) -> None:
    x, y = data(5, 500)
    group, fold = np.random.default_rng(6).integers(12, size=500), np.arange(500) % 5
    design = Design(x, np.zeros(5, dtype=int), np.where(group == 11, -1, group), 11)
    whole = fit_shrunk(design, y.astype(float), family)  # type: ignore[arg-type]

    for rows, fit in without_each_fold(whole, design, y.astype(float), fold):
        others = np.setdiff1d(np.arange(500), rows)
        alone = refit(whole, design.rows(others), y[others].astype(float))
        assert set(fold[rows]) == {fold[rows[0]]}
        # a linear fit by itself also takes the residual spread anew: 2 % of it, less in what is drawn to 0
        assert fit.predict(design) == pytest.approx(alone.predict(design), abs=1e-4 if family == "logistic" else 2e-3)


def test_a_fold_that_holds_a_whole_group_leaves_that_group_at_the_mean() -> None:
    x, y = data(7, 400)
    fold = np.arange(400) % 4
    design = Design(x, np.zeros(5, dtype=int), fold.copy(), 4)
    whole = fit_shrunk(design, y.astype(float), "logistic")

    fits = without_each_fold(whole, design, y.astype(float), fold)

    assert [abs(fit.group_effect[fold[rows[0]]]) < 1e-6 for rows, fit in fits] == [True] * 4


def test_a_fit_comes_to_rest_where_whole_groups_went_one_way() -> None:
    """40 groups of 200: half never, half nearly always. A whole Newton step from afar overshoots by hundreds."""
    rng = np.random.default_rng(9)
    group = np.repeat(np.arange(40), 200)
    y = np.where(group < 20, 0.0, rng.random(8000) < 0.97).astype(float)
    design = Design(rng.standard_normal((8000, 3)), np.zeros(3, dtype=int), group, 40)
    start = Shrunk("logistic", np.r_[-6.0, np.zeros(3)], np.zeros(40), {0: 0.01}, 9.0)

    fit = refit(start, design, y)

    again = refit(fit, design, y)
    assert again.group_effect == pytest.approx(fit.group_effect, abs=1e-3)
    assert fit.predict(design)[group >= 20].mean() == pytest.approx(0.97, abs=0.01)
    assert np.abs(fit.group_effect).max() < 12


def _separable() -> tuple[Design, np.ndarray]:
    """300 jobs told apart by 60 columns, each written down ten times: a fit can learn its outcomes by heart.

    Outcomes lie below 0 and above 1 too, as those of jobs not followed for the whole year do.
    """
    rng = np.random.default_rng(12)
    x = np.tile(rng.standard_normal((300, 60)), (10, 1))
    y = np.tile(np.where(rng.random(300) < 0.06, 1.4, -0.03), 10)
    return Design(x, np.zeros(60, dtype=int), np.arange(3000) // 100, 30), y


def test_a_fit_that_could_learn_outcomes_by_heart_comes_to_rest_at_its_maximum(monkeypatch: pytest.MonkeyPatch) -> None:
    """At the maximum the slope of log-likelihood less priors is 0 in every coefficient; here within 1e-4 of a job."""
    design, y = _separable()

    fit = fit_shrunk(design, y, "logistic")

    residual = y - fit.predict(design)
    assert np.abs(residual @ design.x - fit.coefficients[1:] / fit.variances[0]).max() < 1e-4
    assert np.abs(design.by_group(residual) - fit.group_effect / fit.group_variance).max() < 1e-4
    assert abs(residual.sum()) < 1e-4
    monkeypatch.setattr(empirical_bayes_glm, "_share_of_step", lambda *_: 1.0)  # whole steps, and it would swing
    swung = refit(Shrunk("logistic", np.r_[-6.0, np.zeros(60)], np.zeros(30), {0: 9.0}, 0.1), design, y)
    assert abs((y - swung.predict(design)).sum()) > 1


def test_a_linear_fit_is_the_same_in_minutes_as_in_hours() -> None:
    """Planted: 60 minutes a spread of the column, 20 of noise; how far it is drawn must not hang on the unit."""
    rng = np.random.default_rng(13)
    x, group = rng.standard_normal((400, 1)), np.repeat(np.arange(20), 20)
    minutes = 300 + 60 * x[:, 0] + 40 * rng.standard_normal(20)[group] + 20 * rng.standard_normal(400)
    design = Design(x, np.zeros(1, dtype=int), group, 20)

    in_minutes, in_hours = (fit_shrunk(design, y, "linear") for y in (minutes, minutes / 60))

    assert in_minutes.coefficients[1] == pytest.approx(60, abs=3)
    assert in_hours.predict(design) * 60 == pytest.approx(in_minutes.predict(design), abs=0.5)
    assert np.sqrt(in_minutes.group_variance) == pytest.approx(40, rel=0.4)
