"""Simulation-based calibration of the posterior on its own model: the truth is as likely at one rank as at another.

Talts et al. (2018), arXiv:1804.06788 (from memory). A world drawn from the prior, weighings drawn from the model:
then the rank of the truth among the posterior's draws is uniform, or the computation is wrong.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2

from models.catch.posterior.posterior import (
    HOUSE_PRIOR,
    NOISE_SHARES,
    WEIGHING_FLOOR_KG,
    Increments,
    draw,
    grid_posterior,
)
from models.catch.records.ragged_arrays import Floats

WORLDS, STEPS, MINUTES, BINS = 480, 6, 20.0, 12


@pytest.fixture(scope="module")
def ranks() -> dict[str, Floats]:
    """Rank, 0..1, of the planted pool, pace and what is left among the draws, of each world."""
    rng = np.random.default_rng(12)
    m = np.exp(rng.normal(np.log(HOUSE_PRIOR.m_kg), HOUSE_PRIOR.m_spread, WORLDS))
    tau = np.exp(rng.normal(np.log(HOUSE_PRIOR.tau_min), HOUSE_PRIOR.tau_spread, WORLDS))
    cv = rng.choice(NOISE_SHARES, WORLDS)
    after = np.arange(1, STEPS + 1) * MINUTES
    mean = m[:, None] * -np.diff(np.exp(-np.append(0.0, after) / tau[:, None]), axis=1)
    kg = mean + rng.normal(size=mean.shape) * np.sqrt(WEIGHING_FLOOR_KG**2 + (cv[:, None] * mean) ** 2)
    data = Increments(
        np.tile(after - MINUTES, WORLDS),
        np.tile(after, WORLDS),
        kg.ravel(),
        np.arange(WORLDS, dtype=np.intp) * STEPS,
        np.full(WORLDS, STEPS, dtype=np.intp),
    )
    draws = draw(grid_posterior(data, HOUSE_PRIOR), rng)
    left = m * np.exp(-after[-1] / tau)
    return {
        "pool": (draws.m < m[:, None]).mean(axis=1),
        "pace": (draws.tau < tau[:, None]).mean(axis=1),
        "left": (draws.m * np.exp(-after[-1] / draws.tau) < left[:, None]).mean(axis=1),
    }


@pytest.mark.parametrize("name", ["pool", "pace", "left"])
def test_ranks_of_the_truth_are_flat(ranks: dict[str, Floats], name: str) -> None:
    counts, _ = np.histogram(ranks[name], bins=BINS, range=(0.0, 1.0))
    expected = WORLDS / BINS

    # a flat histogram exceeds this once in a thousand
    assert ((counts - expected) ** 2 / expected).sum() < chi2.ppf(0.999, BINS - 1)


def test_a_prior_that_is_too_narrow_would_be_seen(ranks: dict[str, Floats]) -> None:
    squeezed = 0.5 + (ranks["left"] - 0.5) * 0.8
    counts, _ = np.histogram(squeezed, bins=BINS, range=(0.0, 1.0))
    expected = WORLDS / BINS

    assert ((counts - expected) ** 2 / expected).sum() > chi2.ppf(0.999, BINS - 1)
