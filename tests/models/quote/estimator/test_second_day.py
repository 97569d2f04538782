"""The chance of a second day is corrected by how past jobs ended, and left alone while few can tell."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.linear_model import LogisticRegression

from models.quote.base.past_jobs import history
from models.quote.base.targets import SPECS
from models.quote.estimator.fit_target import learn_target
from models.quote.estimator.second_day import SecondDay, _logistic, learn_second_day
from tests.models.quote.conftest import Planted


def test_a_planted_correction_is_found() -> None:
    rng = np.random.default_rng(1)
    odds = rng.normal(0, 2, 20_000)
    happened = (rng.random(20_000) < 1 / (1 + np.exp(-(-0.8 + 1.3 * odds)))).astype(float)

    # three standard errors of a fit on 20,000 jobs
    assert _logistic(odds, happened) == pytest.approx((-0.8, 1.3), abs=0.08)


def test_without_its_prior_it_would_be_the_logistic_regression_of_scikit_learn() -> None:
    rng = np.random.default_rng(2)
    odds = rng.normal(0, 2, 5000)
    happened = (rng.random(5000) < 1 / (1 + np.exp(-odds))).astype(float)
    peer = LogisticRegression(C=np.inf).fit(odds[:, None], happened)

    # the prior weighs as much as about one job in 5,000
    assert _logistic(odds, happened) == pytest.approx((peer.intercept_[0], peer.coef_[0, 0]), abs=2e-3)


def test_with_no_job_to_learn_from_nothing_is_corrected() -> None:
    assert _logistic(np.zeros(0), np.zeros(0)) == pytest.approx((0.0, 1.0))


@pytest.mark.parametrize(("second_days", "learnt"), [(9, False), (10, True)])
def test_ten_second_days_decide_and_nine_do_not(past: Planted, second_days: int, learnt: bool) -> None:
    long = past.outcomes["site_minutes"].rank(ascending=False) <= second_days
    jobs = history(past.features, past.outcomes.assign(is_second_day=long))
    site = learn_target(SPECS["site_minutes"], jobs.x, jobs.targets["site_minutes"], jobs.days)

    found = learn_second_day(jobs, site)

    assert (found.day_minutes is not None) == learnt
    assert (found == SecondDay()) != learnt


class Known:
    """A forecast of time on site whose chance of exceeding a limit is known for five requests."""

    def __init__(self) -> None:
        self.asked: list[float] = []

    def chance_above(self, x: np.ndarray, limit: float) -> np.ndarray:
        self.asked.append(limit)
        return np.array([0.2, 0.5, 0.8, 0.0, 1.0])


def chances(second: SecondDay, site: Known, *, extra: float, firm_day: float) -> np.ndarray:
    return second.chance(site, np.zeros((5, 1)), extra=extra, firm_day_minutes=firm_day)  # type: ignore[arg-type]


def test_the_firms_day_and_minutes_on_top_count_where_records_do_not() -> None:
    site = Known()

    plain = chances(SecondDay(), site, extra=60.0, firm_day=460.0)
    chances(SecondDay(420.0), site, extra=60.0, firm_day=460.0)

    assert site.asked == [400.0, 360.0]
    assert plain == pytest.approx([0.2, 0.5, 0.8, 0.001, 0.999])


def test_the_correction_is_applied_to_the_odds_by_hand() -> None:
    """Half the odds squared: odds 1/4, 1, 4 become 1/32, 1/2, 8, so chances 1/33, 1/3, 8/9."""
    found = chances(SecondDay(400.0, shift=float(np.log(0.5)), slope=2.0), Known(), extra=0.0, firm_day=480.0)

    assert found[:3] == pytest.approx([1 / 33, 1 / 3, 8 / 9])
