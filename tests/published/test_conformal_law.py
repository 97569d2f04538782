"""Coverage of the quote's intervals against the published law of split conformal prediction.

Source: Romano, Patterson and Candès (2019), Conformalized Quantile Regression; given n calibration scores
the coverage follows Beta(n + 1 − l, l), l = floor((n + 1)·a). (Law from memory; means recomputed.)
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta, kstest, norm

from models.quote.conformal import Ladder

REPEATS = 400


def _upper_coverages(n: int, miss: float) -> np.ndarray:
    """True coverage of the interval below the (1 − miss) quantile, once for each calibration set."""
    rng = np.random.default_rng(7)
    ladders = [Ladder.of(rng.normal(size=n), 1.0) for _ in range(REPEATS)]
    return norm.cdf([ladder.quantiles([1 - miss])[0] for ladder in ladders])


@pytest.mark.parametrize(
    ("n", "mean", "low", "high"),
    [(50, 0.9020, 0.826, 0.960), (100, 0.9010, 0.848, 0.945), (200, 0.9005, 0.864, 0.933)],
)
def test_coverage_has_the_published_mean_and_spread(n: int, mean: float, low: float, high: float) -> None:
    found = _upper_coverages(n, 0.1)

    # four standard errors of a mean of 400, and of a 5 % quantile of 400
    assert found.mean() == pytest.approx(mean, abs=4 * found.std() / np.sqrt(REPEATS))
    assert np.quantile(found, [0.05, 0.95]) == pytest.approx([low, high], abs=0.02)


@pytest.mark.parametrize("n", [19, 60, 200])
def test_coverage_follows_the_beta_law(n: int) -> None:
    l_ = int(np.floor((n + 1) * 0.1))

    found = kstest(_upper_coverages(n, 0.1), beta(n + 1 - l_, l_).cdf)

    assert found.pvalue > 0.001


def test_two_sided_coverage_over_new_jobs_is_as_claimed() -> None:
    # both ends: mean coverage is at least 0.8 and at most 0.8 + 2 / (n + 1)
    rng = np.random.default_rng(3)
    n, inside = 59, []
    for _ in range(REPEATS):
        low, high = Ladder.of(rng.gamma(2, size=n), 1.0).quantiles([0.1, 0.9])
        new = rng.gamma(2, size=50)
        inside.append(np.mean((new >= low) & (new <= high)))

    spread = 4 * np.std(inside) / np.sqrt(REPEATS)
    assert 0.8 - spread <= np.mean(inside) <= 0.8 + 2 / (n + 1) + spread
