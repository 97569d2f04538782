"""Worlds drawn from the hierarchical model itself: a house's effect, emitters about it, debris in lumps, one pace each.

What `models.catch.posterior.priors` believes is what happens here, so that the rank of the truth among the model's
draws has to be flat: Talts et al. (2018), arXiv:1804.06788 (from memory).
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from scipy.stats import chi2, norm

from models.catch.exhaustion.unstarted_emitters import learnt_draws
from models.catch.posterior.cumulative_posterior import Pace
from models.catch.posterior.job_arrays import EMITTER_FEATURES, JobArrays, job_arrays
from models.catch.posterior.priors import EmitterPrior
from models.catch.posterior.ridge import Ridge
from models.catch.records.flush_clock import DayOnSite
from models.catch.records.job import MAGNET, Catch, EmitterFacts, JobCatch
from models.catch.records.ragged_arrays import Floats
from models.catch.stopping.landmark_features import pools

PACE = Pace(tau_min=16.0, spread=0.5, lump_kg=0.01)
HOUSE_SD, OWN_SD, LOG_KG, STEP_MIN = 0.6, 0.5, -1.2, 8.0
START = datetime(2031, 3, 4, 9, 0)


def prior(survey_features: int, *, house_sd: float = HOUSE_SD) -> EmitterPrior:
    """The belief that the worlds are drawn from: pools in proportion to litres."""
    weights = np.zeros(len(EMITTER_FEATURES) + survey_features)
    weights[EMITTER_FEATURES.index("log_content")] = 1.0
    usual = np.zeros_like(weights)
    line = Ridge(LOG_KG - np.log(6.0), usual, weights, np.zeros_like(weights))
    return EmitterPrior(line, house_sd, OWN_SD, PACE, 0)


class World:
    """One job of ten emitters, `done` of which had the flow to themselves for some weighings each."""

    def __init__(self, rng: np.random.Generator, done: int, weighings: int = 4) -> None:
        litres = np.exp(rng.normal(np.log(6.0), 0.3, 10))
        self.effect = HOUSE_SD * rng.normal()
        self.pools = litres / 6.0 * np.exp(LOG_KG + self.effect + OWN_SD * rng.normal(size=10))
        self.left = np.zeros(10)
        catches, minute = [], 0.0
        for number in range(done):
            tau = PACE.tau_min * np.exp(PACE.spread * rng.normal())
            came, self.left[number] = _lumps(rng, self.pools[number], tau, weighings)
            for step, kg in enumerate(came):
                minute += STEP_MIN
                catches.append(Catch(minute, number + 1, (step + 1) * STEP_MIN, MAGNET, 1000.0 * float(kg)))
        facts = tuple(EmitterFacts(n, "panel_11", float(size), False) for n, size in enumerate(litres, start=1))
        day = DayOnSite(START, START + timedelta(minutes=minute), 0.0)
        self.waiting = list(range(done + 1, 11))
        self.job = JobCatch("own", "world", START, None, (day,), tuple(catches), facts, isolation="one_at_a_time")

    @property
    def arrays(self) -> JobArrays:
        """The job laid out; it has a weighing."""
        one = job_arrays(self.job, PACE)
        if one is None:
            raise ValueError("a world without a weighing")
        return one


def _lumps(rng: np.random.Generator, pool: float, tau: float, weighings: int) -> tuple[Floats, float]:
    """Kilograms of each weighing and what stays: each lump comes loose at a time of its own."""
    count = max(round(pool / PACE.lump_kg), 1)
    edges = np.arange(weighings + 1) * STEP_MIN
    chance = np.append(-np.diff(np.exp(-edges / tau)), np.exp(-edges[-1] / tau))
    came = rng.multinomial(count, chance / chance.sum()) * (pool / count)
    return came[:-1], float(came[-1])


def ranks(
    worlds: int, seed: int, *, done: tuple[int, int] = (1, 10), believed_sd: float = HOUSE_SD
) -> dict[str, Floats]:
    """Where the truth lies among the draws, 0..1, of each world: the house's effect, an emitter that waits, and the
    sum of those that wait. `believed_sd`: of the house's effect, by a model that may be wrong."""
    rng = np.random.default_rng(seed)
    found: dict[str, list[float]] = {"effect": [], "one waiting": [], "all waiting": []}
    while len(found["effect"]) < worlds:
        world = World(rng, int(rng.integers(*done)))
        if not any(catch.dry_g > 0 for catch in world.job.catches):
            continue
        one = world.arrays
        belief = prior(one.survey.size, house_sd=believed_sd)
        at = pools(one, len(one.kg), belief, belief.expected(one))
        draws = learnt_draws(belief, world.job, world.waiting, rng)
        truth = world.pools[[number - 1 for number in world.waiting]]
        found["effect"].append(float(norm.cdf(world.effect, at.effect, at.effect_sd)))
        found["one waiting"].append(float((draws[0] < truth[0]).mean()))
        found["all waiting"].append(float((draws.sum(axis=0) < truth.sum()).mean()))
    return {name: np.array(each) for name, each in found.items()}


def unevenness(found: Floats, bins: int = 10) -> tuple[float, float]:
    """Chi-square of a rank histogram against a flat one, and the chance of as much or more from flat ranks."""
    counts, _ = np.histogram(found, bins=bins, range=(0.0, 1.0))
    expected = found.size / bins
    square = float(((counts - expected) ** 2 / expected).sum())
    return square, float(chi2.sf(square, bins - 1))
