"""Joint scenarios keep each target's distribution and the way the targets hang together."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import spearmanr

from models.quote.pricing.scenarios import ASSUMED_CORRELATION, MOST, joint_ranks


def _scores(n: int) -> np.ndarray:
    rng = np.random.default_rng(5)
    house = rng.normal(size=n)
    noise = rng.normal(size=(n, 4))
    return np.column_stack([house, noise[:, 1], house + 0.5 * noise[:, 2], house + 0.6 * noise[:, 3]])


def test_past_jobs_keep_their_correlation() -> None:
    scores = _scores(300)

    ranks = joint_ranks(scores)

    assert ranks.shape == (300, 4)
    assert spearmanr(ranks).statistic == pytest.approx(spearmanr(scores).statistic, abs=1e-9)
    assert np.sort(ranks[:, 0]) == pytest.approx(np.arange(1, 301) / 301)


def test_many_jobs_are_thinned_evenly() -> None:
    ranks = joint_ranks(_scores(3000))

    assert len(ranks) == MOST
    assert np.abs(np.sort(ranks[:, 3]) - (np.arange(MOST) + 0.5) / MOST).max() < 0.002
    assert np.abs(np.sort(ranks[:, 0]) - (np.arange(MOST) + 0.5) / MOST).max() < 0.06


def test_few_jobs_fall_back_to_the_stated_correlation() -> None:
    ranks = joint_ranks(np.full((20, 4), np.nan))

    assert np.sort(ranks[:, 1]) == pytest.approx(np.arange(1, 400) / 400)
    # Spearman's rho of a normal copula is 6/pi·asin(r/2); 399 draws: standard error about 0.05
    expected = 6 / np.pi * np.arcsin(ASSUMED_CORRELATION / 2)
    assert spearmanr(ranks).statistic == pytest.approx(expected, abs=0.15)


def test_jobs_without_a_non_magnetic_weighing_still_count() -> None:
    scores = _scores(200)
    scores[::2, 1] = np.nan

    ranks = joint_ranks(scores)

    assert len(ranks) == 200
    assert np.all((ranks > 0) & (ranks < 1))


def test_flush_minutes_lead_where_no_time_on_site_is_known() -> None:
    scores = _scores(200)
    scores[:, 3] = np.nan

    assert np.all(np.diff(joint_ranks(scores)[:, 2]) > 0)
