"""Where the next quarter of an hour brings most: kilograms each emitter would give if it had the flow from now on.

Of a pool `M · exp(−s/tau)` left at its last weighing, a quarter of an hour gives `1 − exp(−15/tau)`, in lumps of the
size that its weighings showed. What has come since the last weighing of the emitter in hand lies in the trap and
does not count. An emitter not started has the pace of one of those done.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from models.catch.posterior.posterior import DRAWS, Draws, Increments
from models.catch.records.ragged_arrays import Floats, Ints
from models.catch.records.watch_result import QuarterHour
from models.quantiles import Quantiles

QUARTER_MINUTES = 15.0
LUMPY_FROM = 1e-3  # a share of noise below this is none


def of_flushed(draws: Draws, data: Increments, since: Floats, rng: np.random.Generator) -> Floats:
    """Draws (curves, DRAWS) of kilograms in the next quarter hour; `since` (curves,) minutes of flow since each
    curve's last weighing."""
    spent = (data.last + since)[:, None]
    due = draws.m * np.exp(-spent / draws.tau) * -np.expm1(-QUARTER_MINUTES / draws.tau)
    return due * _lumps(draws.cv, rng)


def of_waiting(pool: Floats, draws: Draws, rng: np.random.Generator) -> Floats:
    """Draws (emitters, DRAWS) of emitters that have not had the flow, from draws of their pools [kg]."""
    like: Ints = rng.integers(draws.tau.shape[0], size=pool.shape)
    tau, cv = (np.take_along_axis(each, like, axis=0) for each in (draws.tau, draws.cv))
    return np.asarray(pool * -np.expm1(-QUARTER_MINUTES / tau) * _lumps(cv, rng), dtype=float)


def _lumps(cv: Floats, rng: np.random.Generator) -> Floats:
    spread = np.maximum(cv, LUMPY_FROM) ** 2
    return np.asarray(rng.gamma(1.0 / spread) * spread, dtype=float)


def ranked(draws: Mapping[int | None, Floats]) -> tuple[QuarterHour, ...]:
    """The most kilograms to be expected first; draws (DRAWS,) by emitter, None for the whole system."""
    numbers = list(draws)
    if not numbers:
        return ()
    kg = np.stack([draws[number] for number in numbers])
    best = np.bincount(kg.argmax(axis=0), minlength=len(numbers)) / DRAWS
    mean = kg.mean(axis=1)
    told = Quantiles.of_rows(kg)
    return tuple(
        QuarterHour(numbers[at], float(mean[at]), told[at], float(best[at])) for at in np.argsort(-mean, kind="stable")
    )
