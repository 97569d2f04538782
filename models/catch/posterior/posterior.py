"""What a few weighings say about a pool of debris and how fast it comes, as a whole distribution.

Each catch is what came since the trap was last opened, `M · (exp(−s0/tau) − exp(−s1/tau))`, with noise of
its own: a share `cv` of itself (rust comes in lumps) and the floor of weighing. Increments and not the
cumulative curve carry the noise, so errors do not pile up along the curve. The posterior over (M, tau, cv)
sits on a grid: finite with one catch, and its quantiles cannot cross.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.catch.records.ragged_arrays import Floats, Ints

WEIGHING_FLOOR_KG = 0.01  # dry; a wet scale on site reads to about 5 g: common practice, no source
NOISE_SHARES = np.array([0.15, 0.3, 0.6])
LEAST_M_PER_CAUGHT, MOST_M_PER_CAUGHT, M_STEPS = 0.6, 60.0, 48
TAU_STEPS = 40
DRAWS = 2000


@dataclass(frozen=True, slots=True)
class Prior:
    """Log-normal beliefs before the first catch: median and spread (sd of the log) of M [kg] and tau [min].

    Weak on purpose, from the trade's own stories; common practice, no source.
    """

    m_kg: float
    m_spread: float
    tau_min: float
    tau_spread: float


# one system of 15 emitters that gave 13.5 kg is told as a great deal: about 1.5 spreads up
HOUSE_PRIOR = Prior(m_kg=3.0, m_spread=1.0, tau_min=90.0, tau_spread=1.0)
EMITTER_PRIOR = Prior(m_kg=0.25, m_spread=1.2, tau_min=12.0, tau_spread=0.8)
TAU_SPREAD_WITHIN_HOUSE = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Increments:
    """Catches of one or more curves, one curve after the other: minutes before and after, kg since then."""

    before: Floats
    after: Floats
    kg: Floats
    first: Ints
    size: Ints

    @property
    def caught(self) -> Floats:
        """Kilograms caught so far, shape (curves,)."""
        return np.asarray(np.add.reduceat(self.kg, self.first), dtype=float)

    @property
    def last(self) -> Floats:
        """Minutes at the last weighing, shape (curves,)."""
        return np.asarray(self.after[self.first + self.size - 1], dtype=float)


def increments(curves: Sequence[tuple[Floats, Floats]]) -> Increments:
    """From cumulative curves (minutes, kg) of at least one point each."""
    size = np.array([minutes.size for minutes, _ in curves], dtype=np.intp)
    first = np.concatenate(([0], np.cumsum(size)[:-1])).astype(np.intp)
    after = np.concatenate([minutes for minutes, _ in curves])
    before = np.concatenate([np.concatenate(([0.0], minutes[:-1])) for minutes, _ in curves])
    kg = np.concatenate([np.diff(total, prepend=0.0) for _, total in curves])
    return Increments(before, after, kg, first, size)


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Weights on the grid: `weight` (curves, cv, tau, M), `tau` (tau,), `m` (curves, M); sums to 1 a curve."""

    tau: Floats
    m: Floats
    weight: Floats


def grid_posterior(data: Increments, prior: Prior, *, share_tau: bool = False) -> Posterior:
    """Posterior of each curve. With `share_tau` the curves are emitters of one house: each takes its belief
    about tau from what the others say, with a spread of 0.5 in the log between emitters."""
    log_tau = np.log(prior.tau_min) + prior.tau_spread * np.linspace(-3.0, 3.0, TAU_STEPS)
    scale = np.maximum(data.caught, WEIGHING_FLOOR_KG)
    m = scale[:, None] * np.geomspace(LEAST_M_PER_CAUGHT, MOST_M_PER_CAUGHT, M_STEPS)
    log_m = -0.5 * ((np.log(m) - np.log(prior.m_kg)) / prior.m_spread) ** 2
    log_weight = _log_likelihood(data, np.exp(log_tau), m) + log_m[:, None, None, :]
    centre = -0.5 * ((log_tau - np.log(prior.tau_min)) / prior.tau_spread) ** 2
    belief = np.broadcast_to(centre, (scale.size, TAU_STEPS))
    if share_tau and scale.size > 1:
        belief = _from_the_others(log_weight, log_tau, centre)
    log_weight = log_weight + belief[:, None, :, None]
    weight = np.exp(log_weight - log_weight.max(axis=(1, 2, 3), keepdims=True))
    return Posterior(np.exp(log_tau), m, weight / weight.sum(axis=(1, 2, 3), keepdims=True))


