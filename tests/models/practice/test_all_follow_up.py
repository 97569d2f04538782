"""The effect from every callback on record: against published data, other libraries, sums by hand, a planted factor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from lifelines import PiecewiseExponentialFitter
from lifelines.datasets import load_leukemia
from sklearn.linear_model import PoissonRegressor

from models.practice.effects.all_follow_up import (
    CUTS,
    Baseline,
    Expected,
    Watched,
    baseline,
    expected_callbacks,
    in_pieces,
    is_told,
    risks_by,
)
from models.practice.nuisance.empirical_bayes_glm import Shrunk, fit_plain, refit
from models.practice.nuisance.fold_fits import without_each_fold
from models.practice.nuisance.information_matrix import Design
from models.practice.nuisance.nuisance_fits import deal

FACTOR = 0.6


def planted(jobs: int, seed: int, *, late_factor: float = FACTOR) -> tuple[Watched, np.ndarray]:
    """Dirt draws the practice and doubles callbacks; the practice multiplies them by 0.6, after the year by
    `late_factor`. Also the true risks (n, 2) by 365 days."""
    rng = np.random.default_rng(seed)
    dirt = rng.standard_normal(jobs)
    chance = 1 / (1 + np.exp(-1.3 * dirt))
    a = rng.random(jobs) < chance
    a_day = np.exp(-8.6 + 0.7 * dirt)
    need, year = rng.exponential(size=jobs), 365.0 * a_day * np.where(a, FACTOR, 1.0)
    late = 365.0 + (need - year) / (a_day * np.where(a, late_factor, 1.0))
    event_day = np.where(need <= year, 365.0 * need / year, late)
    end = rng.uniform(30.0, 1800.0, jobs)
    design = Design(dirt[:, None], np.zeros(1, dtype=np.int64))
    jobs_ = Watched(np.minimum(event_day, end), event_day <= end, a, chance, deal(a), design)
    return jobs_, -np.expm1(-365.0 * a_day[:, None] * np.array([FACTOR, 1.0]))


def test_days_are_dealt_out_to_their_pieces() -> None:
    assert in_pieces(np.array([0.0, 60.0, 100.0, 2000.0])).sum(axis=1).tolist() == [0.0, 60.0, 100.0, 2000.0]
    assert in_pieces(np.array([100.0]))[0, :3].tolist() == [60.0, 40.0, 0.0]


def test_the_baseline_is_another_librarys_piecewise_exponential() -> None:
    rng = np.random.default_rng(5)
    event_day, end = rng.weibull(0.7, 4000) * 3000, rng.uniform(20, 2500, 4000)
    days, event = np.minimum(event_day, end), event_day <= end

    found = baseline(days, event, np.ones(4000))
    # in years: in days its search stops with a warning
    other = PiecewiseExponentialFitter([cut / 365 for cut in CUTS[1:]]).fit(days / 365, event)

    assert found.hazard == pytest.approx(1 / other.params_.to_numpy() / 365, rel=1e-3)


def test_the_factor_of_freireich_is_the_published_one() -> None:
    """Freireich et al. 1963: 9 relapses in 359 weeks with 6-MP, 21 in 182 without: a factor of 0.217."""
    frame = load_leukemia()
    weeks, event, a = frame["t"].to_numpy(float), frame["status"].to_numpy(float), frame["Rx"].to_numpy() == 0
    design = Design(a[:, None].astype(float), np.full(1, -1), offset=np.log(weeks))

    fit = fit_plain(design, event, "poisson")

    assert np.exp(fit.coefficients[1]) == pytest.approx((9 / 359) / (21 / 182), rel=1e-5)


def test_a_penalised_count_regression_equals_the_reference_library() -> None:
    rng = np.random.default_rng(3)
    x, watched = rng.standard_normal((800, 4)), rng.uniform(0.1, 2.0, 800)
    y = rng.poisson(watched * np.exp(x @ np.array([0.8, -0.4, 0.0, 0.2]) - 1.0)).astype(float)
    other = PoissonRegressor(alpha=2.0 / watched.sum(), tol=1e-10, solver="newton-cholesky")
    other.fit(x, y / watched, sample_weight=watched)
    design = Design(x, np.zeros(4, dtype=np.int64), offset=np.log(watched))

    fit = refit(Shrunk("poisson", np.zeros(5), np.zeros(0), {0: 0.5}), design, y)
    fold = np.arange(800) % 5
    (rows, without), *_ = without_each_fold(fit, design, y, fold)

    assert fit.coefficients[1:] == pytest.approx(other.coef_, abs=1e-5)
    assert without.coefficients == pytest.approx(
        refit(fit, design.rows(fold != 0), y[fold != 0]).coefficients, abs=1e-5
    )
    assert rows.tolist() == np.flatnonzero(fold == 0).tolist()


def test_risks_of_four_jobs_by_hand() -> None:
    """Hazard 0.001 a day, all jobs usual, chance a half: weights 2 and 0. With: jobs watched 100 and 500 days, one
    callback: 1 − 0.6 beyond what was expected, over 0.6 expected; without: 1000 days, none: 1 expected."""
    jobs = Watched(
        days=np.array([100.0, 500.0, 400.0, 600.0]),
        is_event=np.array([True, False, False, False]),
        a=np.array([True, True, False, False]),
        chance=np.full(4, 0.5),
        fold=np.zeros(4, dtype=np.int64),
        design=Design(np.zeros((4, 0)), np.zeros(0, dtype=np.int64)),
    )
    usual = Expected(Baseline(np.full(len(CUTS), 0.001)), np.ones((2, 4)))

    found = risks_by(jobs, usual, 365.0)

    plain, free = 1 - np.exp(-0.365), np.exp(-0.365)
    assert found.with_mean == pytest.approx(plain + free * 0.365 * (1 - 0.6) / 0.6)
    assert found.without_mean == pytest.approx(plain + free * 0.365 * (0 - 1.0) / 1.0)
    assert found.influence.mean(axis=0) == pytest.approx([0.0, 0.0], abs=1e-12)


@pytest.mark.parametrize("wrong", ["chance", "factor"])
def test_a_planted_factor_is_found_though_the_chance_or_the_factor_is_wrong(wrong: str) -> None:
    jobs, risks = planted(12_000, 4)
    truth = float((risks[:, 0] - risks[:, 1]).mean())
    if wrong == "chance":
        jobs = replace(jobs, chance=np.full(len(jobs.days), float(jobs.a.mean())))
        expected = expected_callbacks(jobs)
    else:
        ones = np.ones(len(jobs.days))
        expected = Expected(baseline(jobs.days, jobs.is_event, ones), np.stack([ones, ones]))

    found = risks_by(jobs, expected, 365.0)

    error = found.standard_error()
    assert abs(found.difference - truth) < 3 * error
    # the groups as they come differ the other way
    raw = (
        jobs.is_event[jobs.a].sum() / jobs.days[jobs.a].sum() - jobs.is_event[~jobs.a].sum() / jobs.days[~jobs.a].sum()
    )
    assert raw > 0 > truth + 3 * error


def test_the_sharper_one_is_told_unless_the_first_year_says_something_else() -> None:
    assert is_told(0.02, 0.019, 0.5)
    assert not is_told(0.02, 0.02, 0.5)
    assert not is_told(0.02, 0.01, 0.049)
