"""The chance of a second day follows how past jobs of such a length ended, from the firm's setting on."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm
from sklearn.linear_model import LogisticRegression

from models.quote.estimator.second_day import SecondDay, learn_second_day

NONE = learn_second_day(np.zeros(0), np.zeros(0))


def drawn(jobs: int, day: float, slope: float, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Minutes on site, and second days by a logistic curve of their logarithm that is 1/2 at `day`."""
    rng = np.random.default_rng(seed)
    minutes = np.exp(rng.normal(np.log(380), 0.3, jobs))
    return minutes, (rng.random(jobs) < 1 / (1 + (day / minutes) ** slope)).astype(float)


def test_a_planted_day_is_found_whatever_the_setting() -> None:
    found = learn_second_day(*drawn(20_000, 540, 25))

    # three standard errors of a fit on 20,000 jobs
    for setting in (360.0, 480.0, 720.0):
        assert found.day(setting).minutes == pytest.approx(540, rel=0.01)
        assert found.day(setting).slope == pytest.approx(25, abs=2.5)


def test_without_its_prior_it_would_be_the_logistic_regression_of_scikit_learn() -> None:
    minutes, second = drawn(5000, 480, 15)
    peer = LogisticRegression(C=np.inf, tol=1e-8).fit(np.log(minutes / 480)[:, None], second)
    day = learn_second_day(minutes, second).day(480.0)

    # jobs are put together by 2 %, and the prior weighs as much as a few jobs
    assert day.level == pytest.approx(peer.intercept_[0], abs=0.05)
    assert day.slope == pytest.approx(peer.coef_[0, 0], abs=0.5)


def test_with_no_job_the_setting_stands() -> None:
    day = NONE.day(450.0)

    assert day.minutes == 450
    # 20 · ln(500 / 450) = 2.107, and e^2.107 = 8.225 to one
    assert day.chance(np.array([450.0, 500.0])) == pytest.approx([0.5, 8.225 / 9.225], abs=1e-4)


def test_jobs_of_which_minutes_or_days_are_not_known_do_not_count() -> None:
    unknown = learn_second_day(np.array([500.0, np.nan, 0.0]), np.array([np.nan, 1.0, 1.0]))

    assert len(unknown.ended) == 0
    assert learn_second_day(np.array([500.0, 501.0, 700.0]), np.array([0.0, 1.0, 1.0])).ended[:, 1:].tolist() == [
        [2, 1],
        [1, 1],
    ]


class Spread:
    """A forecast of time on site that knows how such jobs spread: log-normal, a fifth above 480 minutes."""

    def quantiles(self, x: np.ndarray, levels: np.ndarray) -> np.ndarray:
        return np.exp(np.log(400) + 0.22 * norm.ppf(levels))[None, :]


@pytest.mark.parametrize("second_days", [0, 3, 9, 30])
def test_long_jobs_that_ended_on_the_day_rule_out_a_second_one(second_days: int) -> None:
    """300 past jobs as they are forecast, of which the longest took a second day; the setting alone says 1 in 5."""
    minutes = Spread().quantiles(np.zeros((1, 1)), (np.arange(300) + 0.5) / 300)[0]
    ended = learn_second_day(minutes, (np.arange(300) >= 300 - second_days).astype(float))
    told = [each.chance(Spread(), np.zeros((1, 1)), extra=0, firm_day_minutes=480)[0] for each in (NONE, ended)]  # type: ignore[arg-type]

    assert told[0] == pytest.approx(0.203, abs=0.03)  # 1 − Φ(ln(480 / 400) / 0.22), were the day sharp
    assert told[1] == pytest.approx(second_days / 300, abs=0.006)
    assert ended.is_told(480)


def test_a_dozen_long_jobs_weigh_and_two_do_not() -> None:
    chance = [
        float(learn_second_day(np.full(n, 540.0), np.zeros(n)).day(480.0).chance(np.array([540.0]))[0])
        for n in (0, 2, 12, 100)
    ]

    # the setting says 20 · ln(540 / 480) = 2.36, 0.914
    assert chance[0] == pytest.approx(0.914, abs=0.001)
    assert chance[0] > 0.5 > chance[1] > 0.2 > chance[2] > 0.02 > chance[3]


def test_a_firm_of_a_pool_starts_from_all_firms_and_ends_at_its_own() -> None:
    everyone = learn_second_day(*drawn(5000, 600, 25)).ended
    thin = SecondDay(learn_second_day(np.full(3, 300.0), np.zeros(3)).ended, everyone)
    thick = SecondDay(learn_second_day(*drawn(5000, 420, 25)).ended, everyone)

    assert thin.day(480.0).minutes == pytest.approx(600, rel=0.05)
    assert thick.day(480.0).minutes == pytest.approx(420, rel=0.02)


class Known:
    """A forecast of time on site: two requests, each even over its own minutes."""

    def quantiles(self, x: np.ndarray, levels: np.ndarray) -> np.ndarray:
        return np.array([[300.0], [500.0]]) + 0 * x[:, :1] + 0.001 * levels


def test_minutes_on_top_are_added_before_the_day_is_asked() -> None:
    chances = NONE.chance(Known(), np.zeros((2, 1)), extra=50.0, firm_day_minutes=550.0)  # type: ignore[arg-type]

    # 350 and 550 of 550 minutes: 20 · ln(350 / 550) = −9.04
    assert chances == pytest.approx([1 / (1 + np.exp(9.04)), 0.5], abs=1e-4)
