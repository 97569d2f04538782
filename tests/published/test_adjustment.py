"""NHEFS: smoking cessation and weight, Hernan & Robins, Causal Inference: What If, Part II (1566 complete rows)."""

from __future__ import annotations

import numpy as np
import pytest
from causaldata import nhefs_complete

from models.practice.effects.estimators import doubly_robust
from models.practice.nuisance.empirical_bayes_glm import fit_plain
from models.practice.nuisance.information_matrix import Design

CHOICES = {"education": (2, 3, 4, 5), "exercise": (1, 2), "active": (1, 2)}


@pytest.fixture(scope="module")
def nhefs() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Weight gain [kg], quit, covariates of the book (squares of the numbers), cigarettes a day."""
    data = nhefs_complete.load_pandas().data
    numbers = [data[name].to_numpy(float) for name in ("age", "smokeintensity", "smokeyrs", "wt71")]
    columns = [data["sex"].to_numpy(float), data["race"].to_numpy(float), *numbers, *(x**2 for x in numbers)]
    columns += [(data[name].astype(int) == k).to_numpy(float) for name, levels in CHOICES.items() for k in levels]
    x = np.column_stack(columns)
    return (
        data["wt82_71"].to_numpy(float),
        data["qsmk"].to_numpy(float) == 1,
        (x - x.mean(0)) / x.std(0),
        data["smokeintensity"].to_numpy(float),
    )


def bare(x: np.ndarray) -> Design:
    return Design(x, np.full(x.shape[1], -1))


def chance_of_quitting(a: np.ndarray, x: np.ndarray) -> np.ndarray:
    return fit_plain(bare(x), a.astype(float), "logistic").predict(bare(x))


def means_either_way(y: np.ndarray, a: np.ndarray, x: np.ndarray, cigarettes: np.ndarray) -> list[np.ndarray]:
    def with_quitting(quit_: np.ndarray) -> Design:
        return bare(np.column_stack([x, quit_, quit_ * cigarettes / 10]))

    fit = fit_plain(with_quitting(a.astype(float)), y, "linear")
    return [fit.predict(with_quitting(np.full(len(y), way))) for way in (1.0, 0.0)]


def test_the_propensity_model_has_the_published_log_likelihood_and_weights(nhefs) -> None:  # type: ignore[no-untyped-def]
    _, a, x, _ = nhefs
    chance = chance_of_quitting(a, x)
    weight = np.where(a, 1 / chance, 1 / (1 - chance))

    assert np.log(np.where(a, chance, 1 - chance)).sum() == pytest.approx(-838.44842, abs=1e-5)
    assert (weight.mean(), weight.min(), weight.max()) == pytest.approx((1.996284, 1.053742, 16.700094), abs=2e-6)


def test_weighting_alone_gives_3_440535_kg(nhefs) -> None:  # type: ignore[no-untyped-def]
    """Digits of the public Stata log of the book's program 12.2. Weights that are not brought to
    average 1 would give 3.424012 (Horvitz-Thompson, computed with statsmodels 0.15)."""
    y, a, x, _ = nhefs
    nothing = np.zeros(len(y))

    found = doubly_robust(y, a, chance_of_quitting(a, x), nothing, nothing)

    assert found.difference == pytest.approx(3.440535, abs=1e-6)
    assert found.without_mean == pytest.approx(1.779978, abs=1e-6)


def test_standardising_alone_gives_the_means_of_the_book(nhefs) -> None:  # type: ignore[no-untyped-def]
    """Section 13.3: effect 3.5; digits computed with another program from the same model."""
    y, a, x, cigarettes = nhefs

    first, second = means_either_way(y, a, x, cigarettes)

    assert (first.mean(), second.mean()) == pytest.approx((5.273587, 1.756213), abs=1e-6)
    assert first.mean() - second.mean() == pytest.approx(3.517374, abs=1e-6)


def test_both_together_give_3_457_kg(nhefs) -> None:  # type: ignore[no-untyped-def]
    """As production calls it. Digits computed with statsmodels 0.15 (GLM, OLS, weighted means of the residuals);
    weights not brought to average 1 would give 3.457284. A bootstrap standard error by another program is 0.50."""
    y, a, x, cigarettes = nhefs

    found = doubly_robust(y, a, chance_of_quitting(a, x), *means_either_way(y, a, x, cigarettes))

    assert (found.with_mean, found.without_mean) == pytest.approx((5.224357, 1.767240), abs=1e-6)
    assert found.difference == pytest.approx(3.457117, abs=1e-6)
    assert found.standard_error() == pytest.approx(0.50, abs=0.03)
