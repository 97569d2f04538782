"""Scores against hand sums and the closed form of the ranked probability score."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from models.scores import coverage_of_pit, covered, pinball, pit_histogram


def test_pinball_by_hand() -> None:
    # observed 10: quantile 8 at 0.9 is 2 too low -> 1.8; quantile 13 at 0.9 is 3 too high -> 0.3
    assert pinball([10.0], [[8.0]], [0.9])[0] == pytest.approx(1.8)
    assert pinball([10.0], [[13.0]], [0.9])[0] == pytest.approx(0.3)
    assert pinball([10.0], [[8.0, 13.0]], [0.9, 0.9])[0] == pytest.approx(1.05)


@pytest.mark.parametrize("observed", [-1.3, 0.0, 0.4, 2.0])
def test_mean_pinball_over_many_levels_is_half_the_ranked_probability_score(observed: float) -> None:
    # closed form for the standard normal: Gneiting and Raftery (2007), eq. 5 (from memory)
    normal = NormalDist()
    score = observed * (2 * normal.cdf(observed) - 1) + 2 * normal.pdf(observed) - 1 / np.sqrt(np.pi)
    levels = (np.arange(4000) + 0.5) / 4000
    quantiles = [[normal.inv_cdf(level) for level in levels]]

    loss = pinball([observed], quantiles, levels)[0]

    assert loss == pytest.approx(score / 2, rel=2e-3)  # midpoint rule over 4,000 levels


def test_coverage_counts_both_ends_as_inside() -> None:
    assert covered([1.0, 2.0, 3.0], [1.0, 0.0, 0.0], [1.0, 1.0, 3.0]).tolist() == [True, False, True]


def test_coverage_from_pit() -> None:
    cover = coverage_of_pit([0.02, 0.07, 0.5, 0.93, 0.99])

    assert cover.as_dict() == {"jobs": 5, "share_80": 0.2, "share_90": 0.6}


def test_no_jobs_have_no_coverage() -> None:
    cover = coverage_of_pit([])

    assert cover.jobs == 0
    assert np.isnan(cover.share_80)


def test_pit_histogram_counts_every_value() -> None:
    assert pit_histogram([0.0, 0.05, 0.15, 1.0]) == (2, 1, 0, 0, 0, 0, 0, 0, 0, 1)
