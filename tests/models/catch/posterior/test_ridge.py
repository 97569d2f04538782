"""Ridge lines whose rows are moments of jobs: each job counts once; strength, missing answers, columns that never
vary."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.linear_model import Ridge as Reference
from sklearn.linear_model import RidgeCV

from models.catch.posterior.ridge import STRENGTHS, design, fit, fit_ridge
from models.catch.stopping.stopping_regression import Rows, design_by_job


def rows_of(x: np.ndarray, job: np.ndarray) -> Rows:
    n = len(x)
    return Rows(("a", "b")[: x.shape[1]], x, np.zeros(n), np.zeros(n), np.zeros(n), job)


def test_a_job_with_few_moments_counts_as_much_as_one_with_many() -> None:
    """Nothing to tell moments apart by: the line is the mean of the jobs' means. Job 0 has one moment of 6, job 1 three
    of 1, 2, 3, job 2 two of 0 and 2: (6 + 2 + 1) / 3 = 3; by moments it would be 14 / 6."""
    x, job = np.ones((6, 1)), np.array([0, 1, 1, 1, 2, 2])
    aim = np.array([6.0, 1.0, 2.0, 3.0, 0.0, 2.0])

    ready = design_by_job(rows_of(x, job))

    assert fit(ready, aim).intercept == pytest.approx(3.0)
    assert ready.independent == 3
    assert ready.weight == pytest.approx(np.array([2.0, 2 / 3, 2 / 3, 2 / 3, 1.0, 1.0]))


def test_a_job_told_twenty_times_over_moves_the_line_little_by_that() -> None:
    """Forty jobs, one of them far off and told of twenty times: counted once it moves the line by what more rows do to
    the strength only; counted twenty times it would draw all forecasts towards itself."""
    rng = np.random.default_rng(3)
    x, aim, job = rng.normal(size=(40, 2)), rng.normal(size=40), np.arange(40)
    aim[7] = 30.0
    again = np.concatenate([np.arange(40), np.full(19, 7)])

    once, often = (fit(design_by_job(rows_of(x[at], job[at])), aim[at]) for at in (np.arange(40), again))
    by_row = fit_ridge(x[again], aim[again])

    assert np.abs(often.predict(x) - once.predict(x)).max() < 0.3
    assert np.abs(by_row.predict(x) - once.predict(x)).mean() > 5.0


def test_the_line_is_that_of_the_reference_library_at_the_same_strength() -> None:
    """scikit-learn's Ridge on standardised columns, with weights that sum to n; its strength by its own RidgeCV, whose
    leave-one-out error is generalised cross-validation up to the leverages: one of the two neighbours in the list."""
    rng = np.random.default_rng(4)
    x = rng.normal(size=(80, 3)) * [1.0, 5.0, 0.2] + [0.0, 3.0, -1.0]
    z = x @ [1.0, 0.1, 0.0] + rng.normal(size=80)
    weight = rng.uniform(0.5, 2.0, 80)
    w = weight * 80 / weight.sum()
    mean = w @ x / 80
    standard = (x - mean) / np.sqrt(w @ (x - mean) ** 2 / 80)

    found = fit_ridge(x, z, weight).predict(x)

    near = [Reference(alpha=s).fit(standard, z, sample_weight=w).predict(standard) for s in STRENGTHS]
    off = [float(np.abs(found - each).max()) for each in near]
    chosen = STRENGTHS.index(RidgeCV(alphas=STRENGTHS).fit(standard, z, sample_weight=w).alpha_)
    assert min(off) < 1e-9
    assert abs(int(np.argmin(off)) - chosen) <= 1


def test_noise_that_is_told_over_and_over_is_held_down_by_the_number_of_jobs() -> None:
    """Twenty-four jobs told of 20 times each, seven columns of noise: with the jobs counted the line follows them
    less."""
    rng = np.random.default_rng(5)
    x, aim = np.repeat(rng.normal(size=(24, 7)), 20, axis=0), np.repeat(rng.normal(size=24), 20)

    by_job, by_row = (np.std(fit(design(x, None, independent), aim).predict(x)) for independent in (24, None))

    assert by_job < 0.5 * by_row


def test_a_missing_answer_counts_as_the_usual_one_and_raises_its_own_flag() -> None:
    """Rows that lack the answer lie 5 higher: the flag finds it, near enough, at the least strength."""
    rng = np.random.default_rng(6)
    x = rng.normal(10.0, 2.0, (400, 1))
    z = 3.0 * x[:, 0]
    x[::4] = np.nan
    z[::4] = 35.0

    line = fit_ridge(x, z)

    assert line.usual == pytest.approx([np.nanmedian(x)])
    assert line.predict(np.array([[np.nan], [np.inf], [12.0]])) == pytest.approx([35.0, 35.0, 36.0], abs=0.2)


def test_a_column_that_never_varies_or_is_never_known_gets_no_weight() -> None:
    rng = np.random.default_rng(7)
    x = np.column_stack([rng.normal(size=50), np.full(50, 3.0), np.full(50, np.nan)])

    line = fit_ridge(x, 2.0 * x[:, 0])

    assert line.weights[1:].tolist() == [0.0, 0.0]
    assert line.usual[2] == 0.0
    assert line.predict(np.array([[1.0, 99.0, 99.0]]))[0] == pytest.approx(2.0, abs=0.1)