def _log_likelihood(data: Increments, tau: Floats, m: Floats) -> Floats:
    """Shape (curves, cv, tau, M)."""
    share = np.exp(-data.before[:, None] / tau) - np.exp(-data.after[:, None] / tau)
    mean = share[:, :, None] * np.repeat(m, data.size, axis=0)[:, None, :]
    miss2, mean2 = (data.kg[:, None, None] - mean) ** 2, mean**2
    out = np.empty((m.shape[0], NOISE_SHARES.size, tau.size, m.shape[1]))
    for at, cv in enumerate(NOISE_SHARES):
        variance = WEIGHING_FLOOR_KG**2 + cv * cv * mean2
        out[:, at] = -0.5 * np.add.reduceat(miss2 / variance + np.log(variance), data.first, axis=0)
    return out


def _from_the_others(log_weight: Floats, log_tau: Floats, centre: Floats) -> Floats:
    """Log belief about each curve's tau from the other curves: an unknown house centre, leave-one-out."""
    top = log_weight.max(axis=(1, 2, 3), keepdims=True)
    own = np.exp(log_weight - top).sum(axis=(1, 3))
    near = np.exp(-0.5 * ((log_tau[None, :] - log_tau[:, None]) / TAU_SPREAD_WITHIN_HOUSE) ** 2)
    near /= near.sum(axis=1, keepdims=True)
    told = np.log(own @ near.T + 1e-300)
    others = centre + told.sum(axis=0) - told
    chance = np.exp(others - others.max(axis=1, keepdims=True))
    return np.asarray(np.log(chance @ near + 1e-300), dtype=float)


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """Equally likely pools, rates and noise shares of each curve, shape (curves, DRAWS)."""

    m: Floats
    tau: Floats
    cv: Floats


def draw(posterior: Posterior, rng: np.random.Generator) -> Draws:
    """Stratified draws, spread evenly inside their grid cell so that quantiles do not sit on the grid."""
    curves = posterior.m.shape[0]
    flat = posterior.weight.reshape(curves, -1).cumsum(axis=1)
    even = (np.arange(DRAWS) + 0.5) / DRAWS
    cell = np.stack([np.searchsorted(row, even * row[-1]) for row in flat])
    cell = rng.permuted(np.minimum(cell, flat.shape[1] - 1), axis=1)
    cv, tau, m = np.unravel_index(cell, posterior.weight.shape[1:])
    step_m = np.log(MOST_M_PER_CAUGHT / LEAST_M_PER_CAUGHT) / (M_STEPS - 1)
    step_tau = np.log(posterior.tau[1] / posterior.tau[0])
    jitter = rng.uniform(-0.5, 0.5, (2, *cell.shape))
    return Draws(
        m=np.take_along_axis(posterior.m, m, axis=1) * np.exp(step_m * jitter[0]),
        tau=posterior.tau[tau] * np.exp(step_tau * jitter[1]),
        cv=NOISE_SHARES[cv],
    )


def still_to_come(draws: Draws, data: Increments, rng: np.random.Generator) -> Floats:
    """Draws of the kilograms that later weighings would bring in all, shape (curves, DRAWS), never negative.

    The pool left is `M · exp(−s/tau)`; it comes in lumps at the pace of weighing so far, with q the share
    that one interval leaves: the lumps add a variance of cv² · (1 − q) / (1 + q) relative to the pool.
    """
    left = draws.m * np.exp(-data.last[:, None] / draws.tau)
    pace = np.maximum(data.last / data.size, 1.0)
    q = np.exp(-pace[:, None] / draws.tau)
    lumps = np.maximum(draws.cv**2 * (1.0 - q) / (1.0 + q), 1e-6)
    return np.asarray(left * rng.gamma(1.0 / lumps) * lumps, dtype=float)
