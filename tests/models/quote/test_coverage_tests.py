"""What may be said of a back-test: exact limits, verdicts, evenness of outcomes, interval of a median."""

from __future__ import annotations

import numpy as np
import pytest

from models.quote.coverage_tests import evenness, held
from models.scores import exact_limits, median_interval


@pytest.mark.parametrize(
    ("count", "jobs", "low", "high"), [(0, 10, 0.0, 0.3085), (10, 10, 0.6915, 1.0), (0, 0, 0.0, 1.0)]
)
def test_limits_at_the_ends_by_hand(count: int, jobs: int, low: float, high: float) -> None:
    """Of 10 jobs none: 1 - 0.025^(1/10) = 0.3085, the chance at which none is seen in 2.5 % of cases."""
    assert exact_limits(count, jobs) == pytest.approx((low, high), abs=1e-4)


def test_limits_of_eight_in_ten_are_the_tabled_ones() -> None:
    """Exact 95 % limits of 8 in 10: 0.4439 and 0.9748 (common tables of Clopper-Pearson limits, from memory)."""
    assert exact_limits(8, 10) == pytest.approx((0.4439, 0.9748), abs=1e-4)


@pytest.mark.parametrize(
    ("jobs", "share", "verdict"),
    [
        (4000, 0.80, "holds"),  # limits 0.787 to 0.812, within 0.77 to 0.83
        (200, 0.80, "holds so far"),  # 0.738 to 0.853: chance could still take it out
        (200, 0.76, "perhaps too narrow"),  # below 0.77, limits reach up to 0.817
        (1000, 0.70, "too narrow"),  # limits end at 0.728
        (1000, 0.90, "too wide"),
        (100, 0.85, "perhaps too wide"),
    ],
)
def test_a_verdict_says_what_jobs_so_many_can_carry(jobs: int, share: float, verdict: str) -> None:
    assert held("all jobs", jobs, share, 0.80, 0.03).verdict == verdict


@pytest.mark.parametrize(
    ("counts", "shape"),
    [
        ((20,) * 10, "even"),
        ((40, 36, 30, 26, 22, 16, 12, 8, 6, 4), "forecasts too high"),
        ((4, 6, 8, 12, 16, 22, 26, 30, 36, 40), "forecasts too low"),
        ((45, 25, 12, 10, 8, 8, 10, 12, 25, 45), "ranges too narrow"),
        ((4, 10, 22, 30, 34, 34, 30, 22, 10, 4), "ranges too wide"),
    ],
)
def test_the_shape_of_the_outcomes_tells_what_is_wrong(counts: tuple[int, ...], shape: str) -> None:
    assert evenness(counts).shape == shape


def test_honest_forecasts_are_called_uneven_in_one_case_of_twenty() -> None:
    rng = np.random.default_rng(8)
    found = [evenness(row.tolist()) for row in rng.multinomial(200, np.full(10, 0.1), 2000)]

    assert np.mean([each.shape != "even" for each in found]) == pytest.approx(0.05, abs=0.02)
    assert np.mean([each.outside > 0 for each in found]) <= 0.05 + 0.02  # 2,000 draws: standard error 0.005


def test_the_median_of_fifty_lies_between_the_18th_and_the_33rd() -> None:
    """P(Binomial(50, 1/2) <= 17) = 0.0164: ranks 18 and 33, 96.7 % (tables of the sign test, from memory)."""
    assert median_interval(np.arange(1.0, 51.0)) == (18.0, 33.0)
    assert median_interval([1.0, 2.0, 3.0, 4.0, 5.0]) is None  # 2 x 1/32 is more than 5 %
    assert median_interval([1.0, 2.0, 3.0, 4.0, 5.0, 6.0]) == (1.0, 6.0)  # 2 x 1/64


def test_the_interval_of_a_median_holds_it_at_least_as_often_as_it_says() -> None:
    draws = np.random.default_rng(3).lognormal(0.0, 1.0, (2000, 50))  # the median is 1
    ends = np.array([median_interval(row) for row in draws])

    assert np.mean((ends[:, 0] <= 1) & (ends[:, 1] >= 1)) == pytest.approx(0.967, abs=0.015)
