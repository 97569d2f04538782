"""What emitters not flushed yet will give, from what those done have given.

Without past jobs, one level for the house: each emitter gives its water content times an unknown amount a litre,
times a gamma scatter of unknown width. Both unknowns sit on a grid, so that one emitter done gives a very wide
answer and ten a narrower one. With past jobs, size, kind, cold spots and the survey tell what each holds, and
those done tell the effect that the emitters of one house share.
"""

from __future__ import annotations

import numpy as np
from scipy.special import gammaln

from models.catch.posterior.job_arrays import job_arrays
from models.catch.posterior.posterior import DRAWS
from models.catch.posterior.priors import EmitterPrior
from models.catch.records.job import JobCatch
from models.catch.records.ragged_arrays import Floats
from models.catch.stopping.landmark_features import pools

SHAPES = np.array([0.5, 0.8, 1.2, 2.0, 3.5, 6.0])  # relative scatter between emitters 1.4 … 0.4
LEVELS_PER_MEAN = np.geomspace(0.1, 10.0, 60)
LEAST_KG = 0.005


def unstarted_draws(caught_kg: Floats, size_done: Floats, size_to_come: Floats, rng: np.random.Generator) -> Floats:
    """Draws of kilograms from each emitter to come, shape (emitters to come, DRAWS).

    caught_kg, size_done: shape (emitters done,), at least one; sizes in litres, or 1 for all where the
    contents are not known; size_to_come: shape (emitters to come,).
    """
    kg = np.maximum(caught_kg, LEAST_KG)
    level = float(kg.sum() / size_done.sum()) * LEVELS_PER_MEAN
    mean = level[:, None, None] * size_done
    k = SHAPES[None, :, None]
    log_weight = ((k - 1) * np.log(kg) - k * kg / mean + k * np.log(k / mean) - gammaln(k)).sum(axis=2)
    weight = np.exp(log_weight - log_weight.max()).ravel()
    even = (np.arange(DRAWS) + 0.5) / DRAWS
    cell = rng.permutation(np.searchsorted(np.cumsum(weight) / weight.sum(), even))
    at_level, at_shape = np.unravel_index(np.minimum(cell, weight.size - 1), log_weight.shape)
    shape, per_size = SHAPES[at_shape], level[at_level]
    scatter = rng.gamma(np.broadcast_to(shape, (size_to_come.size, DRAWS))) / shape
    return np.asarray(size_to_come[:, None] * per_size * scatter, dtype=float)


def learnt_draws(prior: EmitterPrior, job: JobCatch, waiting: list[int], rng: np.random.Generator) -> Floats:
    """Draws of kilograms from each emitter to come, shape (emitters to come, DRAWS), by what past jobs taught.

    One draw of the house's effect holds for all its emitters; each has a scatter of its own besides. The job needs
    a weighing of an emitter.
    """
    one = job_arrays(job, prior.pace)
    if one is None:
        raise ValueError("the job has no weighing of the magnet")
    expected = prior.expected(one)
    found = pools(one, len(one.kg), prior, expected)
    effect = found.effect + found.effect_sd * rng.standard_normal(DRAWS)
    places = [one.numbers.index(number) for number in waiting]
    own = prior.own_sd * rng.standard_normal((len(places), DRAWS))
    return np.asarray(np.exp(expected[places][:, None] + effect + own), dtype=float)
