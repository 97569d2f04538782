"""Coverage of a ladder of scores on jobs that the centre had not seen, against the law of split conformal prediction.

Source: Romano, Patterson and Candès (2019), Conformalized Quantile Regression; given n calibration scores
the coverage follows Beta(n + 1 − l, l), l = floor((n + 1)·a). (Law from memory; means recomputed.)
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta, kstest, norm

from models.drift_scan import checked
from models.quote.base.conformal import ConformalDistribution
from models.quote.base.targets import SPECS, TargetModel
from models.quote.estimator.boosted import Boosted, calibrate
from models.quote.estimator.engineer_effects import Crews
from models.quote.estimator.ridge_on_log import Line
from models.survey_features import FEATURES

REPEATS = 400


def _upper_coverages(n: int, miss: float) -> np.ndarray:
    """True coverage of the interval below the (1 − miss) quantile, once for each calibration set."""
    rng = np.random.default_rng(7)
    ladders = [ConformalDistribution.of(rng.normal(size=n), 1.0) for _ in range(REPEATS)]
    return norm.cdf([ladder.quantiles([1 - miss])[0] for ladder in ladders])


@pytest.mark.parametrize(
    ("n", "mean", "low", "high"), [(50, 0.9020, 0.826, 0.960), (100, 0.9010, 0.848, 0.945), (200, 0.9005, 0.864, 0.933)]
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
        low, high = ConformalDistribution.of(rng.gamma(2, size=n), 1.0).quantiles([0.1, 0.9])
        new = rng.gamma(2, size=50)
        inside.append(np.mean((new >= low) & (new <= high)))

    spread = 4 * np.std(inside) / np.sqrt(REPEATS)
    assert 0.8 - spread <= np.mean(inside) <= 0.8 + 2 / (n + 1) + spread


SPEC, P = SPECS["flush_minutes"], len(FEATURES)
KNOWN_LEVEL = 5.0
"""What the centre below forecasts for every job, on the log scale; errors have a spread of 1."""


def _fitted() -> Boosted:
    nothing, nobody = np.zeros(P), Crews(np.zeros(0), np.zeros(0))
    line = Line(KNOWN_LEVEL, nothing, nothing, nothing, nothing, nothing)
    return Boosted(line, nobody, trees=None, spread=None, usual_error=1.0)


def _calibrated(levels: np.ndarray, rng: np.random.Generator, *, check: bool) -> TargetModel:
    """The forecast calibrated on jobs of these levels on the log scale, in order of time; drift checked or not."""
    errors = levels + rng.normal(size=len(levels))
    scale = np.ones(len(errors))
    model, scores = calibrate(SPEC, _fitted(), errors, scale, jobs=len(errors))
    drift = checked(errors, scores, np.datetime64("2031-01-01") + np.arange(len(errors)))
    if check and drift is not None and drift.recalibrated:
        return calibrate(SPEC, _fitted(), errors[-drift.window :], scale[-drift.window :], jobs=len(errors))[0]
    return model


def _coverage(model: TargetModel, level: float) -> float:
    """True coverage of the range below the 90 % quantile, for new jobs of that level."""
    limit = model.quantiles(np.full((1, P), np.nan), [0.9])[0, 0]
    return float(norm.cdf(np.log(limit + SPEC.offset) - KNOWN_LEVEL - level))


@pytest.mark.parametrize(("own_level", "jobs"), [(0.0, 25), (1.5, 25), (-1.0, 60)])
def test_a_firms_own_jobs_on_a_borrowed_centre_follow_the_beta_law(own_level: float, jobs: int) -> None:
    rng, l_ = np.random.default_rng(11), int(np.floor((jobs + 1) * 0.1))
    found = [_coverage(_calibrated(np.full(jobs, own_level), rng, check=False), own_level) for _ in range(REPEATS)]

    assert kstest(found, beta(jobs + 1 - l_, l_).cdf).pvalue > 0.001


def test_ranges_set_anew_after_a_planted_drift_keep_the_mean_of_the_law() -> None:
    # the window is found from the data, so the law holds nearly: 60 newest jobs of 150, 1.2 spreads above the others
    rng, n = np.random.default_rng(12), 60
    levels = np.repeat([0.0, 1.2], [90, n])
    found = np.array([_coverage(_calibrated(levels, rng, check=True), 1.2) for _ in range(REPEATS // 2)])
    unchecked = np.array([_coverage(_calibrated(levels, rng, check=False), 1.2) for _ in range(20)])
    law = beta(n + 1 - 6, 6)

    assert found.mean() == pytest.approx(law.mean(), abs=0.02)
    assert np.quantile(found, [0.05, 0.95]) == pytest.approx(law.ppf([0.05, 0.95]), abs=0.04)
    assert unchecked.mean() < 0.86


def test_without_drift_the_check_leaves_the_law_as_it_is() -> None:
    rng, n = np.random.default_rng(13), 150
    found = [_coverage(_calibrated(np.zeros(n), rng, check=True), 0.0) for _ in range(REPEATS // 2)]

    assert kstest(found, beta(n + 1 - 15, 15).cdf).pvalue > 0.001
